package forecast

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"github.com/uptrace/bun"

	"reseal/forecast/money"
	"reseal/forecast/strategy"
	"reseal/geo"
	"reseal/inventory"
	"reseal/inventory/store"
)

// Part is where a work item stands on the list.
type Part string

// The parts of a work list, in order.
const (
	Urgent    Part = "urgent"         // an open severe finding or a plate: for an engineer, apart from the ranking
	Ranked    Part = "ranked"         // within the budget, where one is given
	BelowLine Part = "below the line" // what the budget does not reach
	Whole     Part = "whole bridge"   // known only as a quantity: its joints are to be found first
)

// WorkItem is one joint on a work list.
type WorkItem struct {
	Part            Part
	Rank            int // from 1; 0 for one apart from the ranking
	Tag             string
	Label           string
	State           string
	StructureNumber string
	Route           string
	Milepost        *float64
	District        string
	County          string
	FacilityCarried string
	FeatureCrossed  string
	Place           string
	Geom            geo.Geometry

	Kind      string // seal kind
	Treatment string
	LengthFt  float64 // along the joint
	Lanes     int     // lanes to be closed in turn; 0: not on record

	CostCents       int64 // nominal dollars of the list's year; the visit shared with the bridge's other items of this part
	CumulativeCents int64 // nominal: what this item and all that stand before it cost together

	WaitDollars       float64 // cost of waiting one year, constant dollars of PriceYear
	WaitPerDollar     float64 // of the treatment's cost in the same dollars: what the ranking goes by
	BestYear          int     // fiscal, with no limit of money; 0: beyond the horizon
	StopsPaying       int     // the first year in which waiting costs; 0: beyond the horizon
	FailedDaysAvoided float64 // expected days failed that not waiting a year avoids
	PinnedYear        bool    // a person put it on this year's list

	FailedProbability float64 // of having failed by the end of the list's year
	ConsequenceAYear  float64 // dollars a year that a failed seal costs
	AvoidedPerDollar  float64 // the simple ratio: probability × consequence / cost
	ReplaceYear       int     // 0: beyond the horizon
	EarlyYear         int
	LateYear          int

	FoundOn inventory.Date // of an urgent item's oldest finding
	Reason  string
	Notes   string // warranty, bridge projects, what is assumed; separated by semicolons

	severe   bool
	jointID  int64
	bridgeID int64
	costs    money.UnitCosts // at the prices of the list's year
	decided  []Decision
}

// WorkList is the ranked list of one year.
type WorkList struct {
	Year         int
	PriceYear    int        // of the dollars in WaitDollars
	Urgent       []WorkItem // one for each joint, severe ones and the oldest finding first
	Ranked       []WorkItem // what the budget reaches by rank, then the others by rank
	Line         int        // how many of Ranked the budget reaches
	Whole        []WorkItem // quantities for a whole bridge, the largest expected harm of a failed year first
	BudgetCents  int64      // nominal; 0: none given
	SpentCents   int64      // nominal, above the line
	Packages     []Package  // above the line, bridges with more than one joint
	Swaps        []Swap     // that would cost least to change the line
	Overrides    []Override // what people decided, and its price
	WaitingPays  int        // likely to have failed, but cheaper to leave another year
	ByProject    int        // left to a committed bridge project
	ByWarranty   int        // left to a claim under warranty, see Claim, likely to fail or not
	Joints       int        // looked at
	NoForecast   map[Reason]int
	NoLength     int      // candidates left out because their length is not on record
	NoDeicing    int      // items for which AssumedDeicing stands in
	Illustrative []string // tables that still hold starting values
}

// WorkListOptions choose what is listed.
type WorkListOptions struct {
	Options
	Year        int   // the fiscal year of the work
	BudgetCents int64 // nominal dollars of the year; 0: no line is drawn
}

// NewWorkList ranks the work of a fiscal year. A joint is a candidate when the
// probability F that its seal has failed by the end of the year is at least the
// setting worklist_probability and waiting another year costs money. Candidates
// are ranked by the cost of waiting one year per dollar spent: the treatment of
// least expected cost in the list's year exactly one year later with the same
// follow-up, less in the year (package strategy). The dollars spent are those of
// the treatment with the bridge visit shared by all candidates of the bridge.
// Both are constant dollars of the present fiscal year, at which the
// consequences are taken to be stated too. Ties go by tag.
//
// What people pinned to the year stands before the ranked; what they hold or
// exclude is left out; Overrides tells the price of each.
//
// The budget goes to the items by rank; one that costs more than is left is
// passed over for the next that fits, and stands below the line. Above the line
// visits are shared among the items above it only, so that their costs add up to
// what will be paid.
//
// A quantity for a whole bridge is no job that a crew could do: it stands apart
// and takes no money.
func (m *Model) NewWorkList(ctx context.Context, db bun.IDB, o WorkListOptions) (*WorkList, error) {
	now := m.YearOf(o.AsOf)
	if o.Year < now || o.Year > now+60 {
		return nil, store.Invalid(fmt.Sprintf("give a fiscal year from %d to %d", now, now+60), "there is no work list for %d", o.Year)
	}
	w := &WorkList{
		Year: o.Year, PriceYear: now, BudgetCents: o.BudgetCents,
		NoForecast: map[Reason]int{}, Illustrative: m.tables.Illustrative(),
	}
	o.ThroughYear = max(m.Through(o.Options), o.Year)
	o.prospecting = m.listing(o.Year)
	err := m.eachBridge(ctx, db, o.Options, func(joints []Projected) error { return m.addBridge(w, joints, o.AsOf) })
	if err != nil {
		return nil, err
	}
	return w, w.rank()
}

// listing asks for the strategies of the candidates of a year.
func (m *Model) listing(year int) *prospecting {
	return &prospecting{firstYear: year, years: min(int(m.tables.Settings.HorizonYears), maxPlanYears), wanted: func(j *Projected) bool {
		pin := j.decided(Pin)
		return j.FailedBy(year) >= m.tables.Settings.WorkListProbability || pin != nil && pin.Year == year
	}}
}

// rank puts both parts in order and draws the line.
func (w *WorkList) rank() error {
	slices.SortFunc(w.Urgent, func(a, b WorkItem) int {
		return cmp.Or(trueFirst(a.severe, b.severe), cmp.Compare(a.FoundOn.String(), b.FoundOn.String()), cmp.Compare(a.Tag, b.Tag))
	})
	slices.SortFunc(w.Whole, func(a, b WorkItem) int {
		return cmp.Or(cmp.Compare(b.FailedProbability*b.ConsequenceAYear, a.FailedProbability*a.ConsequenceAYear), cmp.Compare(a.Tag, b.Tag))
	})
	slices.SortFunc(w.Ranked, func(a, b WorkItem) int {
		return cmp.Or(trueFirst(a.PinnedYear, b.PinnedYear), cmp.Compare(b.WaitPerDollar, a.WaitPerDollar), cmp.Compare(a.Tag, b.Tag))
	})
	return w.drawLine()
}

// addBridge adds the candidates and the urgent joints of one bridge.
func (m *Model) addBridge(w *WorkList, joints []Projected, asOf inventory.Date) error {
	var items []WorkItem
	for _, j := range joints {
		w.Joints++
		if len(j.Urgent()) > 0 {
			item, err := urgentItem(j.Record, asOf)
			if err != nil {
				return err
			}
			w.Urgent = append(w.Urgent, item)
		}
		if pin := j.decided(Pin); j.claimed(asOf) && (pin == nil || pin.Year != w.Year) {
			w.ByWarranty++
		}
		switch {
		case j.Forecast == nil:
			w.NoForecast[j.Reason]++
			continue
		case j.LengthFt == 0 && j.FailedBy(w.Year) >= m.tables.Settings.WorkListProbability:
			w.NoLength++
			continue
		case j.Prospect == nil:
			continue
		}
		item, listed, err := m.candidate(w, j)
		if err != nil {
			return err
		}
		switch {
		case listed && j.Quantity:
			item.Part = Whole
			w.Whole = append(w.Whole, item)
		case listed:
			items = append(items, item)
		}
	}
	constant, err := m.share(items, w.PriceYear)
	if err != nil {
		return err
	}
	for i := range items {
		if constant[i] > 0 {
			cost := float64(constant[i]) / 100
			items[i].WaitPerDollar = items[i].WaitDollars / cost
			items[i].AvoidedPerDollar = items[i].FailedProbability * items[i].ConsequenceAYear / cost
		}
	}
	w.Ranked = append(w.Ranked, items...)
	return nil
}

func newItem(p Part, r *Record) (WorkItem, error) {
	b := &r.Bridge
	geom, err := r.Geometry()
	return WorkItem{
		Part: p, Tag: r.Tag, Label: r.Label, State: b.State, StructureNumber: b.StructureNumber, Route: b.Route, Milepost: b.Milepost,
		District: b.District, County: b.County, FacilityCarried: b.FacilityCarried, FeatureCrossed: b.FeatureCrossed,
		Place: r.Place, Geom: geom, LengthFt: r.LengthFt, Lanes: r.Lanes, jointID: r.ID, bridgeID: b.ID,
	}, err
}

// candidate is the joint's item; listed is false where it does not belong on
// the list, and then w counts why.
func (m *Model) candidate(w *WorkList, j Projected) (item WorkItem, listed bool, err error) {
	p := j.Prospect
	best, can := p.BestIn(0)
	pin := j.decided(Pin)
	pinned := pin != nil && pin.Year == w.Year
	work := best
	if pinned && pin.Treatment != "" {
		work.Treatment = p.index(pin.Treatment)
	}
	if pinned {
		if work.Dollars, can = p.outright(work.Treatment, 0); can {
			work.Wait, can = p.Wait(work.Treatment, 0)
		}
	}
	w.override(j, best, work, can)
	switch {
	case !pinned && j.claimed(j.AsOf): // counted in addBridge
		return item, false, nil
	case p.project == 0, !pinned && p.leftToProject(work):
		w.ByProject++
		return item, false, nil
	case !can, !pinned && m.heldBack(j.Record, w.Year):
		return item, false, nil
	case !pinned && work.Wait <= 0:
		w.WaitingPays++
		return item, false, nil
	}
	if item, err = newItem(Ranked, j.Record); err != nil {
		return item, false, err
	}
	t := p.Treatments[work.Treatment]
	item.Kind, item.Treatment, item.PinnedYear, item.decided = j.Kind, t.Name, pinned, j.Decided
	item.WaitDollars, item.StopsPaying = work.Wait, p.StopsPaying(work.Treatment)
	if ever, ok := p.Best(); ok {
		item.BestYear = p.FirstYear + ever.Year
	}
	if t.effect() != strategy.Nothing {
		item.FailedDaysAvoided = 365.25 * p.now.FailedYears(0.5, 1.5)
	}
	item.FailedProbability = j.FailedBy(w.Year)
	item.ConsequenceAYear = p.Consequence
	item.ReplaceYear, item.EarlyYear, item.LateYear = j.ReplaceYear, j.EarlyYear, j.LateYear
	item.Reason, item.Notes = m.why(j, item, w.Year), m.notes(j, w.Year)
	if j.Bridge.Deicing == "" {
		w.NoDeicing++
	}
	item.costs, err = p.Costs[work.Treatment].AtYear(m.tables.Prices, w.Year)
	return item, true, err
}

// heldBack tells whether people keep the joint off a year's list, by excluding
// it, by holding it or by pinning it to another year.
func (m *Model) heldBack(r *Record, year int) bool {
	hold, pin := r.decided(Hold), r.decided(Pin)
	return r.decided(Exclude) != nil || hold != nil && year < hold.Year || pin != nil && pin.Year != year
}

// share prices items of one bridge as one visit, in cents at the prices of a
// year.
func (m *Model) share(items []WorkItem, year int) ([]int64, error) {
	jobs := make([]money.Job, len(items))
	for i := range items {
		var err error
		jobs[i] = items[i].job()
		if jobs[i].Costs, err = jobs[i].Costs.AtYear(m.tables.Prices, year); err != nil {
			return nil, err
		}
	}
	return price(jobs, year)
}

func (i *WorkItem) job() money.Job {
	return money.Job{Joint: i.Tag, LengthFt: i.LengthFt, Costs: i.costs}
}

// price is the cost of each job of one visit, at the prices that the jobs have.
func price(jobs []money.Job, year int) ([]int64, error) {
	estimates, err := money.Visit{Jobs: jobs, Year: year}.Estimates()
	if err != nil {
		return nil, err
	}
	out := make([]int64, len(estimates))
	for i, e := range estimates {
		out[i] = int64(e.Nominal)
	}
	return out, nil
}

// trueFirst compares with true before false.
func trueFirst(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return -1
	}
	return 1
}
