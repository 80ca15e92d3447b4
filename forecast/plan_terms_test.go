package forecast_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"reseal/forecast"
	"reseal/forecast/plan"
	"reseal/inventory"
	"reseal/inventory/store"
)

// problemOf lays out eight years from 2027 on.
func problemOf(t *testing.T, s *store.Store, o forecast.PlanOptions) *forecast.Problem {
	t.Helper()
	ctx := context.Background()
	tables, err := forecast.LoadTables(ctx, s.Read())
	if err != nil {
		t.Fatal(err)
	}
	m, err := forecast.NewModel(tables)
	if err != nil {
		t.Fatal(err)
	}
	o.AsOf, _ = inventory.ParseDate("2026-03-01")
	o.FirstYear, o.Years = 2027, 8
	p, err := m.NewProblem(ctx, s.Read(), o)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func solve(t *testing.T, p *forecast.Problem) *forecast.Plan {
	t.Helper()
	solved, err := p.Solve(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return solved
}

func take(t *testing.T, s *store.Store, name, file string) {
	t.Helper()
	if _, err := importTable(t, s, name, file); err != nil {
		t.Fatal(err)
	}
}

const ownMoney = `name,year,district,fund,amount usd,source
a,2027,,,20000,invented
b,2028,,,20000,invented
c,2029,,,20000,invented
d,2030,,,20000,invented
e,2028,2,,10000,invented
`

const fundMoney = `name,year,district,fund,amount usd,source
f,2028,,federal,15000,invented
g,2029,,federal,5000,invented
`

// A fund pays for what it may, with the match from own money and no longer than
// it can be drawn; what people would add up by hand from the items, the budgets
// say too.
func TestFundsPayWhatTheyMay(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	s := invented(t, 10)
	take(t, s, "budgets", ownMoney)
	before := solve(t, problemOf(t, s, forecast.PlanOptions{}))
	take(t, s, "budgets", fundMoney)
	take(t, s, "funds", "name,treatments,match share,overhead share,last year,carry over,source\nfederal,full replacement; new gland in existing rails,0.2,0.1,2030,yes,invented\n")
	p := problemOf(t, s, forecast.PlanOptions{})
	after := solve(t, p)
	federal, own := map[int]int64{}, map[int]int64{}
	for _, i := range after.Items {
		if i.Fund == "" {
			own[i.PaidYear] += i.CostCents
			continue
		}
		if i.Fund != "federal" || i.Treatment != "full replacement" && i.Treatment != "new gland in existing rails" || i.PaidYear < 2028 || i.PaidYear > 2030 {
			t.Errorf("%s: %s in %d is paid by %q", i.Tag, i.Treatment, i.PaidYear, i.Fund)
		}
		match := int64(math.Round(0.2 * float64(i.CostCents)))
		federal[i.PaidYear] += i.CostCents - match
		own[i.PaidYear] += match
	}
	if sum := federal[2028] + federal[2029] + federal[2030]; sum == 0 || federal[2028] > 15_000_00 || sum > 20_000_00 || federal[2028]+federal[2029] > 20_000_00 {
		t.Errorf("the fund pays %v, want some of 15,000 in 2028 and 5,000 in 2029", federal)
	}
	seen := 0
	for _, y := range after.Years {
		switch y.Budget {
		case "fund federal":
			if seen++; y.SpentCents != federal[y.Year] || y.Year > 2030 || y.Part {
				t.Errorf("%d: the fund's row %+v, and the items add up to %d", y.Year, y, federal[y.Year])
			}
		case forecast.NetworkBudget: // and the bridge visits
			if y.SpentCents < own[y.Year] || y.LimitCents >= 0 && y.SpentCents > y.LimitCents {
				t.Errorf("%d: used %d of %d own money, the items %d", y.Year, y.SpentCents, y.LimitCents, own[y.Year])
			}
		}
	}
	if seen != 4 {
		t.Errorf("the fund has %d years, want 2027 to 2030", seen)
	}
	if after.CostDollars > before.CostDollars*(1+1e-3) {
		t.Errorf("with a fund the plan costs %.0f, without %.0f", after.CostDollars, before.CostDollars)
	}
	carried := solve(t, problemOf(t, s, forecast.PlanOptions{CarryOver: true}))
	if carried.CostDollars > after.CostDollars*(1+1e-3) {
		t.Errorf("with carry-over the plan costs %.0f, without %.0f", carried.CostDollars, after.CostDollars)
	}
	if _, err := importTable(t, s, "budgets", "name,year,fund,amount usd,source\nh,2029,lottery,1,x\n"); err != nil {
		t.Fatal(err)
	}
	tables, _ := forecast.LoadTables(context.Background(), s.Read())
	m, _ := forecast.NewModel(tables)
	asOf, _ := inventory.ParseDate("2026-03-01")
	if _, err := m.NewProblem(context.Background(), s.Read(), forecast.PlanOptions{Options: forecast.Options{AsOf: asOf}, FirstYear: 2027, Years: 2}); !errors.Is(err, store.ErrInvalid) {
		t.Errorf("money of a fund that is not there: got %v", err)
	}
}

// A contract that must hold more jobs than it may is refused before anything is
// planned.
func TestContractOfNoSize(t *testing.T) {
	s := invented(t, 2)
	take(t, s, "deliveries", "name,done by,least jobs,most jobs,source\nall,contract,9,3,x\n")
	_, err := model(t, s).NewProblem(t.Context(), s.Read(), forecast.PlanOptions{Options: forecast.Options{AsOf: asOf}, FirstYear: 2027, Years: 2})
	if !errors.Is(err, store.ErrInvalid) || !strings.Contains(err.Error(), "at least 9 jobs in a contract and at most 3") {
		t.Errorf("got %v", err)
	}
}

// Work by contract is paid a year ahead and comes to its least or is not let, own
// crews have no more shifts than the season, and a route no more closures than its
// limit.
func TestPlanKeepsCrewsAndClosures(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	s := invented(t, 40)
	take(t, s, "deliveries", "name,treatment,district,done by,lead years,minimum usd,least jobs,most jobs,source\nall,,,in-house,,,,,x\nbig,full replacement,,contract,1,60000,,,x\nhere,,2,contract,2,,2,2,x\n")
	take(t, s, "crews", "name,district,year,shifts,source\na,,,9,x\nb,1,2028,1.5,x\n")
	take(t, s, "treatments", "name,cost per ft usd,fixed usd,visit usd,night usd,price year,feet per shift,source\nreseal,90,1500,6000,700,2026,30,x\n")
	take(t, s, "closure_limits", "name,route,year,closures,source\na,R 3,,1,x\nb,R 3,2029,0,x\n")
	if err := s.Update(context.Background(), "planner", func(ctx context.Context, tx *store.Tx) error {
		_, err := tx.ExecContext(ctx, "UPDATE bridges SET route = 'R 3' WHERE id % 4 = 0")
		return err
	}); err != nil {
		t.Fatal(err)
	}
	feet := map[string]float64{}
	var rows []struct {
		Tag      string
		LengthFt float64
	}
	if err := s.Read().NewRaw("SELECT tag, length_ft FROM joints WHERE length_ft IS NOT NULL").Scan(context.Background(), &rows); err != nil {
		t.Fatal(err)
	}
	for _, r := range rows {
		feet[r.Tag] = r.LengthFt
	}
	solved := solve(t, problemOf(t, s, forecast.PlanOptions{YearlyCents: 150_000_00}))
	shifts, one, closures := map[int]float64{}, 0.0, map[int]map[string]bool{}
	contracts := 0
	for _, i := range solved.Items {
		lead, by := 0, forecast.InHouse
		switch {
		case i.Treatment == "full replacement":
			lead, by = 1, forecast.Contract
		case i.District == "2":
			lead, by = 2, forecast.Contract
		}
		if i.DoneBy != by || i.PaidYear != i.Year-lead || i.PaidYear < 2027 {
			t.Errorf("%s: %s in %d by %s, paid in %d", i.Tag, i.Treatment, i.Year, i.DoneBy, i.PaidYear)
		}
		if i.Route == "R 3" {
			if closures[i.Year] == nil {
				closures[i.Year] = map[string]bool{}
			}
			closures[i.Year][i.StructureNumber] = true
		}
		if by == forecast.Contract {
			contracts++
			continue
		}
		used := float64(i.Nights)
		if i.Treatment == "reseal" {
			used = feet[i.Tag] / 30
			nights := math.Ceil(feet[i.Tag] / 30)
			if cents := 100 * (1500 + 90*feet[i.Tag] + 700*(nights-1)); float64(i.Nights) != nights || float64(i.CostCents) < cents {
				t.Errorf("%s: %d nights for %d cents, want %g and no less than %.0f", i.Tag, i.Nights, i.CostCents, nights, cents)
			}
		}
		shifts[i.Year] += used
		if i.Year == 2028 && i.District == "1" {
			one += used
		}
	}
	for year, used := range shifts {
		if used > 9+1e-6 {
			t.Errorf("%d: %.2f shifts of 9", year, used)
		}
	}
	if one > 1.5+1e-6 {
		t.Errorf("%.2f of the 1.5 shifts of district 1 in 2028", one)
	}
	for year, bridges := range closures {
		if len(bridges) > 1 || year == 2029 {
			t.Errorf("%d bridges of R 3 are worked on in %d", len(bridges), year)
		}
	}
	if contracts == 0 || len(shifts) == 0 || len(closures) == 0 {
		t.Fatalf("nothing to look at: %d contracts, shifts %v, closures %v", contracts, shifts, closures)
	}
	for _, h := range solved.Held {
		if h.Most >= 0 && h.Used > h.Most+1e-9 || h.What == "crews" && math.Abs(h.Used-shifts[h.Year]) > 0.01*float64(len(solved.Items)) {
			t.Errorf("%+v, and the items take %.2f shifts", h, shifts[h.Year])
		}
	}
	want := map[string]forecast.SizedContract{}
	for _, i := range solved.Items { // one contract of each district and year, of the row that its jobs fall to
		name := "here"
		if i.Treatment == "full replacement" {
			name = "big"
		} else if i.District != "2" {
			continue
		}
		key := fmt.Sprint(name, i.District, i.PaidYear)
		c := want[key]
		c.Cents, c.Jobs = c.Cents+i.CostCents, c.Jobs+1
		want[key] = c
	}
	let := len(want)
	for key, c := range want {
		if strings.HasPrefix(key, "big") && c.Cents < 60_000_00 || strings.HasPrefix(key, "here") && c.Jobs < 2 {
			t.Errorf("%s is let for %d jobs and %d cents", key, c.Jobs, c.Cents)
		}
		if strings.HasPrefix(key, "big") || c.Jobs == 2 {
			delete(want, key)
		}
	}
	if len(solved.Sized) != len(want) || let == 0 {
		t.Errorf("%d of %d contracts hold too many jobs, want %d", len(solved.Sized), let, len(want))
	}
	held := 0
	for _, h := range solved.Held {
		if h.Least > 0 {
			if held++; h.Used < h.Least {
				t.Errorf("%+v", h)
			}
		}
	}
	if held != let {
		t.Errorf("%d contracts are listed, and %d let", held, let)
	}
	for _, c := range solved.Sized {
		w := want[fmt.Sprint(c.Delivery.Name, c.District, c.Year)]
		if c.Cents != w.Cents || c.Jobs != w.Jobs || c.Contracts() != (w.Jobs+1)/2 {
			t.Errorf("%+v, and its items come to %d jobs for %d", c, w.Jobs, w.Cents)
		}
	}
}

// Work pinned where its contract cannot come to the least is told, with the contract
// and what mends it; the choices of a joint tell which of them would break it.
func TestPinUnderTheMinimum(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	s := invented(t, 3)
	free := solve(t, problemOf(t, s, forecast.PlanOptions{YearlyCents: 200_000_00}))
	at := free.Items[0]
	take(t, s, "deliveries", "name,done by,minimum usd,least jobs,source\nall,contract,9000000,900,x\n")
	p := problemOf(t, s, forecast.PlanOptions{YearlyCents: 200_000_00})
	none := solve(t, p)
	if len(none.Items) > 0 {
		t.Fatalf("%d jobs are let under the minimum", len(none.Items))
	}
	choices, err := p.Explain(none, at.Tag, 8)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range choices {
		if want := fmt.Sprintf("contract \"all\", district %s", at.District); (c.Contract == want) != (len(c.Words) > 0) {
			t.Errorf("%v: the contract is %q", c.Words, c.Contract)
		}
	}
	if err := s.Update(t.Context(), "planner", func(ctx context.Context, tx *store.Tx) error {
		return forecast.Decide(ctx, tx, &forecast.Decision{JointID: at.JointID, What: forecast.Pin, Year: 2028, Reason: "closure booked"}, asOf)
	}); err != nil {
		t.Fatal(err)
	}
	p = problemOf(t, s, forecast.PlanOptions{YearlyCents: 200_000_00})
	near, err := p.Solve(t.Context())
	if !errors.Is(err, plan.ErrInfeasible) {
		t.Fatalf("got %v", err)
	}
	words := near.Missing
	for _, want := range []string{"none keeps every limit, as is proved", fmt.Sprintf("contract \"all\", district %s, obligated in 2028, comes to", at.District), "of 9,000,000 and 1 of 900 jobs", "pin more of its work", "no money alone mends it"} {
		if !strings.Contains(words, want) {
			t.Errorf("told %q, not %q", words, want)
		}
	}
}

// A target is met or said to be out of reach, with the money that meets it; a
// price on it moves the plan its way.
func TestPlanMeetsTargets(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	s := invented(t, 4)
	money := forecast.PlanOptions{YearlyCents: 10_000_00}
	price := money
	price.Targets = []forecast.PlanTarget{{What: forecast.TargetFailed, Year: 2032, Most: -1, PriceDollars: 0.01}, {What: forecast.TargetCS4, Year: 2031, Most: -1}}
	loose := solve(t, problemOf(t, s, price))
	failed, cs4 := loose.Held[0].Used, loose.Held[1].Used
	if failed <= 1 || cs4 <= 1 || cs4 >= 100 {
		t.Fatalf("without targets %.1f joints fail and %.1f %% is in CS4", failed, cs4)
	}
	price.Targets[0].PriceDollars = 50_000
	dear := solve(t, problemOf(t, s, price))
	if dear.Held[0].Used >= failed || math.Abs(dear.TargetDollars-50_000*dear.Held[0].Used) > 1 {
		t.Errorf("at $50,000 each %.2f fail for $%.0f, at a cent %.2f", dear.Held[0].Used, dear.TargetDollars, failed)
	}
	cap := money
	cap.Targets = []forecast.PlanTarget{{What: forecast.TargetFailed, Year: 2032, Most: (failed + dear.Held[0].Used) / 2}}
	held := solve(t, problemOf(t, s, cap))
	if h := held.Held[0]; h.Used > h.Most+1e-4 {
		t.Errorf("held to %+v", h)
	}
	if held.CostDollars < loose.BoundDollars-loose.TargetDollars-1 {
		t.Errorf("a target saves: %.0f under %.0f", held.CostDollars, loose.BoundDollars)
	}
	cap.Targets[0].Most = dear.Held[0].Used / 2
	p := problemOf(t, s, cap)
	near, err := p.Solve(context.Background())
	if !errors.Is(err, plan.ErrInfeasible) {
		t.Fatalf("half of what can be had: got %v", err)
	}
	words := near.Missing
	if !strings.Contains(words, "joints failed at the end of 2032") || !strings.Contains(words, "times every budget would do") {
		t.Errorf("told: %s", words)
	}
	more := cap
	more.YearlyCents = int64(near.Shortfall.Enough*float64(cap.YearlyCents)) + 1
	if h := solve(t, problemOf(t, s, more)).Held[0]; h.Used > h.Most+1e-4 {
		t.Errorf("with the money that would do: %+v", h)
	}
	if i := slices.IndexFunc(near.Years, func(y forecast.PlanYear) bool { return y.SpentCents > y.LimitCents }); i < 0 && near.Held[0].Used <= near.Held[0].Most {
		t.Error("the plan that comes nearest keeps every limit")
	}
}
