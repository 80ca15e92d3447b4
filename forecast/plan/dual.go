package plan

import (
	"context"
	"slices"
	"sync"
	"sync/atomic"
)

// goal is what a search minimises: cost, or only how far limits are exceeded.
// The penalty of a row is in dollars per unit over its limit; +Inf keeps it strictly.
type goal struct {
	costScale float64
	limit     []int64
	least     []int64 // by row, of contracts that are let; nil without contracts
	penalty   []float64
}

// dual maximises the Lagrangian bound of a goal,
//
//	L(u) = sum over bridges of min(cost + u·use) - u·limit,  0 <= u <= penalty
//
// and of a row with a least, with that for the limit and -penalty <= u <= 0,
// (Geoffrion 1974, Mathematical Programming Study 2:82), by a bundle method (see
// maximise). Bridges are cut in shards of fixed size; whichever processor works on a
// shard, sums are merged in shard order.
type dual struct {
	ctx     context.Context
	m       *model
	goal    *goal
	scale   []float64 // by row; the search runs on u*scale
	workers int
	bridges int // leading bridges to look at: all, or a sample
	banned  []bool

	u      []float64 // multipliers last evaluated
	choice []int32   // options last chosen, by joint
	use    []int64   // their use of the rows
	groups []dualGroup

	groupOf []uint8 // by bridge
	prices  prices
	values  []float64 // by shard and group
	solvers []*bridgeSolver
	sums    [][]int64 // by worker: by group, money by slot, then closures and targets
}

// dualGroup is the part of L that a group of bridges makes, limits left out.
type dualGroup struct {
	rows  []int32 // that its bridges may use, and that have a price
	all   []int32 // that its bridges may use
	value float64
	use   []int64 // by row of the instance
}

const (
	shardBridges = 16
	maxGroups    = 24
	plainGroups  = 4 // when all bridges pay from one account
)

func newDual(ctx context.Context, m *model, g *goal, scale []float64, workers int) *dual {
	d := &dual{ctx: ctx, m: m, goal: g, scale: scale, workers: workers, bridges: len(m.bridgeID)}
	d.u = make([]float64, len(g.limit))
	d.choice = make([]int32, len(m.jointID))
	d.use = make([]int64, len(g.limit))
	d.group()
	for range workers {
		d.solvers = append(d.solvers, &bridgeSolver{m: m})
		d.sums = append(d.sums, make([]int64, len(d.groups)*d.stride()))
	}
	return d
}

// stride is the length of one group's sums.
func (d *dual) stride() int { return len(d.m.rows.slotFirst) - 1 + len(d.goal.limit) }

// group divides the bridges by the account that pays for their visits: bridges that
// share budgets are priced together.
func (d *dual) group() {
	m := d.m
	d.groupOf = make([]uint8, len(m.bridgeID))
	number := map[int32]uint8{}
	for b, id := range m.bridgeID {
		account := m.in.VisitAccount[id]
		if _, ok := number[account]; !ok {
			number[account] = uint8(len(number) % maxGroups)
		}
		d.groupOf[b] = number[account]
	}
	n := min(len(number), maxGroups)
	if n == 1 {
		n = plainGroups
		for b := range d.groupOf {
			d.groupOf[b] = uint8(b % n)
		}
	}
	d.groups = make([]dualGroup, n)
	for g := range d.groups {
		d.groups[g].use = make([]int64, len(d.goal.limit))
	}
	d.findRows()
}

// findRows sets the rows that each group may use.
func (d *dual) findRows() {
	m := d.m
	uses := make([][]bool, len(d.groups))
	for g := range uses {
		uses[g] = make([]bool, len(d.goal.limit))
	}
	for b := range m.bridgeID {
		used := uses[d.groupOf[b]]
		mark := func(slot int32) {
			for _, r := range m.rows.of(slot) {
				used[r] = true
			}
		}
		for y := range m.in.Years {
			_, _, slot := m.visit(int32(b), y)
			mark(slot)
			if r := m.closure(int32(b), y); r >= 0 {
				used[r] = true
			}
		}
		first, last := m.firstOption[m.firstClass[m.firstJoint[b]]], m.firstOption[m.firstClass[m.firstJoint[b+1]]]
		for _, c := range m.charges[m.firstCharge[first]:m.firstCharge[last]] {
			mark(c.slot)
		}
	}
	for g := range uses {
		for r, used := range uses[g] {
			if used || r >= m.rows.firstGoal {
				d.groups[g].rows = append(d.groups[g].rows, int32(r))
			}
		}
		d.groups[g].all = d.groups[g].rows
	}
	d.leaveUndecided()
}

// leaveUndecided leaves the rows of contracts that the goal does not decide out of the
// groups: they have no price. It is called again when the goal decides others.
func (d *dual) leaveUndecided() {
	if d.goal.least == nil {
		return
	}
	for g := range d.groups {
		d.groups[g].rows = nil
		for _, r := range d.groups[g].all {
			part := int(r) >= d.m.rows.firstPart && int(r) < d.m.rows.firstGoal
			if !part || d.goal.limit[r] != NoLimit || d.goal.least[r] > 0 {
				d.groups[g].rows = append(d.groups[g].rows, r)
			}
		}
	}
}

// evaluate returns L at d.u, and sets choice, use and groups.
func (d *dual) evaluate() float64 {
	d.m.setPrices(&d.prices, d.u, d.goal.costScale)
	shards := (d.bridges + shardBridges - 1) / shardBridges
	d.values = slices.Grow(d.values[:0], shards*len(d.groups))[:shards*len(d.groups)]
	clear(d.values)
	var next atomic.Int64
	work := func(w int) {
		for s := int(next.Add(1)) - 1; s < shards && d.ctx.Err() == nil; s = int(next.Add(1)) - 1 {
			d.shard(s, w)
		}
	}
	for _, sums := range d.sums {
		clear(sums)
	}
	workers := max(1, min(d.workers, shards/2)) // starting one for less does not pay
	var wait sync.WaitGroup
	for w := 1; w < workers; w++ {
		wait.Go(func() { work(w) })
	}
	work(0)
	wait.Wait()
	return d.merge()
}

// shard solves the bridges of shard s with worker w's scratch space.
func (d *dual) shard(s, w int) {
	solver := d.solvers[w]
	solver.banned = d.banned
	for b := s * shardBridges; b < min(d.bridges, (s+1)*shardBridges); b++ {
		g := int(d.groupOf[b])
		d.values[s*len(d.groups)+g] += solver.solve(int32(b), &d.prices, d.choice)
		d.count(int32(b), d.sums[w][g*d.stride():(g+1)*d.stride()])
	}
}

// count adds what the chosen options of bridge b use to sums.
func (d *dual) count(b int32, sums []int64) {
	m := d.m
	rows := sums[len(m.rows.slotFirst)-1:]
	var years uint32
	for j := m.firstJoint[b]; j < m.firstJoint[b+1]; j++ {
		o := d.choice[j]
		years |= m.years(o)
		for _, c := range m.money(o) {
			if c.slot >= 0 {
				sums[c.slot] += c.cents
			}
		}
		for k := range m.in.Targets {
			rows[m.rows.firstGoal+k] += m.use(k, o)
		}
	}
	for y := range m.in.Years {
		if years&(1<<y) == 0 {
			continue
		}
		if _, cents, slot := m.visit(b, y); slot >= 0 {
			sums[slot] += cents
		}
		if r := m.closure(b, y); r >= 0 {
			rows[r]++
		}
	}
}

// merge adds up the workers' sums, which are integers, so in any order, and the
// shards' values in theirs.
func (d *dual) merge() float64 {
	r := d.m.rows
	slots := len(r.slotFirst) - 1
	clear(d.use)
	total := 0.0
	for g := range d.groups {
		group := &d.groups[g]
		group.value = 0
		for s := g; s < len(d.values); s += len(d.groups) {
			group.value += d.values[s]
		}
		total += group.value
		clear(group.use)
		for _, all := range d.sums {
			sums := all[g*d.stride() : (g+1)*d.stride()]
			for s, cents := range sums[:slots] {
				if cents != 0 {
					for _, row := range r.of(int32(s)) {
						group.use[row] += cents
					}
				}
			}
			for row, n := range sums[slots:] {
				group.use[row] += n
			}
		}
		for row, n := range group.use {
			d.use[row] += n
		}
	}
	for row, u := range d.u {
		if u != 0 {
			limit := d.goal.limit[row]
			if u < 0 {
				limit = d.goal.least[row]
			}
			total -= u * float64(limit)
		}
	}
	return total
}
