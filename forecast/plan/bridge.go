package plan

import (
	"cmp"
	"math"
	"math/bits"
	"slices"
)

// prices turn an option into one sum of dollars: its cost and what its money,
// visits and targets use up at the multiplier of each row.
type prices struct {
	costScale float64   // 1, or 0 when only the limits count
	slot      []float64 // dollars per cent in an account and year
	row       []float64 // dollars per unit of a row
}

// setPrices fills p from the multipliers of the rows.
func (m *model) setPrices(p *prices, multipliers []float64, costScale float64) {
	p.costScale, p.row = costScale, multipliers
	slots := len(m.rows.slotFirst) - 1
	p.slot = slices.Grow(p.slot[:0], slots)[:slots]
	for s := range p.slot {
		sum := 0.0
		for _, r := range m.rows.of(int32(s)) {
			sum += multipliers[r]
		}
		p.slot[s] = sum
	}
}

// priced returns the priced cost of option o without its visits.
func (m *model) priced(p *prices, o int32) float64 {
	v := p.costScale * m.cost[o]
	for _, c := range m.charges[m.firstCharge[o]:m.firstCharge[o+1]] {
		if c.slot >= 0 {
			v += p.slot[c.slot] * float64(c.cents)
		}
	}
	for k := range m.in.Targets {
		if w := p.row[m.rows.firstGoal+k]; w != 0 {
			v += w * float64(m.use(k, o))
		}
	}
	return v
}

// pricedVisit returns the priced cost of a visit to bridge b in a year.
func (m *model) pricedVisit(p *prices, b int32, year int) float64 {
	cost, cents, slot := m.visit(b, year)
	v := p.costScale * cost
	if slot >= 0 {
		v += p.slot[slot] * float64(cents)
	}
	if r := m.closure(b, year); r >= 0 {
		v += p.row[r]
	}
	return v
}

// Search effort for one bridge. Up to exactJoints joints the search always runs to
// the end; beyond, it stops after largeNodes nodes and the bound counts what is left.
const (
	exactJoints = 8
	largeNodes  = 200
)

// bridgeSolver finds the cheapest options of one bridge at given prices, visits
// shared. It is the Lagrangian subproblem: an uncapacitated facility location
// problem in which years are facilities and joints are clients, solved by depth-first
// branch and bound. The bound shares each visit out among the joints that may want
// it, never more than its price in sum, by dual ascent (Erlenkotter 1978, Operations
// Research 26(6):992).
//
// A solver is scratch space for one goroutine.
type bridgeSolver struct {
	m      *model
	banned []bool // options closed by the exact search, or nil

	visit  [MaxYears]float64 // price of a visit
	slack  [MaxYears]float64 // of it, not yet shared out
	joints []jointChoices
	counts [MaxYears]int32 // joints that pick a year
	order  []int           // joints by number of choices
	picks  []choice
	now    []int32
	best   []int32
	upper  float64
	left   int     // nodes left
	open   float64 // least bound of a branch that was not searched
}

// jointChoices are the options of a joint worth a look, one a class.
type jointChoices struct {
	all    []choice
	best   float64           // least cost when it pays for its visits alone
	bound  float64           // least cost with its shares of the visits
	share  [MaxYears]float64 // its shares
	raised bool              // its bound can rise no further
	coarse float64           // least step of the bound
}

type choice struct {
	years  uint32
	option int32
	cost   float64
	shared float64 // cost and its shares of the visits
}

func (s *bridgeSolver) pay(years uint32) float64 {
	v := 0.0
	for ; years != 0; years &= years - 1 {
		v += s.visit[bits.TrailingZeros32(years)]
	}
	return v
}

// solve writes the options of bridge b to options (by joint) and returns a valid
// lower bound of its priced cost, which is the cost itself where the search is exact.
func (s *bridgeSolver) solve(b int32, p *prices, options []int32) float64 {
	m := s.m
	first, last := m.firstJoint[b], m.firstJoint[b+1]
	if first == last {
		return 0
	}
	for y := range m.in.Years {
		s.visit[y] = m.pricedVisit(p, b, y)
	}
	n := int(last - first)
	for len(s.joints) < n {
		s.joints = append(s.joints, jointChoices{})
	}
	total := 0.0
	var used, twice uint32
	for i := range n {
		o := s.gather(i, first+int32(i), p)
		options[int(first)+i] = o
		total += s.joints[i].best
		years := uint32(0)
		for _, c := range s.joints[i].all {
			years |= c.years
		}
		twice |= used & years
		used |= years
	}
	if twice == 0 {
		return total // no visit could be shared
	}
	return s.searchBridge(n, options[first:last])
}

// gather lists the choices of a joint that could be in a best plan of the bridge:
// those that cost less, with visits free, than the best that pays for its own. It
// returns the option of the latter.
func (s *bridgeSolver) gather(i int, j int32, p *prices) int32 {
	m, g := s.m, &s.joints[i]
	g.all, g.best = g.all[:0], math.Inf(1)
	bestOption := int32(-1)
	var alone [MaxYears]float64 // cost of visiting in one year only
	for y := range m.in.Years {
		alone[y] = math.Inf(1)
	}
	for c := m.firstClass[j]; c < m.firstClass[j+1]; c++ {
		value, option := math.Inf(1), int32(-1)
		for o := m.firstOption[c]; o < m.firstOption[c+1]; o++ {
			if s.banned != nil && s.banned[o] {
				continue
			}
			if v := m.priced(p, o); v < value {
				value, option = v, o
			}
		}
		if option < 0 || value > g.best || beatenAlone(&alone, m.classYears[c], value) {
			continue
		}
		g.all = append(g.all, choice{years: m.classYears[c], option: option, cost: value})
		if paid := value + s.pay(m.classYears[c]); paid < g.best {
			g.best, bestOption = paid, option
		}
	}
	kept := g.all[:0]
	for _, c := range g.all {
		if c.cost < g.best || c.option == bestOption {
			kept = append(kept, c)
		}
	}
	g.all = kept
	return bestOption
}

// beatenAlone reports whether visiting in one of the years only costs no more than
// value; otherwise it notes value if there is one year.
func beatenAlone(alone *[MaxYears]float64, years uint32, value float64) bool {
	for left := years; left != 0; left &= left - 1 {
		if alone[bits.TrailingZeros32(left)] <= value {
			return true
		}
	}
	if bits.OnesCount32(years) == 1 {
		alone[bits.TrailingZeros32(years)] = value
	}
	return false
}

// searchBridge improves options of the bridge's n joints to the best and returns
// the bound.
func (s *bridgeSolver) searchBridge(n int, options []int32) float64 {
	lower := s.ascend(n)
	s.upper = s.descend(n, options)
	if s.upper <= lower+1e-12*math.Abs(lower) {
		return min(lower, s.upper)
	}
	s.order = s.order[:0]
	for i := range n { // drop what the bound excludes
		s.order = append(s.order, i)
		s.thin(&s.joints[i], s.upper-lower)
	}
	slices.SortStableFunc(s.order, func(x, y int) int { return len(s.joints[x].all) - len(s.joints[y].all) })
	s.now = slices.Grow(s.now[:0], n)[:n]
	s.best = append(s.best[:0], options...)
	s.left, s.open = math.MaxInt, math.Inf(1)
	if n > exactJoints {
		s.left = largeNodes
	}
	s.branch(0, 0, 0, lower)
	copy(options, s.best)
	return min(s.upper, s.open)
}

// descend lets each joint in turn choose its cheapest option given the visits that
// the others make, until none changes, from two starts, and returns the cost.
func (s *bridgeSolver) descend(n int, options []int32) float64 {
	s.picks = slices.Grow(s.picks[:0], n)[:n]
	picks := s.picks
	upper := math.Inf(1)
	for start := range 2 {
		for i := range n {
			g := &s.joints[i]
			at := 0
			for k, c := range g.all {
				if start == 0 && c.option == options[i] || start == 1 && c.shared < g.all[at].shared {
					at = k
				}
			}
			picks[i] = g.all[at]
		}
		if cost := s.settle(picks); cost < upper {
			upper = cost
			s.best = s.best[:0]
			for _, c := range picks {
				s.best = append(s.best, c.option)
			}
		}
	}
	copy(options, s.best)
	return upper
}

// settle is one descent; it returns the cost of picks with visits paid once.
func (s *bridgeSolver) settle(picks []choice) float64 {
	clear(s.counts[:s.m.in.Years])
	open := uint32(0)
	for _, c := range picks {
		open |= s.visitors(c.years, 1)
	}
	for changed := true; changed; {
		changed = false
		for i := range picks {
			others := open &^ s.visitors(picks[i].years, -1)
			least := picks[i].cost + s.pay(picks[i].years&^others)
			for _, c := range s.joints[i].all {
				if c.cost >= least {
					continue
				}
				if v := c.cost + s.pay(c.years&^others); v < least-1e-12*math.Abs(least) {
					least, picks[i], changed = v, c, true
				}
			}
			open = others | s.visitors(picks[i].years, 1)
		}
	}
	cost := 0.0
	for _, c := range picks {
		cost += c.cost
	}
	return cost + s.pay(open)
}

// visitors adds n joints to each of the years, and returns those of them that had
// none before or have none after.
func (s *bridgeSolver) visitors(years uint32, n int32) uint32 {
	changed := uint32(0)
	for left := years; left != 0; left &= left - 1 {
		y := bits.TrailingZeros32(left)
		if s.counts[y] == 0 || s.counts[y]+n == 0 {
			changed |= 1 << y
		}
		s.counts[y] += n
	}
	return changed
}

// thin drops choices whose shared cost is more than slack above the least, and sorts
// the others.
func (s *bridgeSolver) thin(g *jointChoices, slack float64) {
	least := math.Inf(1)
	for _, c := range g.all {
		least = min(least, c.shared)
	}
	kept := g.all[:0]
	for _, c := range g.all {
		if c.shared-least <= slack {
			kept = append(kept, c)
		}
	}
	slices.SortStableFunc(kept, func(x, y choice) int { return cmp.Compare(x.shared, y.shared) })
	g.all = kept
}

// branch fixes the joint order[k] to each of its choices in turn. sum is the cost so
// far with the visits in open paid; low is a quick bound of the whole bridge, in which
// joints not yet fixed are taken to use every visit that they share.
func (s *bridgeSolver) branch(k int, open uint32, sum, low float64) {
	if k == len(s.order) {
		if sum < s.upper {
			s.upper = sum
			copy(s.best, s.now)
		}
		return
	}
	i := s.order[k]
	g := &s.joints[i]
	for _, c := range g.all {
		quick := low + c.shared - g.bound
		for y := c.years &^ open; y != 0; y &= y - 1 {
			quick += s.slack[bits.TrailingZeros32(y)]
		}
		for y := open &^ c.years; y != 0; y &= y - 1 {
			quick += g.share[bits.TrailingZeros32(y)]
		}
		if quick >= s.cut() {
			continue
		}
		cost := sum + c.cost + s.pay(c.years&^open)
		bound := max(quick, cost+s.remaining(k+1, open|c.years))
		if bound >= s.cut() {
			continue
		}
		if s.left <= 0 {
			s.open = min(s.open, bound)
			continue
		}
		s.left--
		s.now[i] = c.option
		for y := range s.m.in.Years {
			s.slack[y] += g.share[y]
		}
		s.branch(k+1, open|c.years, cost, quick)
		for y := range s.m.in.Years {
			s.slack[y] -= g.share[y]
		}
	}
}

// cut is the bound from which a branch is not worth a look.
func (s *bridgeSolver) cut() float64 { return s.upper - 1e-12*math.Abs(s.upper) }

// remaining bounds the cost of the joints order[k:] when the visits in open are
// free and the others are shared out.
func (s *bridgeSolver) remaining(k int, open uint32) float64 {
	sum := 0.0
	for _, i := range s.order[k:] {
		least := math.Inf(1)
		for _, c := range s.joints[i].all {
			v := c.shared
			for both := c.years & open; both != 0; both &= both - 1 {
				v -= s.joints[i].share[bits.TrailingZeros32(both)]
			}
			least = min(least, v)
		}
		sum += least
	}
	return sum
}
