package plan

import (
	"math"
	"math/bits"
	"slices"
)

// hopeless marks the options that no plan which keeps the strict limits of a goal can
// hold. A joint of which no other option is left keeps all.
func (m *model) hopeless(g *goal) []bool {
	marked := m.tooMuch(g)
	m.narrow(g, marked)
	m.keepAll(marked)
	return marked
}

// narrow marks the options that the contracts leave no place for, and reports whether
// any plan could be left.
func (m *model) narrow(g *goal, marked []bool) bool {
	if len(m.in.Contracts) == 0 {
		return true
	}
	f := newFiller(m, g, marked)
	for more, round := true, 0; more && round < narrowRounds; round++ {
		more = false
		f.forget()
		for k := range m.in.Contracts {
			more = f.contract(k) || more
		}
		more = f.held && f.others() || more
	}
	for j := range m.jointID {
		first, last := m.options(int32(j))
		f.stuck = f.stuck || !slices.Contains(marked[first:last], false)
	}
	return !f.stuck
}

// narrowRounds is how often the contracts are looked at again, with the options left.
const narrowRounds = 5

// keepAll takes the marks off joints of which no option is left.
func (m *model) keepAll(marked []bool) {
	for j := range m.jointID {
		first, last := m.options(int32(j))
		if !slices.Contains(marked[first:last], false) {
			clear(marked[first:last])
		}
	}
}

// tooMuch marks the options that alone, with the visits they need, exceed a limit
// that must be kept.
func (m *model) tooMuch(g *goal) []bool {
	marked := make([]bool, len(m.optionID))
	l := newLedger(m, g, m.idle())
	for j, b := range m.bridgeOf {
		first, last := m.options(int32(j))
		for o := first; o < last; o++ {
			l.addOption(o, 1)
			for y := m.years(o); y != 0; y &= y - 1 {
				l.addVisit(b, bits.TrailingZeros32(y), 1)
			}
			for _, r := range l.rows {
				if l.delta[r] > g.limit[r] && math.IsInf(g.penalty[r], 1) {
					marked[o] = true
				}
			}
			l.reset()
		}
	}
	return marked
}
