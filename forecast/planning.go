package forecast

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/uptrace/bun"

	"reseal/forecast/money"
	"reseal/forecast/plan"
	"reseal/forecast/strategy"
	"reseal/inventory"
	"reseal/inventory/store"
)

// PlanOptions choose what is planned.
type PlanOptions struct {
	Options
	FirstYear   int   // fiscal
	Years       int   // 1 to 30
	YearlyCents int64 // nominal money of each year in place of the table budgets, funds too; 0: the table
	CarryOver   bool  // own money left in a year can be used later
	Targets     []PlanTarget
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
	Risks        []ProjectRisk // of committed bridge projects, by bridge
	Strangers    []string      // districts and routes of the tables that no bridge of the plan has

	joints  []planJoint
	courses []outline // by option
	rises   []float64 // of prices from the present, by year
	limits  *planLimits
	targets []PlanTarget // of the instance's targets
	feet    float64      // of the joints looked at

	closureMiles, closureSaving float64 // of the settings

	progress func(gapPct float64)
}

// planJoint is a joint as a problem knows it.
type planJoint struct {
	*PlanJoint
	milepost   *float64
	treatments []*Treatment
	ownDollars []float64 // by treatment, without the visit, constant dollars
	reason     planReason
	climate    string
	lengthFt   float64

	// What people know or decided about it; see About.
	decided []Decision
	urgent  []Finding
	claimed bool // its first year is left to a claim
}

// newKind is the kind of seal that a treatment puts in; empty where it puts in none.
func (j *planJoint) newKind(t *Treatment) string {
	if t.effect() != strategy.Renews {
		return ""
	}
	return cmp.Or(t.NewKind, j.Kind)
}

// NewProblem works out the strategies of every joint and lays them out for the
// solver. Money is nominal, and drawn in the year of the work or, of a contract, in
// that of its obligation, which counts at the prices of the year of the work. A
// contract that has a least comes to it in a district and year of obligation, bridge
// visits aside, or is not let.
// Objectives count all money, whoever pays it, when the work is done: they are
// constant dollars of the present fiscal year, discounted to the start of the
// first year. A bridge's visit costs what the dearest of the treatments open to
// its joints asks, once for all that is done there in a year; it is own money of
// that year.
func (m *Model) NewProblem(ctx context.Context, db bun.IDB, o PlanOptions) (*Problem, error) {
	now := m.YearOf(o.AsOf)
	switch {
	case o.Years < 1 || o.Years > maxPlanYears:
		return nil, store.Invalid(fmt.Sprintf("give 1 to %d years", maxPlanYears), "there is no plan of %d years", o.Years)
	case o.FirstYear < now || o.FirstYear > now+10:
		return nil, store.Invalid(fmt.Sprintf("give a first fiscal year from %d to %d", now, now+10), "there is no plan from %d on", o.FirstYear)
	}
	p := &Problem{FirstYear: o.FirstYear, PriceYear: now, AsOf: o.AsOf, NoForecast: map[Reason]int{}, Illustrative: m.tables.Illustrative(), progress: o.Progress}
	p.closureMiles, p.closureSaving = m.tables.Settings.ClosureMiles, m.tables.Settings.ClosureSavingShare
	p.Instance.Years = o.Years
	terms, err := loadPlanTerms(ctx, db)
	if err != nil {
		return nil, err
	}
	if err := terms.check(); err != nil {
		return nil, err
	}
	if _, err := m.tables.closures(0); err != nil {
		return nil, store.Invalid("set it with: reseal settings set closure_hours HOURS", "%v", err)
	}
	p.limits = newPlanLimits(terms, m.tables, &p.Instance, o)
	if err := p.addTargets(o); err != nil {
		return nil, err
	}
	p.rises = make([]float64, o.Years)
	for y := range p.rises {
		if p.rises[y], err = m.tables.Prices.Factor(now, o.FirstYear+y); err != nil {
			return nil, err
		}
	}
	o.ThroughYear = max(m.Through(o.Options), o.FirstYear+o.Years)
	cs4 := slices.ContainsFunc(o.Targets, func(t PlanTarget) bool { return t.What == TargetCS4 })
	o.prospecting = &prospecting{firstYear: o.FirstYear, years: o.Years, cs4: cs4}
	all, err := inventory.CountJoints(ctx, db, o.Filter)
	if err != nil {
		return nil, err
	}
	const sample = 16 // the first of so many tells how much room all will take
	grown := all < 1000*sample
	err = m.eachBridge(ctx, db, o.Options, func(joints []Projected) error {
		if !grown && p.Joints >= all/sample {
			grown = true
			p.Instance.Grow(sample)
			p.joints, p.courses = slices.Grow(p.joints, all-len(p.joints)), slices.Grow(p.courses, (sample+1)*len(p.courses))
		}
		return m.addToProblem(p, joints, o)
	})
	p.closeTargets()
	if o.Filter == (inventory.Filter{}) {
		p.Strangers = p.limits.strangers()
	}
	return p, err
}

func (m *Model) addToProblem(p *Problem, joints []Projected, o PlanOptions) error {
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
		p.Risks = addRisk(p.Risks, j)
		cs, err := m.courses(j, p.rises)
		if err != nil {
			return fmt.Errorf("joint %s: %w", j.Tag, err)
		}
		planned, courses = append(planned, *j), append(courses, cs)
	}
	if len(planned) == 0 {
		return nil
	}
	visit := visitDollars(planned, courses)
	cost, cents := make([]float64, len(p.rises)), make([]int64, len(p.rises))
	for y, rise := range p.rises {
		cost[y] = visit * math.Pow(1+m.tables.Settings.RealDiscountRate, -float64(y)-0.5)
		cents[y] = nominalCents(visit, rise)
	}
	bridge := planned[0].Bridge
	p.Instance.AddBridge(cost, cents, p.limits.account(limitKey{district: bridge.District}), p.limits.route(bridge.Route))
	for i := range planned {
		j := &planned[i]
		p.Instance.AddJoint()
		p.joints = append(p.joints, planJoint{
			PlanJoint: &PlanJoint{JointID: j.ID, Tag: j.Tag, StructureNumber: j.Bridge.StructureNumber, Route: j.Bridge.Route, District: j.Bridge.District, Kind: j.Kind, Quantity: j.Quantity, bridge: j.Bridge.ID},
			milepost:  j.Bridge.Milepost, treatments: j.Prospect.Treatments, ownDollars: j.Prospect.OwnDollars, reason: m.planReason(j), climate: j.Bridge.Climate, lengthFt: j.LengthFt,
			decided: j.Decided, urgent: j.Urgent(), claimed: j.claimed(j.AsOf),
		})
		p.feet += j.LengthFt
		for _, c := range courses[i] {
			for _, way := range p.limits.ways(c, j, o) {
				p.Instance.AddOption(way.cost, p.limits.draw(&way, j)...)
				p.courses = append(p.courses, way.outline)
				if err := p.use(j, &way); err != nil {
					return fmt.Errorf("joint %s: %w", j.Tag, err)
				}
			}
		}
	}
	return nil
}

// PlanYear is the money of one budget in a year.
type PlanYear struct {
	Budget     string
	Year       int   // fiscal
	LimitCents int64 // nominal; -1: no limit
	SpentCents int64
	Price      float64 // what one more dollar saves, present value
	Part       bool    // its money counts in another budget too: a district's
}

// Plan is what is done in which year.
type Plan struct {
	Items     []PlanItem      // by year, then bridge and tag
	Years     []PlanYear      // the network's, then each district's, then each fund's
	Held      []HeldTo        // what other limits there are: crews, closures, targets, contracts
	Sized     []SizedContract // contracts outside their size
	FirstYear int
	AsOf      inventory.Date

	// Present values in constant dollars at the start of the first year.
	// CostDollars and BoundDollars hold TargetDollars, the price set on targets.
	CostDollars, BoundDollars, IdleDollars float64
	TargetDollars                          float64
	GapPct, SavingGapPct                   float64

	FailedEnd float64 // joints expected to have failed at the end of the last year
	Shortfall *plan.Shortfall
	Missing   string // of a shortfall: what is short, and how much money would do
	OpenYears []int  // fiscal years in which own money has no limit in some district, though it has in others
	result    *plan.Result
}

// Forget lets go of the solver's workings, most of what a plan of a large network
// holds in memory: what was planned stays, and can be asked no more why.
func (p *Plan) Forget() { p.result = nil }

// Solve finds the plan. Where no plan keeps every limit the error is
// plan.ErrInfeasible, and the plan that exceeds them least comes with it.
func (p *Problem) Solve(ctx context.Context) (*Plan, error) {
	r, err := plan.Solve(ctx, &p.Instance, plan.Options{Progress: p.progress})
	if r == nil {
		return nil, err
	}
	return p.plan(r, 1), err
}

// Levels solves the problem with each share of every budget, 0.8 for 20 % less.
func (p *Problem) Levels(ctx context.Context, levels []float64) ([]*Plan, error) {
	results, err := plan.SolveLevels(ctx, &p.Instance, levels, plan.Options{Progress: p.progress})
	if err != nil && !errors.Is(err, plan.ErrInfeasible) {
		return nil, err
	}
	var out []*Plan
	for i, r := range results {
		out = append(out, p.plan(r, levels[i]))
	}
	return out, err
}

// Unlimited is the plan with no limit of money: the need.
func (p *Problem) Unlimited(ctx context.Context) (*Plan, error) {
	free := *p
	free.Instance.Budgets = slices.Clone(p.Instance.Budgets)
	for i := range free.Instance.Budgets {
		free.Instance.Budgets[i].Cents = slices.Repeat([]int64{plan.NoLimit}, p.Instance.Years)
	}
	return free.Solve(ctx)
}

// plan reads what the solver found at a share of every budget.
func (p *Problem) plan(r *plan.Result, share float64) *Plan {
	out := &Plan{
		FirstYear: p.FirstYear, AsOf: p.AsOf, CostDollars: r.Cost, BoundDollars: r.Bound, IdleDollars: r.Nothing,
		GapPct: r.GapPct(), SavingGapPct: r.SavingGapPct(), Shortfall: r.Shortfall, result: r,
	}
	if r.Shortfall != nil {
		out.Missing = p.missing(r.Shortfall, share)
	}
	if p.Limited() {
		out.OpenYears = p.openYears()
	}
	kinds := jobKinds{}
	for i, option := range r.Choice {
		c, j := &p.courses[option], &p.joints[i]
		out.FailedEnd += float64(c.failed)
		for k, s := range c.steps[:c.count] {
			year := p.FirstYear + int(s.year)
			out.Items = append(out.Items, PlanItem{j.PlanJoint, kinds.of(p.jobKind(j, c, k)), year, year - int(c.leads[k]), p.limits.tables.nights(j.treatments[s.treatment], j.lengthFt), p.charge(j, c, k)})
		}
	}
	slices.SortStableFunc(out.Items, func(a, b PlanItem) int {
		return cmp.Or(cmp.Compare(a.Year, b.Year), cmp.Compare(a.District, b.District), cmp.Compare(a.StructureNumber, b.StructureNumber), cmp.Compare(a.Tag, b.Tag))
	})
	for b, name := range p.limits.names {
		for y := range p.Instance.Years {
			if p.limits.keys[b].crew || p.limits.ended(b, p.FirstYear+y) {
				continue
			}
			limit := int64(-1)
			if r.Left[b][y] != plan.NoLimit {
				limit = r.Spent[b][y] + r.Left[b][y]
			}
			out.Years = append(out.Years, PlanYear{name, p.FirstYear + y, limit, r.Spent[b][y], r.Price[b][y], p.limits.keys[b].district != ""})
		}
	}
	out.Held, out.TargetDollars = p.held(r)
	out.Held = append(out.Held, p.heldContracts(out.Items)...)
	out.Sized = p.limits.sized(out.Items)
	return out
}

// SpentCents is all the money of a plan, own and of funds, nominal.
func (p *Plan) SpentCents() (sum money.Nominal) {
	for _, y := range p.Years {
		if !y.Part {
			sum += money.Nominal(y.SpentCents)
		}
	}
	return sum
}

// WholeBridges counts the jobs for quantities of a whole bridge and their nominal
// money, visits left aside: money to set aside, and no job that a crew could do.
func (p *Plan) WholeBridges() (jobs int, cost money.Nominal) {
	for _, i := range p.Items {
		if i.Quantity {
			jobs++
			cost += money.Nominal(i.CostCents)
		}
	}
	return jobs, cost
}

// LastYear is the last fiscal year of the plan.
func (p *Plan) LastYear() int {
	last := p.FirstYear
	for _, y := range p.Years {
		last = max(last, y.Year)
	}
	return last
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

// GiveYearly gives so much own money for each year, nominal, to a problem that has no
// limit of money: the problem is then that of PlanOptions.YearlyCents.
func (p *Problem) GiveYearly(cents int64) {
	p.Instance.Budgets[p.limits.budgets[limitKey{}]].Cents = slices.Repeat([]int64{cents}, p.Instance.Years)
}

// openYears are the fiscal years in which own money has no limit in some district
// of the plan.
func (p *Problem) openYears() (out []int) {
	limited := func(district string, y int) bool {
		b, ok := p.limits.budgets[limitKey{district: district}]
		return ok && p.Instance.Budgets[b].Cents[y] != plan.NoLimit
	}
	for y := range p.Instance.Years {
		if !limited("", y) && slices.ContainsFunc(p.joints, func(j planJoint) bool { return !limited(j.District, y) }) {
			out = append(out, p.FirstYear+y)
		}
	}
	return out
}

// OpenWords say in which years money has no limit though others have; blank: in none.
func (p *Plan) OpenWords() string {
	if len(p.OpenYears) == 0 {
		return ""
	}
	years := make([]string, len(p.OpenYears))
	for i, y := range p.OpenYears {
		years[i] = fmt.Sprint(y)
	}
	return fmt.Sprintf("NO LIMIT of money is on record for %s: there the plan spends whatever pays. Put it into the table budgets, or plan with one sum for every year", strings.Join(years, ", "))
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
