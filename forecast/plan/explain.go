package plan

import (
	"fmt"
	"math"
	"math/bits"
)

// Explanation tells why a joint is or is not in the plan, and when: what each year
// would change, all other joints left as planned.
type Explanation struct {
	Joint  int32
	Chosen int32 // option
	Years  []YearReason
}

// YearReason is the best that could be done with the joint instead in one year (an
// option whose first visit is in that year), or not at all.
type YearReason struct {
	Year   int // -1 for nothing at all
	Option int32
	Chosen bool // this is what the plan does
	// Cost is the change of the plan's expected discounted cost, dollars, visits
	// shared with the bridge's other joints.
	Cost float64
	// Priced is Cost with the change in money, closures and targets at their
	// prices: how much worse for the network as a whole. Near zero, the choice was
	// close; below zero, money in whole lumps stood in the way.
	Priced float64
	// Blocked names the first limit that the change would exceed, "" if none.
	Blocked string
}

// Explain returns the reasons for joint, which must be a joint of the instance. The
// options looked at are those that the rules allow; a year without one is left out.
func (r *Result) Explain(joint int32) (Explanation, error) {
	m := r.model
	if joint < 0 || int(joint) >= len(r.Choice) {
		return Explanation{}, fmt.Errorf("%w: joint %d of %d", ErrInvalid, joint, len(r.Choice))
	}
	g := &goal{costScale: 1, limit: r.limit, penalty: make([]float64, len(r.limit))}
	l := newLedger(m, g, r.plan)
	j := int32(0)
	for m.jointID[j] != joint {
		j++
	}
	best := make([]YearReason, m.in.Years+1)
	for i := range best {
		best[i] = YearReason{Year: i - 1, Priced: math.Inf(1)}
	}
	for o, last := m.options(j); o < last; o++ {
		year := -1
		if years := m.years(o); years != 0 {
			year = bits.TrailingZeros32(years)
		}
		l.try(j, o)
		reason := r.reason(l, year, o)
		reason.Chosen = o == l.choice[j]
		if now := &best[year+1]; !now.Chosen && (reason.Chosen || reason.Priced < now.Priced) {
			*now = reason
		}
	}
	e := Explanation{Joint: joint, Chosen: r.Choice[joint]}
	for _, reason := range best {
		if !math.IsInf(reason.Priced, 1) {
			e.Years = append(e.Years, reason)
		}
	}
	return e, nil
}

// reason rates the change under consideration in l.
func (r *Result) reason(l *ledger, year int, o int32) YearReason {
	y := YearReason{Year: year, Option: r.model.optionID[o], Cost: l.change, Priced: l.change}
	first := int32(math.MaxInt32)
	for _, row := range l.rows {
		d := l.delta[row]
		y.Priced += r.u[row] * float64(d)
		if d > 0 && l.use[row]+d > r.limit[row] && row < first {
			first = row
		}
	}
	if first != math.MaxInt32 {
		y.Blocked = r.model.rowName(int(first))
	}
	return y
}

// rowName names a limit for people.
func (m *model) rowName(row int) string {
	in := m.in
	if row >= m.rows.firstGoal {
		return fmt.Sprintf("target %q", in.Targets[row-m.rows.firstGoal].Name)
	}
	if row >= m.rows.budgets {
		row -= m.rows.budgets
		return fmt.Sprintf("closures %q year %d", in.Closures[row/in.Years].Name, row%in.Years)
	}
	return fmt.Sprintf("budget %q year %d", in.Budgets[row/in.Years].Name, row%in.Years)
}
