package plan

import (
	"fmt"
	"math"
	"math/bits"
	"slices"
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
	// Blocked names the first limit that the change would exceed, or a contract that
	// would come to less than its least; "" if none.
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
	if c := r.model.breaks(l); c != nil {
		y.Blocked = fmt.Sprintf("contract %q year %d", r.model.in.Contracts[c.contract].Name, c.year)
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

// breaks returns the first contract that the change under consideration would let for
// less than its least, or nil.
func (m *model) breaks(l *ledger) *contractYear {
	for k := range m.rows.contracts {
		c := &m.rows.contracts[k]
		changed, some, short := false, false, false
		for i, r := range c.rows {
			after := l.use[r] + l.delta[r]
			changed = changed || l.delta[r] != 0
			some = some || after > 0
			short = short || after < c.least[i]
		}
		if changed && some && short {
			return c
		}
	}
	return nil
}

// BreaksContract lists the options of a joint, all others left as planned, that would
// let a contract for less than its least, with the contract.
func (r *Result) BreaksContract(joint int32) map[int32]int {
	m := r.model
	broken := map[int32]int{}
	if len(m.rows.contracts) == 0 {
		return broken
	}
	l := newLedger(m, &goal{costScale: 1, limit: r.limit, penalty: make([]float64, len(r.limit))}, r.plan)
	j := int32(slices.Index(m.jointID, joint))
	for o, last := m.options(j); o < last; o++ {
		l.try(j, o)
		if c := m.breaks(l); c != nil {
			broken[m.optionID[o]] = c.contract
		}
	}
	return broken
}
