package forecast

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"

	"github.com/uptrace/bun"

	"reseal/forecast/money"
	"reseal/forecast/plan"
	"reseal/inventory"
	"reseal/inventory/store"
)

// PlanOptions choose what is planned.
type PlanOptions struct {
	Options
	FirstYear   int   // fiscal
	Years       int   // 1 to 30
	YearlyCents int64 // nominal money of each year in place of the table budgets; 0: the table
}

// Problem is a network's plan before it is solved: package plan's instance, and
// what each of its numbers stands for.
type Problem struct {
	Instance  plan.Instance
	FirstYear int
	PriceYear int // of constant dollars
	AsOf      inventory.Date

	Joints       int // looked at
	NoForecast   map[Reason]int
	NoLength     int
	Illustrative []string

	joints  []planJoint
	courses []course // by option
	names   []string // of the instance's budgets: network, then districts
}

type planJoint struct {
	id, bridge                   int64
	tag, structure, route, place string
	district                     string
	kind                         string
	treatments                   []Treatment
}

// NewProblem works out the strategies of every joint and lays them out for the
// solver. Money is nominal and charged in the year of the work; objectives are
// constant dollars of the present fiscal year, discounted to the start of the
// first year. A bridge's visit costs what the dearest of the treatments open to
// its joints asks, once for all that is done there in a year.
func (m *Model) NewProblem(ctx context.Context, db bun.IDB, o PlanOptions) (*Problem, error) {
	now := m.YearOf(o.AsOf)
	if o.Years < 1 || o.Years > maxPlanYears || o.FirstYear < now || o.FirstYear > now+10 {
		return nil, store.Invalid(fmt.Sprintf("give 1 to %d years from %d to %d on", maxPlanYears, now, now+10), "there is no plan of %d years from %d", o.Years, o.FirstYear)
	}
	p := &Problem{FirstYear: o.FirstYear, PriceYear: now, AsOf: o.AsOf, NoForecast: map[Reason]int{}, Illustrative: m.tables.Illustrative()}
	p.Instance.Years = o.Years
	accounts, err := p.addBudgets(ctx, db, o)
	if err != nil {
		return nil, err
	}
	rises := make([]float64, o.Years)
	for y := range rises {
		if rises[y], err = m.tables.Settings.Prices().Factor(now, o.FirstYear+y); err != nil {
			return nil, err
		}
	}
	o.ThroughYear = max(m.Through(o.Options), o.FirstYear+o.Years)
	o.prospecting = &prospecting{firstYear: o.FirstYear, years: o.Years}
	err = m.eachBridge(ctx, db, o.Options, func(joints []Projected) error {
		account, ok := accounts[joints[0].Bridge.District]
		if !ok {
			account = accounts[""]
		}
		return m.addToProblem(p, joints, rises, account)
	})
	return p, err
}

// addBudgets adds the network's money and that of the districts that have any,
// and returns the account of each district; "" is all others.
func (p *Problem) addBudgets(ctx context.Context, db bun.IDB, o PlanOptions) (map[string]int32, error) {
	var rows []struct {
		Year        int
		District    string
		AmountCents int64
	}
	if err := db.NewRaw("SELECT year, district, amount_cents FROM budgets WHERE year >= ? AND year < ? ORDER BY district, year",
		o.FirstYear, o.FirstYear+o.Years).Scan(ctx, &rows); err != nil {
		return nil, fmt.Errorf("read the budgets: %w", err)
	}
	limits := map[string][]int64{"": slices.Repeat([]int64{plan.NoLimit}, o.Years)}
	for _, r := range rows {
		if limits[r.District] == nil {
			limits[r.District] = slices.Repeat([]int64{plan.NoLimit}, o.Years)
		}
		limits[r.District][r.Year-o.FirstYear] = r.AmountCents
	}
	if o.YearlyCents > 0 {
		limits = map[string][]int64{"": slices.Repeat([]int64{o.YearlyCents}, o.Years)}
	}
	accounts := map[string]int32{}
	for i, district := range slices.Sorted(maps.Keys(limits)) { // "" is first
		name, counts := district, []int32{0, int32(i)}
		if district == "" {
			name, counts = "network", []int32{0}
		}
		p.names = append(p.names, name)
		p.Instance.Budgets = append(p.Instance.Budgets, plan.Budget{Name: name, Cents: limits[district]})
		p.Instance.Accounts = append(p.Instance.Accounts, counts)
		accounts[district] = int32(i)
	}
	return accounts, nil
}

func (m *Model) addToProblem(p *Problem, joints []Projected, rises []float64, account int32) error {
	var planned []Projected
	var courses [][]course
	for i := range joints {
		j := &joints[i]
		p.Joints++
		switch {
		case j.Forecast == nil:
			p.NoForecast[j.Reason]++
			continue
		case j.Prospect == nil:
			p.NoLength++
			continue
		}
		cs, err := m.courses(j, rises)
		if err != nil {
			return fmt.Errorf("joint %s: %w", j.Tag, err)
		}
		planned, courses = append(planned, *j), append(courses, cs)
	}
	if len(planned) == 0 {
		return nil
	}
	visit := visitDollars(planned, courses)
	cost, cents := make([]float64, len(rises)), make([]int64, len(rises))
	for y, rise := range rises {
		cost[y] = visit * math.Pow(1+m.tables.Settings.RealDiscountRate, -float64(y)-0.5)
		cents[y] = int64(math.Round(100 * visit * rise))
	}
	p.Instance.AddBridge(cost, cents, account, -1)
	for i := range planned {
		j := &planned[i]
		p.Instance.AddJoint()
		p.joints = append(p.joints, planJoint{
			id: j.ID, bridge: j.Bridge.ID, tag: j.Tag, structure: j.Bridge.StructureNumber, route: j.Bridge.Route, place: j.Place,
			district: j.Bridge.District, kind: j.Kind, treatments: j.Prospect.Treatments,
		})
		for _, c := range courses[i] {
			p.Instance.AddOption(c.cost, c.money(account)...)
		}
		p.courses = append(p.courses, courses[i]...)
	}
	return nil
}

// PlanItem is one treatment in a plan.
type PlanItem struct {
	JointID         int64
	Tag             string
	StructureNumber string
	Route           string
	District        string
	Kind            string
	Year            int // fiscal
	Treatment       string
	CostCents       int64 // nominal, without the visit
	bridge          int64
}

// PlanYear is the money of one budget in a year.
type PlanYear struct {
	Budget     string
	Year       int   // fiscal
	LimitCents int64 // nominal; -1: no limit
	SpentCents int64
	Price      float64 // what one more dollar saves, present value
}

// Plan is what is done in which year.
type Plan struct {
	Items     []PlanItem // by year, then bridge and tag
	Years     []PlanYear // the network's, then each district's
	FirstYear int
	AsOf      inventory.Date

	// Present values in constant dollars at the start of the first year.
	CostDollars, BoundDollars, IdleDollars float64
	GapPct, SavingGapPct                   float64

	FailedEnd float64 // joints expected to have failed at the end of the last year
	Shortfall *plan.Shortfall
	result    *plan.Result
	bridges   []int64 // cents spent on each, visits included
}

// Solve finds the plan. Where no plan keeps every limit the error is
// plan.ErrInfeasible, and the plan that exceeds them least comes with it.
func (p *Problem) Solve() (*Plan, error) {
	r, err := plan.Solve(&p.Instance, plan.Options{})
	if r == nil {
		return nil, err
	}
	return p.plan(r), err
}

// Levels solves the problem with each share of every budget, 0.8 for 20 % less.
func (p *Problem) Levels(levels []float64) ([]*Plan, error) {
	results, err := plan.SolveLevels(&p.Instance, levels, plan.Options{})
	if err != nil && !errors.Is(err, plan.ErrInfeasible) {
		return nil, err
	}
	var out []*Plan
	for _, r := range results {
		out = append(out, p.plan(r))
	}
	return out, err
}

// Unlimited is the plan with no limit of money: the need.
func (p *Problem) Unlimited() (*Plan, error) {
	free := *p
	free.Instance.Budgets = slices.Clone(p.Instance.Budgets)
	for i := range free.Instance.Budgets {
		free.Instance.Budgets[i].Cents = slices.Repeat([]int64{plan.NoLimit}, p.Instance.Years)
	}
	return free.Solve()
}

func (p *Problem) plan(r *plan.Result) *Plan {
	out := &Plan{
		FirstYear: p.FirstYear, AsOf: p.AsOf, CostDollars: r.Cost, BoundDollars: r.Bound, IdleDollars: r.Nothing,
		GapPct: r.GapPct(), SavingGapPct: r.SavingGapPct(), Shortfall: r.Shortfall, result: r,
	}
	for i, option := range r.Choice {
		c, j := &p.courses[option], &p.joints[i]
		out.FailedEnd += c.failed
		for k, s := range c.steps[:c.count] {
			out.Items = append(out.Items, PlanItem{
				JointID: j.id, Tag: j.tag, StructureNumber: j.structure, Route: j.route, District: j.district, Kind: j.kind,
				Year: p.FirstYear + int(s.year), Treatment: j.treatments[s.treatment].Name, CostCents: c.charges[k], bridge: j.bridge,
			})
		}
	}
	slices.SortStableFunc(out.Items, func(a, b PlanItem) int {
		return cmp.Or(cmp.Compare(a.Year, b.Year), cmp.Compare(a.District, b.District), cmp.Compare(a.StructureNumber, b.StructureNumber), cmp.Compare(a.Tag, b.Tag))
	})
	out.bridges = p.onBridges(r.Choice)
	for b, name := range p.names {
		for y := range p.Instance.Years {
			limit := int64(-1)
			if r.Left[b][y] != plan.NoLimit {
				limit = r.Spent[b][y] + r.Left[b][y]
			}
			out.Years = append(out.Years, PlanYear{name, p.FirstYear + y, limit, r.Spent[b][y], r.Price[b][y]})
		}
	}
	return out
}

// onBridges is what the chosen options spend on each bridge, in cents.
func (p *Problem) onBridges(choice []int32) []int64 {
	in := &p.Instance
	out := make([]int64, max(len(in.FirstJoint)-1, 0))
	for b := range out {
		visits := map[int32]bool{}
		for _, option := range choice[in.FirstJoint[b]:in.FirstJoint[b+1]] {
			for _, c := range in.Charges[in.FirstCharge[option]:in.FirstCharge[option+1]] {
				out[b] += c.Cents
				visits[c.Year] = true
			}
		}
		for y := range visits {
			out[b] += in.VisitCents[b*in.Years+int(y)]
		}
	}
	return out
}

// DeferredCents is how much of the need, the plan with no limit of money of the
// same Problem, this plan leaves undone at the end of its years, nominal: bridge
// by bridge, what the need spends there less what the plan does, and never below
// 0. More spent on one bridge, as late work can cost, makes up for nothing on
// another.
func (p *Plan) DeferredCents(need *Plan) (sum money.Nominal) {
	for b, cents := range need.bridges {
		sum += money.Nominal(max(0, cents-p.bridges[b]))
	}
	return sum
}

// SpentCents is all the money of a plan, nominal.
func (p *Plan) SpentCents() (sum money.Nominal) {
	for _, y := range p.Years {
		if y.Budget == "network" {
			sum += money.Nominal(y.SpentCents)
		}
	}
	return sum
}

// SplitSeasons counts the bridges where a plan works in two years in a row.
func (p *Plan) SplitSeasons() int {
	years := map[int64][]int{}
	for _, i := range p.Items {
		years[i.bridge] = append(years[i.bridge], i.Year)
	}
	n := 0
	for _, ys := range years {
		for k := 1; k < len(ys); k++ {
			if ys[k]-ys[k-1] == 1 {
				n++
				break
			}
		}
	}
	return n
}

// Limited tells whether any year has a limit of money.
func (p *Problem) Limited() bool {
	for _, b := range p.Instance.Budgets {
		for _, cents := range b.Cents {
			if cents != plan.NoLimit {
				return true
			}
		}
	}
	return false
}
