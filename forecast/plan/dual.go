package plan

import (
	"sync"
	"sync/atomic"
)

// goal is what a search minimises: cost, or only how far limits are exceeded.
// The penalty of a row is in dollars per unit over its limit; +Inf keeps it strictly.
type goal struct {
	costScale float64
	limit     []int64
	penalty   []float64
}

// dual maximises the Lagrangian bound of a goal,
//
//	L(u) = sum over bridges of min(cost + u·use) - u·limit,  0 <= u <= penalty
//
// (Geoffrion 1974, Mathematical Programming Study 2:82), by a bundle method (see
// maximise). Bridges are cut in
// shards of fixed size; whichever processor works on a shard, sums are merged in
// shard order.
type dual struct {
	m       *model
	goal    *goal
	scale   []float64 // by row; the search runs on u*scale
	workers int
	bridges int // leading bridges to look at: all, or a sample
	banned  []bool

	u      []float64 // multipliers last evaluated
	choice []int32   // options last chosen, by joint
	use    []int64   // their use of the rows

	prices  prices
	values  []float64 // by shard
	solvers []*bridgeSolver
	slots   [][]int64 // by worker: money by slot, then closures and targets
}

const shardBridges = 64

func newDual(m *model, g *goal, scale []float64, workers int) *dual {
	d := &dual{m: m, goal: g, scale: scale, workers: workers, bridges: len(m.bridgeID)}
	d.u = make([]float64, len(g.limit))
	d.choice = make([]int32, len(m.jointID))
	d.use = make([]int64, len(g.limit))
	for range workers {
		d.solvers = append(d.solvers, &bridgeSolver{m: m})
		d.slots = append(d.slots, make([]int64, len(m.rows.slotFirst)-1+len(g.limit)))
	}
	return d
}

// evaluate returns L at d.u, and sets choice and use.
func (d *dual) evaluate() float64 {
	m := d.m
	m.setPrices(&d.prices, d.u, d.goal.costScale)
	shards := (d.bridges + shardBridges - 1) / shardBridges
	if cap(d.values) < shards {
		d.values = make([]float64, shards)
	}
	d.values = d.values[:shards]
	var next atomic.Int64
	work := func(w int) {
		d.solvers[w].banned = d.banned
		clear(d.slots[w])
		for s := int(next.Add(1)) - 1; s < shards; s = int(next.Add(1)) - 1 {
			sum := 0.0
			for b := s * shardBridges; b < min(d.bridges, (s+1)*shardBridges); b++ {
				sum += d.solvers[w].solve(int32(b), &d.prices, d.choice)
				d.count(int32(b), d.slots[w])
			}
			d.values[s] = sum
		}
	}
	workers := max(1, min(d.workers, shards/4)) // starting one for less does not pay
	var wait sync.WaitGroup
	for w := 1; w < workers; w++ {
		wait.Go(func() { work(w) })
	}
	work(0)
	wait.Wait()
	for _, sums := range d.slots[workers:] {
		clear(sums)
	}
	d.mergeUse()
	value := 0.0
	for _, v := range d.values {
		value += v
	}
	for r, u := range d.u {
		if u != 0 {
			value -= u * float64(d.goal.limit[r])
		}
	}
	return value
}

// count adds what the chosen options of bridge b use to a worker's sums.
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

// mergeUse adds up the workers' sums, which are integers, so in any order.
func (d *dual) mergeUse() {
	r := d.m.rows
	slots := len(r.slotFirst) - 1
	clear(d.use)
	for _, sums := range d.slots {
		for s, cents := range sums[:slots] {
			if cents != 0 {
				for _, row := range r.of(int32(s)) {
					d.use[row] += cents
				}
			}
		}
		for row, n := range sums[slots:] {
			d.use[row] += n
		}
	}
}
