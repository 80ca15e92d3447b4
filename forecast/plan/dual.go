package plan

import (
	"math"
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
// (Geoffrion 1974, Mathematical Programming Study 2:82), by the volume algorithm
// (Barahona & Anbil 2000, Mathematical Programming 87:385). Bridges are cut in
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
	weight []float64 // by option, how often it was chosen lately; nil if not wanted

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
	if workers := min(d.workers, shards); workers > 1 {
		var wait sync.WaitGroup
		for w := range workers {
			wait.Go(func() { work(w) })
		}
		wait.Wait()
		for w := workers; w < d.workers; w++ {
			clear(d.slots[w])
		}
	} else {
		work(0)
		for w := 1; w < d.workers; w++ {
			clear(d.slots[w])
		}
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

// ascent is the result of a dual search: the best multipliers and their bound.
type ascent struct {
	u     []float64
	bound float64
}

// maximise searches from the multipliers start for a number of evaluations. upper
// is the value of a known plan, or +Inf; the search stops when the bound reaches it.
// visit, if any, is called after each evaluation with its value.
func (d *dual) maximise(start []float64, evaluations int, upper float64, visit func(value float64)) ascent {
	n := len(d.goal.limit)
	best := ascent{u: append([]float64(nil), start...), bound: math.Inf(-1)}
	slope := make([]float64, n)  // at the last point, in scaled units
	volume := make([]float64, n) // running average of slopes
	step, alpha := 0.5, 0.2
	misses, last := 0, math.Inf(-1)
	copy(d.u, start)
	for it := range evaluations {
		value := d.evaluate()
		if visit != nil {
			visit(value)
		}
		d.slope(slope)
		if it == 0 {
			copy(volume, slope)
		} else {
			d.average(volume, slope, alpha)
		}
		if value > best.bound {
			if dot(slope, volume) >= 0 {
				step = math.Min(2, step*1.1)
			}
			misses = 0
			best.bound = value
			copy(best.u, d.u)
		} else if misses++; misses >= 8 {
			step, misses = math.Max(1e-4, step*0.66), 0
		}
		if best.bound >= upper {
			break
		}
		if it%50 == 49 {
			if best.bound-last < 0.01*math.Abs(best.bound)*1e-2 {
				alpha = math.Max(0.02, alpha/2)
			}
			last = best.bound
		}
		d.move(best, volume, step, upper)
	}
	return best
}

// slope sets the gradient of L at the last point, in scaled units.
func (d *dual) slope(slope []float64) {
	for r, limit := range d.goal.limit {
		slope[r] = 0
		if limit != NoLimit {
			slope[r] = float64(d.use[r]-limit) / d.scale[r]
		}
	}
}

// average moves volume toward slope by the share that makes it shortest, between
// alpha/10 and alpha.
func (d *dual) average(volume, slope []float64, alpha float64) {
	var ab, bb float64
	for r := range volume {
		diff := slope[r] - volume[r]
		ab -= volume[r] * diff
		bb += diff * diff
	}
	share := alpha / 10
	if bb > 0 {
		share = math.Min(alpha, math.Max(alpha/10, ab/bb))
	}
	for r := range volume {
		volume[r] += share * (slope[r] - volume[r])
	}
}

// move sets d.u a step from the best point along volume, within its bounds.
func (d *dual) move(best ascent, volume []float64, step, upper float64) {
	length := 0.0
	for r, v := range volume {
		if v > 0 || best.u[r] > 0 {
			length += v * v
		}
	}
	if length == 0 {
		return
	}
	rise := upper - best.bound
	if !(rise < 0.05*math.Abs(best.bound)) { // unknown or far: aim a little higher
		rise = 0.05*math.Abs(best.bound) + 1e-9
	}
	size := step * rise / length
	for r, v := range volume {
		d.u[r] = math.Min(d.goal.penalty[r], math.Max(0, best.u[r]+size*v/d.scale[r]))
	}
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}
