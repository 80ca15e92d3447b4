package forecast

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"reseal/forecast/plan"
	"reseal/inventory/store"
)

// planLimits lays out for the solver what a plan is held to: money of the agency
// and of funds, the shifts of crews, and closures.
type planLimits struct {
	*planTerms
	tables   *Tables
	in       *plan.Instance
	names    []string   // of the instance's budgets
	keys     []limitKey // by budget; those of crews hold hundredths of a shift, not cents
	budgets  map[limitKey]int32
	accounts map[limitKey]int32
	routes   map[string]int32
	seen     map[string]bool // districts and routes with closure limits of bridges
	lets     []*let          // the instance's contracts
}

// limitKey names a budget or an account: of own money where only the district is
// set, and of the network where that is empty too. An account may count in a
// contract, of the named row of deliveries.
type limitKey struct {
	fund, district string
	crew           bool
	contract       string
	jobs           bool // of the contract, not its money
}

func newPlanLimits(terms *planTerms, tables *Tables, in *plan.Instance, o PlanOptions) *planLimits {
	l := &planLimits{planTerms: terms, tables: tables, in: in, budgets: map[limitKey]int32{}, accounts: map[limitKey]int32{}, routes: map[string]int32{}, seen: map[string]bool{}}
	l.addMoney(o)
	l.addFunds(o)
	l.addCrews(o)
	l.addClosures(o)
	return l
}

// name is what a budget is called in answers and in kept plans.
func (k limitKey) name() string {
	switch {
	case k.crew && k.district == "":
		return "crews"
	case k.crew:
		return "crews of " + k.district
	case k.fund == "" && k.district == "":
		return NetworkBudget
	case k.fund == "":
		return k.district
	case k.district == "":
		return "fund " + k.fund
	}
	return "fund " + k.fund + ", district " + k.district
}

// NetworkBudget is the name of the agency's own money for all districts.
const NetworkBudget = "network"

func (l *planLimits) addBudget(k limitKey, amounts []int64, carryOver bool) {
	l.budgets[k] = int32(len(l.names))
	l.names = append(l.names, k.name())
	l.keys = append(l.keys, k)
	l.in.Budgets = append(l.in.Budgets, plan.Budget{Name: k.name(), Cents: amounts, CarryOver: carryOver})
}

// addMoney adds own money: the network's, and that of each district that has any.
// A year without a row has no limit.
func (l *planLimits) addMoney(o PlanOptions) {
	limits := map[string][]int64{"": slices.Repeat([]int64{plan.NoLimit}, o.Years)}
	for _, r := range l.money {
		y := r.Year - o.FirstYear
		if r.Fund != "" || y < 0 || y >= o.Years || o.YearlyCents > 0 {
			continue
		}
		if limits[r.District] == nil {
			limits[r.District] = slices.Repeat([]int64{plan.NoLimit}, o.Years)
		}
		limits[r.District][y] = r.AmountCents
	}
	if o.YearlyCents > 0 {
		limits[""] = slices.Repeat([]int64{o.YearlyCents}, o.Years)
	}
	for _, district := range slices.Sorted(maps.Keys(limits)) { // "" is first
		l.addBudget(limitKey{district: district}, limits[district], o.CarryOver)
	}
}

// addFunds adds the funds that have money in these years, as a whole and by
// district. A year without a row has none.
func (l *planLimits) addFunds(o PlanOptions) {
	if o.YearlyCents > 0 {
		l.funds = nil
	}
	var open []Fund
	for _, f := range l.funds {
		amounts := map[string][]int64{}
		for _, r := range l.money {
			if y := r.Year - o.FirstYear; r.Fund == f.Name && y >= 0 && y < o.Years {
				if amounts[r.District] == nil {
					amounts[r.District] = make([]int64, o.Years)
				}
				amounts[r.District][y] = r.AmountCents
			}
		}
		if len(amounts) > 0 && amounts[""] == nil {
			amounts[""] = slices.Repeat([]int64{plan.NoLimit}, o.Years)
		}
		for _, district := range slices.Sorted(maps.Keys(amounts)) {
			l.addBudget(limitKey{fund: f.Name, district: district}, amounts[district], f.CarryOver)
		}
		if len(amounts) > 0 {
			open = append(open, f)
		}
	}
	l.funds = open
}

// shiftUnits are the parts that a crew's shift is counted in.
const shiftUnits = 100

func (l *planLimits) addCrews(o PlanOptions) {
	units := map[string][]int64{}
	for _, every := range []bool{true, false} { // a year's own row after that of every year
		for _, c := range l.crews {
			if (c.Year == 0) != every {
				continue
			}
			if units[c.District] == nil {
				units[c.District] = slices.Repeat([]int64{plan.NoLimit}, o.Years)
			}
			for y := range o.Years {
				if every || c.Year == o.FirstYear+y {
					units[c.District][y] = int64(math.Floor(shiftUnits*c.Shifts + 1e-6))
				}
			}
		}
	}
	for _, district := range slices.Sorted(maps.Keys(units)) {
		l.addBudget(limitKey{district: district, crew: true}, units[district], false)
	}
}

func (l *planLimits) addClosures(o PlanOptions) {
	at := map[string]int{}
	for _, every := range []bool{true, false} {
		for _, c := range l.closures {
			if (c.Year == 0) != every {
				continue
			}
			if _, ok := at[c.Route]; !ok {
				at[c.Route] = len(l.in.Closures)
				l.routes[c.Route] = int32(len(l.in.Closures))
				l.in.Closures = append(l.in.Closures, plan.Closure{
					Name: c.Route, Route: l.routes[c.Route], Limit: slices.Repeat([]int64{plan.NoLimit}, o.Years),
				})
			}
			for y := range o.Years {
				if every || c.Year == o.FirstYear+y {
					l.in.Closures[at[c.Route]].Limit[y] = c.Closures
				}
			}
		}
	}
}

// route numbers a route that has a closure limit; -1 is any other.
func (l *planLimits) route(name string) int32 {
	if n, ok := l.routes[name]; ok {
		l.seen["route "+name] = true
		return n
	}
	return -1
}

// account is that from which a district draws own money, a fund's, or its crews'
// shifts; -1 where nothing limits it.
func (l *planLimits) account(k limitKey) int32 {
	if a, ok := l.accounts[k]; ok {
		return a
	}
	l.seen["district "+k.district] = true
	var counts []int32
	own := k
	own.contract = ""
	whole := own
	whole.district = ""
	for _, key := range []limitKey{whole, own} {
		if b, ok := l.budgets[key]; ok && !k.jobs && !slices.Contains(counts, b) {
			counts = append(counts, b)
		}
	}
	a := int32(-1)
	if len(counts) > 0 || k.contract != "" {
		a = int32(len(l.in.Accounts))
		l.in.Accounts = append(l.in.Accounts, counts)
	}
	l.accounts[k] = a
	return a
}

// ended tells whether a budget is that of a fund that can be drawn no longer.
func (l *planLimits) ended(budget, year int) bool {
	at := slices.IndexFunc(l.funds, func(f Fund) bool { return f.Name == l.keys[budget].fund })
	return at >= 0 && l.funds[at].LastYear != 0 && year > l.funds[at].LastYear
}

// strangers lists the districts and routes that have a limit and no bridge.
func (l *planLimits) strangers() (out []string) {
	add := func(kind, name string) {
		what := fmt.Sprintf("%s %q", kind, name)
		if !l.seen[kind+" "+name] && !slices.Contains(out, what) {
			out = append(out, what)
		}
	}
	for _, k := range l.keys {
		if k.district != "" {
			add("district", k.district)
		}
	}
	for _, c := range l.in.Closures {
		add("route", c.Name)
	}
	return out
}

// check refuses a budget of a fund that is not in the table funds, and a contract
// that must hold more jobs than it may.
func (t *planTerms) check() error {
	for _, r := range t.money {
		if r.Fund != "" && !slices.ContainsFunc(t.funds, func(f Fund) bool { return f.Name == r.Fund }) {
			return store.Invalid("list them with: reseal settings table list funds", "the table budgets has money of the fund %q in %d, and the table funds has no such fund", r.Fund, r.Year)
		}
	}
	for _, d := range t.deliveries {
		if d.MostJobs > 0 && d.LeastJobs > d.MostJobs {
			return store.Invalid("correct the row with: reseal settings table import deliveries FILE",
				"the row %q of deliveries asks for at least %d jobs in a contract and at most %d", d.Name, d.LeastJobs, d.MostJobs)
		}
	}
	return nil
}
