package plan

import "math/bits"

// ledger keeps what a plan costs and uses while options are exchanged.
type ledger struct {
	m        *model
	goal     *goal
	choice   []int32 // option by joint
	visitors []int32 // joints treated, by bridge*years+year
	use      []int64 // by row
	cost     float64 // running sum; total recomputes it
	exceeded int     // rows over their limit or, of a contract that is let, under their least

	// The change under consideration, set by try.
	change  float64 // cost
	rows    []int32 // rows it touches
	delta   []int64 // by row
	touched []bool
}

func newLedger(m *model, g *goal, choice []int32) *ledger {
	l := &ledger{m: m, goal: g, choice: make([]int32, len(choice))}
	l.visitors = make([]int32, len(m.bridgeID)*m.in.Years)
	l.use = make([]int64, len(g.limit))
	l.delta = make([]int64, len(g.limit))
	l.touched = make([]bool, len(g.limit))
	l.load(choice)
	return l
}

// load starts again from the options in choice.
func (l *ledger) load(choice []int32) {
	m := l.m
	l.reset()
	copy(l.choice, choice)
	clear(l.visitors)
	clear(l.use)
	l.exceeded = 0 // with nothing used, a contract that is let is short
	if l.goal.least != nil {
		l.recount()
	}
	for j, o := range l.choice {
		b := m.bridgeOf[j]
		l.addOption(o, 1)
		for y := m.years(o); y != 0; y &= y - 1 {
			year := bits.TrailingZeros32(y)
			at := int(b)*m.in.Years + year
			if l.visitors[at]++; l.visitors[at] == 1 {
				l.addVisit(b, year, 1)
			}
		}
	}
	l.commitRows()
	l.cost = l.total()
}

// total returns the cost of the plan, summed in one order.
func (l *ledger) total() float64 { return l.m.totalCost(l.choice) }

// totalCost sums the cost of options and their shared visits.
func (m *model) totalCost(choice []int32) float64 {
	sum := 0.0
	for b := range m.bridgeID {
		var years uint32
		for j := m.firstJoint[b]; j < m.firstJoint[b+1]; j++ {
			sum += m.cost[choice[j]]
			years |= m.years(choice[j])
		}
		for ; years != 0; years &= years - 1 {
			cost, _, _ := m.visit(int32(b), bits.TrailingZeros32(years))
			sum += cost
		}
	}
	return sum
}

func (l *ledger) add(row int32, n int64) {
	if !l.touched[row] {
		l.touched[row] = true
		l.rows = append(l.rows, row)
	}
	l.delta[row] += n
}

func (l *ledger) addOption(o int32, sign int64) {
	m := l.m
	for _, c := range m.money(o) {
		for _, row := range m.rows.of(c.slot) {
			l.add(row, sign*c.cents)
		}
	}
	for k := range m.in.Targets {
		l.add(int32(m.rows.firstGoal+k), sign*m.use(k, o))
	}
}

func (l *ledger) addVisit(b int32, year int, sign int64) {
	cost, cents, slot := l.m.visit(b, year)
	l.change += float64(sign) * cost
	for _, row := range l.m.rows.of(slot) {
		l.add(row, sign*cents)
	}
	if row := l.m.closure(b, year); row >= 0 {
		l.add(row, sign)
	}
}

// try considers option o for joint j: it sets change, rows and delta.
func (l *ledger) try(j, o int32) {
	m := l.m
	l.reset()
	old := l.choice[j]
	l.change = m.cost[o] - m.cost[old]
	l.addOption(old, -1)
	l.addOption(o, 1)
	b := m.bridgeOf[j]
	at := int(b) * m.in.Years
	from, to := m.years(old), m.years(o)
	for y := from &^ to; y != 0; y &= y - 1 {
		if year := bits.TrailingZeros32(y); l.visitors[at+year] == 1 {
			l.addVisit(b, year, -1)
		}
	}
	for y := to &^ from; y != 0; y &= y - 1 {
		if year := bits.TrailingZeros32(y); l.visitors[at+year] == 0 {
			l.addVisit(b, year, 1)
		}
	}
}

// tryBridge considers options for all joints of bridge b: it sets change, rows and
// delta.
func (l *ledger) tryBridge(b int32, options []int32) {
	m := l.m
	l.reset()
	first := m.firstJoint[b]
	var from, to uint32
	for i, o := range options {
		old := l.choice[int(first)+i]
		from |= m.years(old)
		to |= m.years(o)
		if o != old {
			l.change += m.cost[o] - m.cost[old]
			l.addOption(old, -1)
			l.addOption(o, 1)
		}
	}
	for y := from &^ to; y != 0; y &= y - 1 {
		l.addVisit(b, bits.TrailingZeros32(y), -1)
	}
	for y := to &^ from; y != 0; y &= y - 1 {
		l.addVisit(b, bits.TrailingZeros32(y), 1)
	}
}

// acceptBridge makes the change that was last tried with tryBridge.
func (l *ledger) acceptBridge(b int32, options []int32) {
	m := l.m
	first, at := m.firstJoint[b], int(b)*m.in.Years
	clear(l.visitors[at : at+m.in.Years])
	for i, o := range options {
		l.choice[int(first)+i] = o
		for y := m.years(o); y != 0; y &= y - 1 {
			l.visitors[at+bits.TrailingZeros32(y)]++
		}
	}
	l.cost += l.change
	l.commitRows()
}

func (l *ledger) reset() {
	for _, r := range l.rows {
		l.touched[r], l.delta[r] = false, 0
	}
	l.rows = l.rows[:0]
	l.change = 0
}

// fits reports whether the change under consideration exceeds no limit further.
func (l *ledger) fits() bool {
	for _, r := range l.rows {
		if d := l.delta[r]; d > 0 && l.use[r]+d > l.goal.limit[r] || d < 0 && l.goal.least != nil && l.use[r]+d < l.goal.least[r] {
			return false
		}
	}
	return true
}

// excess returns by how much the change raises the weighted excess over the limits.
func (l *ledger) excess(weight []float64) float64 {
	sum := 0.0
	for _, r := range l.rows {
		d := l.delta[r]
		if d == 0 {
			continue
		}
		before := l.goal.over(int(r), l.use[r])
		after := l.goal.over(int(r), l.use[r]+d)
		if after != before {
			sum += weight[r] * float64(after-before)
		}
	}
	return sum
}

// accept makes the change that was last tried: option o for joint j.
func (l *ledger) accept(j, o int32) {
	m := l.m
	at := int(m.bridgeOf[j]) * m.in.Years
	from, to := m.years(l.choice[j]), m.years(o)
	for y := from &^ to; y != 0; y &= y - 1 {
		l.visitors[at+bits.TrailingZeros32(y)]--
	}
	for y := to &^ from; y != 0; y &= y - 1 {
		l.visitors[at+bits.TrailingZeros32(y)]++
	}
	l.choice[j] = o
	l.cost += l.change
	l.commitRows()
}

func (l *ledger) commitRows() {
	for _, r := range l.rows {
		if l.goal.over(int(r), l.use[r]) > 0 {
			l.exceeded--
		}
		if l.use[r] += l.delta[r]; l.goal.over(int(r), l.use[r]) > 0 {
			l.exceeded++
		}
	}
	l.reset()
}

// value returns the goal at the plan: its cost and penalties. It is +Inf when a
// limit that must be kept strictly is not.
func (l *ledger) value() float64 {
	v := 0.0
	if l.goal.costScale != 0 {
		v = l.goal.costScale * l.total()
	}
	for r, n := range l.use {
		if over := l.goal.over(r, n); over > 0 {
			v += l.goal.penalty[r] * float64(over)
		}
	}
	return v + l.contractPenalty()
}
