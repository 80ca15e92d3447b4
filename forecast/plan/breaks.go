package plan

import "slices"

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
