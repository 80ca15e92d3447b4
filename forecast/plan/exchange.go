package plan

import (
	"cmp"
	"context"
	"math"
	"slices"
)

// exchange turns the options chosen at some prices into a plan that keeps the
// limits, and improves it by exchanging options.
type exchange struct {
	ctx    context.Context
	m      *model
	l      *ledger
	u      []float64 // multipliers
	weight []float64 // of excess over a limit, dollars per unit
	pool   *pool
	first  []int32 // by joint, into near
	near   []nearOption
	moves  []move
	scope  []int32 // bridges to look at; nil: all
	every  []int32 // all bridges
}

// nearOption is an option and its reduced cost: how much dearer than the joint's
// best it is at the prices, with visits shared evenly.
type nearOption struct {
	option  int32
	reduced float64
}

// move is a change to consider: of one joint to an option, or, with joint -1, of a
// bridge to a set of its pool. Lower scores come first.
type move struct {
	bridge, joint, option int32
	score                 float64
}

// near options of a joint that the exchanges look at; fewer on large networks.
const (
	nearOptions      = 32
	nearOptionsLarge = 8
)

func newExchange(ctx context.Context, m *model, g *goal, u, scale []float64, choice []int32, banned []bool, p *pool) *exchange {
	x := &exchange{ctx: ctx, m: m, pool: p, l: newLedger(m, g, choice), u: u, weight: make([]float64, len(u)), first: []int32{0}}
	if g.least != nil {
		x.l.goal = g.clone() // whose contracts it decides, for a time
	}
	x.weigh(g, scale)
	var now prices
	m.setPrices(&now, u, g.costScale)
	near := nearOptions
	if len(m.jointID) > ruinLimit {
		near = nearOptionsLarge
	}
	for b := range m.bridgeID {
		x.rank(int32(b), &now, near, banned)
		x.every = append(x.every, int32(b))
	}
	return x
}

// weigh sets the weight of excess over each limit: its penalty where it has one;
// else its price, or a fifth of the mean price where that is more; else, when only
// limits count, far more than any penalty.
func (x *exchange) weigh(g *goal, scale []float64) {
	mean, priced := 0.0, 0
	for r, v := range x.u {
		if v > 0 {
			mean += v * scale[r]
			priced++
		}
	}
	mean /= math.Max(1, float64(priced))
	for r, v := range x.u {
		switch {
		case !math.IsInf(g.penalty[r], 1):
			x.weight[r] = g.penalty[r]
		case g.costScale == 0:
			x.weight[r] = 1000 / scale[r]
		case mean == 0:
			x.weight[r] = 1 / scale[r]
		default:
			x.weight[r] = math.Max(v, 0.2*mean/scale[r])
		}
	}
}

// rank lists the near options of the joints of bridge b.
func (x *exchange) rank(b int32, p *prices, near int, banned []bool) {
	m := x.m
	s := bridgeSolver{m: m}
	joints := float64(m.firstJoint[b+1] - m.firstJoint[b])
	for y := range m.in.Years {
		s.visit[y] = m.pricedVisit(p, b, y) / joints
	}
	for j := m.firstJoint[b]; j < m.firstJoint[b+1]; j++ {
		first, last := m.options(j)
		start := len(x.near)
		for o := first; o < last; o++ {
			if !banned[o] {
				x.near = append(x.near, nearOption{o, m.priced(p, o) + s.pay(m.years(o))})
			}
		}
		run := x.near[start:]
		slices.SortFunc(run, func(a, b nearOption) int {
			return cmp.Or(cmp.Compare(a.reduced, b.reduced), cmp.Compare(a.option, b.option))
		})
		x.near = x.near[:start+min(len(run), near)]
		for i := len(x.near) - 1; i >= start; i-- {
			x.near[i].reduced -= x.near[start].reduced
		}
		x.first = append(x.first, int32(len(x.near)))
	}
}

// priced returns the change under consideration at the multipliers.
func (x *exchange) priced() (change, money float64) {
	for _, r := range x.l.rows {
		money += x.u[r] * float64(x.l.delta[r])
	}
	return x.l.goal.costScale*x.l.change + money, money
}

// try considers a move in the ledger.
func (x *exchange) try(mv move) {
	if mv.joint >= 0 {
		x.l.try(mv.joint, mv.option)
	} else {
		x.l.tryBridge(mv.bridge, x.pool.options[mv.bridge][mv.option])
	}
}

// accept makes the move that was last tried.
func (x *exchange) accept(mv move) {
	if mv.joint >= 0 {
		x.l.accept(mv.joint, mv.option)
	} else {
		x.l.acceptBridge(mv.bridge, x.pool.options[mv.bridge][mv.option])
	}
}

// collect lists the best-scored move of each joint and of each bridge's pool; score
// returns false for a move that is not wanted.
func (x *exchange) collect(all bool, score func() (float64, bool)) {
	x.moves = x.moves[:0]
	var best move
	look := func(mv move) {
		x.try(mv)
		if v, ok := score(); ok && v < best.score {
			best, best.score = mv, v
		}
	}
	keep := func() {
		if !math.IsInf(best.score, 1) {
			x.moves = append(x.moves, best)
		}
		best.score = math.Inf(1)
	}
	best.score = math.Inf(1)
	bridges := x.every
	if x.scope != nil {
		bridges = x.scope
	}
	for _, b := range bridges {
		for k := range x.pool.options[b] {
			look(move{bridge: b, joint: -1, option: int32(k)})
		}
		keep()
	}
	for _, b := range bridges {
		x.collectJoints(b, all, look, keep)
	}
	x.l.reset()
	slices.SortStableFunc(x.moves, func(a, b move) int { return cmp.Compare(a.score, b.score) })
}

// collectJoints looks at the moves of each joint of bridge b.
func (x *exchange) collectJoints(b int32, all bool, look func(move), keep func()) {
	for j := x.m.firstJoint[b]; j < x.m.firstJoint[b+1]; j++ {
		if all {
			for o, last := x.m.options(j); o < last; o++ {
				if o != x.l.choice[j] {
					look(move{bridge: b, joint: j, option: o})
				}
			}
		} else {
			for _, n := range x.near[x.first[j]:x.first[j+1]] {
				if n.option != x.l.choice[j] {
					look(move{bridge: b, joint: j, option: n.option})
				}
			}
		}
		keep()
	}
}

// apply makes the collected moves in order as far as each is still wanted, and
// returns how many it made.
func (x *exchange) apply(done func() bool, score func() (float64, bool)) int {
	made := 0
	for _, mv := range x.moves {
		if done() {
			break
		}
		x.try(mv)
		if v, ok := score(); ok && v <= mv.score+0.5*math.Abs(mv.score)+1e-9 {
			x.accept(mv)
			made++
		}
	}
	x.l.reset()
	return made
}

// repair changes options, those with the least priced cost per excess removed
// first, until no limit is exceeded or nothing helps.
func (x *exchange) repair() {
	score := func() (float64, bool) {
		less := -x.l.excess(x.weight)
		change, _ := x.priced()
		return change / less, less > 1e-12
	}
	done := func() bool { return x.l.exceeded == 0 || x.ctx.Err() != nil }
	for all := false; !done(); {
		x.collect(all, score)
		if x.apply(done, score) == 0 {
			if all {
				return
			}
			all = true
		}
	}
}

// measure returns the plan's cost with its excess weighed heavily.
func (x *exchange) measure() float64 {
	l := x.l
	v := l.goal.costScale * l.cost
	if l.exceeded == 0 {
		return v
	}
	for row, n := range l.use {
		if over := l.goal.over(row, n); over > 0 {
			v += 100 * x.weight[row] * float64(over)
		}
	}
	return v
}

// fill spends what is left: moves that fit and save cost, best per priced dollar
// first, until there is none.
func (x *exchange) fill(all bool) {
	score := func() (float64, bool) {
		saved := -x.l.change
		if saved <= 1e-9 || !x.l.fits() {
			return 0, false
		}
		_, money := x.priced()
		return -saved / (1e-3*saved + math.Max(0, money)), true
	}
	stopped := func() bool { return x.ctx.Err() != nil }
	for range 50 {
		x.collect(all, score)
		if x.apply(stopped, score) == 0 {
			return
		}
	}
}
