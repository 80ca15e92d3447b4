package forecast

import (
	"context"
	"slices"

	"github.com/uptrace/bun"
)

// In is the list's part in a district or on a route, or both, with its own line
// at a budget in nominal cents; blank is everywhere, and 0 draws no line. Ranking
// and costs are those that a list of that part alone would have, since the joints
// of a bridge stay together. What was left out and why is still told of the
// whole. The list itself is left alone.
func (w *WorkList) In(district, route string, budgetCents int64) (*WorkList, error) {
	there := func(d, r string) bool { return (district == "" || d == district) && (route == "" || r == route) }
	part := func(items []WorkItem) (out []WorkItem) {
		for _, i := range items {
			if there(i.District, i.Route) {
				out = append(out, i)
			}
		}
		return out
	}
	out := *w
	out.BudgetCents, out.SpentCents = budgetCents, 0
	out.Urgent, out.Ranked, out.Whole, out.Packages, out.Swaps = part(w.Urgent), part(w.Ranked), part(w.Whole), nil, nil
	out.Overrides = slices.DeleteFunc(slices.Clone(w.Overrides), func(o Override) bool { return !there(o.District, o.Route) })
	return &out, out.rank()
}

// Bought is what the money above the line brings.
type Bought struct {
	Joints, Bridges   int
	Feet              float64
	WaitDollars       float64 // cost of leaving all of it a year, constant dollars of the list's PriceYear
	FailedDaysAvoided float64 // expected days failed that it avoids within a year
	NextCents         int64   // nominal: what is missing for the first item below the line; 0: nothing is below
}

// Buys adds up what is above the line.
func (w *WorkList) Buys() (b Bought) {
	bridges := map[int64]bool{}
	for i := range w.Ranked[:w.Line] {
		item := &w.Ranked[i]
		bridges[item.bridgeID] = true
		b.Feet += item.LengthFt
		b.WaitDollars += item.WaitDollars
		b.FailedDaysAvoided += item.FailedDaysAvoided
	}
	b.Joints, b.Bridges = w.Line, len(bridges)
	if w.Line < len(w.Ranked) {
		b.NextCents = w.Ranked[w.Line].CumulativeCents - w.BudgetCents
	}
	return b
}

// Tags are the joints above the line, in their order.
func (w *WorkList) Tags() []string {
	tags := make([]string, w.Line)
	for i := range tags {
		tags[i] = w.Ranked[i].Tag
	}
	return tags
}

// PlanNames lists the plans on record, the latest first.
func PlanNames(ctx context.Context, db bun.IDB) (names []string, err error) {
	err = db.NewRaw("SELECT name FROM plans ORDER BY id DESC").Scan(ctx, &names)
	return names, err
}
