package forecast

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/uptrace/bun"

	"reseal/forecast/money"
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
)

// WorkItem is one joint on a work list.
type WorkItem struct {
	Part            Part
	Rank            int // from 1; 0 for an urgent item
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
	CumulativeCents int64 // nominal: what this item and all that rank above it cost together

	FailedProbability float64 // of having failed by the end of the list's year
	ConsequenceAYear  float64 // dollars a year that a failed seal costs
	AvoidedPerDollar  float64 // what the ranking goes by, see NewWorkList
	ReplaceYear       int     // 0: beyond the horizon
	EarlyYear         int
	LateYear          int

	FoundOn inventory.Date // of an urgent item's oldest finding
	Reason  string
	Notes   string // warranty, bridge projects, what is assumed; separated by semicolons

	severe   bool
	bridgeID int64
	costs    money.UnitCosts // at the prices of the list's year
}

// WorkList is the ranked list of one year.
type WorkList struct {
	Year         int
	PriceYear    int        // of the dollars in AvoidedPerDollar
	Urgent       []WorkItem // one for each joint, severe ones and the oldest finding first
	Ranked       []WorkItem // by rank, those below the line included
	Line         int        // how many of Ranked the budget reaches
	BudgetCents  int64      // nominal; 0: none given
	SpentCents   int64      // nominal, above the line
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

// NewWorkList ranks the renewals of a fiscal year. A joint is a candidate when
// the probability F that its seal has failed by the end of the year is at least
// the setting worklist_probability. Candidates are ranked by the expected cost
// avoided per dollar,
//
//	F × (dollars a year that a failed seal costs) / (cost of its treatment)
//
// which counts one year of the failed state: the price of leaving the joint
// alone for the year. The cost is that of the treatment for its seal kind with
// the bridge visit shared by all candidates of the bridge, in constant dollars
// of the present fiscal year, at which the consequences are taken to be stated
// too. Ties go by tag.
//
// The line is drawn at the first item that would take the sum over the budget:
// what ranks below it waits, also where it is cheaper. Above the line visits
// are shared among the items above it only, so that their costs add up to what
// will be paid.
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
	err := m.eachBridge(ctx, db, o.Options, func(joints []Projected) error { return m.addBridge(w, joints, o.AsOf) })
	if err != nil {
		return nil, err
	}
	return w, w.rank()
}

// rank puts both parts in order and draws the line.
func (w *WorkList) rank() error {
	slices.SortFunc(w.Urgent, func(a, b WorkItem) int {
		return cmp.Or(trueFirst(a.severe, b.severe), cmp.Compare(a.FoundOn.String(), b.FoundOn.String()), cmp.Compare(a.Tag, b.Tag))
	})
	slices.SortFunc(w.Ranked, func(a, b WorkItem) int {
		return cmp.Or(cmp.Compare(b.AvoidedPerDollar, a.AvoidedPerDollar), cmp.Compare(a.Tag, b.Tag))
	})
	return w.drawLine()
}

// addBridge adds the candidates and the urgent joints of one bridge.
func (m *Model) addBridge(w *WorkList, joints []Projected, asOf inventory.Date) error {
	var items []WorkItem
	for _, j := range joints {
		w.Joints++
		if len(j.Findings) > 0 {
			w.Urgent = append(w.Urgent, urgentItem(j.Record, asOf))
		}
		switch {
		case j.Forecast == nil:
			w.NoForecast[j.Reason]++
			continue
		case j.FailedBy(w.Year) < m.tables.Settings.WorkListProbability:
			continue
		case j.LengthFt == 0:
			w.NoLength++
			continue
		}
		item, err := m.candidate(w, j)
		if err != nil {
			return err
		}
		items = append(items, item)
	}
	constant, err := m.share(items, w.PriceYear)
	if err != nil {
		return err
	}
	for i := range items {
		items[i].AvoidedPerDollar = 0
		if constant[i] > 0 {
			items[i].AvoidedPerDollar = items[i].FailedProbability * items[i].ConsequenceAYear / (float64(constant[i]) / 100)
		}
	}
	w.Ranked = append(w.Ranked, items...)
	return nil
}

func newItem(p Part, r *Record) WorkItem {
	b := &r.Bridge
	return WorkItem{
		Part: p, Tag: r.Tag, Label: r.Label, State: b.State, StructureNumber: b.StructureNumber, Route: b.Route, Milepost: b.Milepost,
		District: b.District, County: b.County, FacilityCarried: b.FacilityCarried, FeatureCrossed: b.FeatureCrossed,
		Place: r.Place, Geom: r.Geom, LengthFt: r.LengthFt, Lanes: r.Lanes, bridgeID: b.ID,
	}
}

func (m *Model) candidate(w *WorkList, j Projected) (WorkItem, error) {
	item := newItem(Ranked, j.Record)
	t, err := m.tables.TreatmentFor(j.Kind)
	if err != nil {
		return item, err
	}
	item.Kind, item.Treatment = j.Kind, t.Name
	item.FailedProbability = j.FailedBy(w.Year)
	item.ConsequenceAYear = m.tables.ConsequenceAYear(j.LengthFt, j.Bridge.Deicing, j.Bridge.VehiclesADay)
	item.ReplaceYear, item.EarlyYear, item.LateYear = j.ReplaceYear, j.EarlyYear, j.LateYear
	item.Reason, item.Notes = why(j, item, w.Year), m.notes(j, w.Year)
	if j.Bridge.Deicing == "" {
		w.NoDeicing++
	}
	item.costs, err = t.costs(m.tables.Settings.Prices(), w.Year)
	return item, err
}

// share prices items of one bridge as one visit, in cents at the prices of a
// year.
func (m *Model) share(items []WorkItem, year int) ([]int64, error) {
	jobs := make([]money.Job, len(items))
	for i := range items {
		var err error
		jobs[i] = items[i].job()
		if jobs[i].Costs, err = jobs[i].Costs.AtYear(m.tables.Settings.Prices(), year); err != nil {
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

// drawLine ranks the items, adds up their costs and draws the line.
func (w *WorkList) drawLine() error {
	visits := map[int64][]int{} // ranked items by bridge
	spent := map[int64]int64{}  // by bridge
	total := int64(0)
	w.Line = len(w.Ranked)
	for i := range w.Ranked {
		item := &w.Ranked[i]
		item.Rank = i + 1
		b := item.bridgeID
		visits[b] = append(visits[b], i)
		cost, err := w.reprice(visits[b])
		if err != nil {
			return err
		}
		total += cost - spent[b]
		spent[b] = cost
		item.CumulativeCents = total
		if w.BudgetCents > 0 && total > w.BudgetCents {
			w.Line = min(w.Line, i)
		}
	}
	// Above the line the visits are those above it; below, all of the bridge's.
	for _, all := range visits {
		cut, _ := slices.BinarySearch(all, w.Line)
		if _, err := w.reprice(all[:cut]); err != nil {
			return err
		}
	}
	for i := range w.Ranked {
		if i < w.Line {
			w.SpentCents = w.Ranked[i].CumulativeCents
		} else {
			w.Ranked[i].Part = BelowLine
		}
	}
	return nil
}

// reprice shares one visit among ranked items and returns what it costs.
func (w *WorkList) reprice(which []int) (int64, error) {
	jobs := make([]money.Job, len(which))
	for k, i := range which {
		jobs[k] = w.Ranked[i].job()
	}
	costs, err := price(jobs, w.Year)
	if err != nil {
		return 0, err
	}
	sum := int64(0)
	for k, i := range which {
		w.Ranked[i].CostCents = costs[k]
		sum += costs[k]
	}
	return sum, nil
}

// why says in plain words what puts the joint on the list.
func why(j Projected, item WorkItem, year int) string {
	words := fmt.Sprintf("%.0f %% likely to have failed by the end of %d", 100*item.FailedProbability, year)
	if look := j.latestLook(); look != nil && j.Since == look.On && j.NowFailed > 0.999 && len(j.OutOfRange) == 0 {
		shares, _ := look.shares()
		words = fmt.Sprintf("failed: %.0f %% of its length in CS4 when inspected %s", 100*shares[3], look.On)
	}
	if driver := j.Driver(j.Years[len(j.Years)-1]); driver != "" {
		words += "; " + driver
	}
	water := j.Bridge.Deicing
	if water == "" {
		water = AssumedDeicing
	}
	words += fmt.Sprintf("; a failed seal costs about $%s a year (deicing %s", money.FormatDollars(int64(100*item.ConsequenceAYear)), water)
	if j.Bridge.VehiclesADay > 0 {
		words += fmt.Sprintf(", %s vehicles a day", money.FormatDollars(100*int64(j.Bridge.VehiclesADay)))
	}
	return words + ")"
}

// notes are what else a planner must know before sending a crew.
func (m *Model) notes(j Projected, year int) string {
	var notes []string
	for i := range j.Stretches {
		s := j.Stretches[i].sealOn(j.AsOf)
		if s != nil && !s.WarrantyUntil.IsZero() && !s.WarrantyUntil.Before(m.endOf(year-1)) {
			notes = append(notes, fmt.Sprintf("under warranty until %s: claim first", s.WarrantyUntil))
			break
		}
	}
	for _, p := range j.Projects {
		notes = append(notes, fmt.Sprintf("%s committed for %d", p.Kind, p.Year))
	}
	if len(j.Findings) > 0 {
		notes = append(notes, "has an open severe finding or plate, see the urgent part")
	}
	if j.Quantity {
		notes = append(notes, "a quantity for the whole bridge: find its joints first")
	}
	if j.Bridge.Deicing == "" {
		notes = append(notes, "deicing not on record, "+AssumedDeicing+" assumed")
	}
	return strings.Join(notes, "; ")
}

// urgentItem lists the open findings of a joint, the oldest first.
func urgentItem(r *Record, asOf inventory.Date) WorkItem {
	item := newItem(Urgent, r)
	item.FoundOn, item.Notes = r.Findings[0].FoundOn, "needs an engineer's review"
	var out []string
	for _, f := range r.Findings {
		words := f.Kind
		if f.Urgency == severe {
			item.severe, words = true, "severe: "+f.Kind
		}
		days := int(asOf.Time().Sub(f.FoundOn.Time()).Hours() / 24)
		out = append(out, fmt.Sprintf("%s, open %d d since %s", words, days, f.FoundOn))
	}
	item.Reason = strings.Join(out, "; ")
	return item
}

// severe is the urgency that needs an engineer's review.
const severe = "severe"

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
