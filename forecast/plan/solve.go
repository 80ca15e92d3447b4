package plan

import (
	"math"
	"math/rand/v2"
	"runtime"
)

// Options steer the solver. The zero value suits any size of network. The plan does
// not depend on Workers.
type Options struct {
	Workers int // goroutines; 0 for one a processor
	Effort  int // 0 or 1 is the usual effort; 4 searches about four times as long
}

// Sizes at which the solver changes its ways, in joints.
const (
	exactLimit = 400  // branch and bound up to here
	ruinLimit  = 5000 // ruin and recreate up to here
)

// solver solves goals on one model.
type solver struct {
	m       *model
	workers int
	effort  int
	scale   []float64
	worst   float64 // no plan costs more
}

func newSolver(m *model, opt Options) *solver {
	s := &solver{m: m, workers: opt.Workers, effort: max(1, opt.Effort)}
	if s.workers <= 0 {
		s.workers = runtime.GOMAXPROCS(0)
	}
	free := &goal{costScale: 1, limit: unlimited(len(m.rows.limit)), penalty: make([]float64, len(m.rows.limit))}
	d := newDual(m, free, nil, s.workers)
	d.evaluate()
	s.scale = m.rows.scales(d.use)
	s.worst = m.worst()
	return s
}

func unlimited(n int) []int64 {
	limit := make([]int64, n)
	for i := range limit {
		limit[i] = NoLimit
	}
	return limit
}

// strict returns the goal of least cost with every limit kept.
func (s *solver) strict(limit []int64) *goal {
	g := &goal{costScale: 1, limit: limit, penalty: make([]float64, len(limit))}
	for r := range g.penalty {
		g.penalty[r] = math.Inf(1)
	}
	return g
}

// outcome is what was found for a goal.
type outcome struct {
	choice []int32 // best plan, by joint of the model
	value  float64 // of the goal; +Inf if a strict limit is not kept
	bound  float64 // no plan has a lower value
	u      []float64
}

func (o *outcome) closed() bool { return o.bound >= o.value-tolerance*math.Abs(o.value) }

// solve finds a plan and a bound for a goal. start holds multipliers to begin with,
// and known a plan to improve on; either may be nil.
func (s *solver) solve(g *goal, start []float64, known []int32) outcome {
	d := newDual(s.m, g, s.scale, s.workers)
	if start == nil {
		start = s.sample(g)
	}
	out := outcome{value: math.Inf(1), u: start}
	if known != nil {
		l := newLedger(s.m, g, known)
		out.choice, out.value = l.choice, l.value()
	}
	up := d.maximise(start, s.evaluations(), s.upper(g, &out), nil)
	x := s.plan(d, g, up, &out)
	if again := d.maximise(up.u, s.evaluations(), s.upper(g, &out), nil); again.bound > up.bound {
		up = again
		x = s.plan(d, g, up, &out)
	}
	out.bound, out.u = up.bound, up.u
	if !out.closed() && len(s.m.jointID) <= ruinLimit {
		s.ruin(d, x, &out)
	}
	if !out.closed() && len(s.m.jointID) <= exactLimit {
		s.exact(d, x, up, &out)
	}
	out.bound = math.Min(out.bound, out.value)
	return out
}

// evaluations is the number of dual steps that a network's size affords.
func (s *solver) evaluations() int {
	n := 40 + 400_000/(1+len(s.m.jointID))
	return s.effort * min(n, 300)
}

// worst returns a cost that no plan exceeds, in dollars, and more than zero.
func (m *model) worst() float64 {
	sum, size := 0.0, 1.0
	for j := range m.jointID {
		most := math.Inf(-1)
		for o, last := m.options(int32(j)); o < last; o++ {
			most = math.Max(most, m.cost[o])
		}
		sum += most
		size += math.Abs(most)
	}
	for _, c := range m.in.VisitCost {
		sum += c
		size += c
	}
	return sum + 1e-6*size
}

// upper is the value to beat: that of the plan, or the worst there could be.
func (s *solver) upper(g *goal, out *outcome) float64 {
	if math.IsInf(out.value, 1) && g.costScale != 0 {
		return s.worst
	}
	return out.value
}

// sample returns multipliers found on ever larger samples of the bridges, whose
// order is that of a hash of their content. Prices on money hardly depend on the
// size of the network.
func (s *solver) sample(g *goal) []float64 {
	u := make([]float64, len(g.limit))
	all := len(s.m.bridgeID)
	for _, part := range []int{64, 16, 4} {
		n := all / part
		if n < 100 {
			continue
		}
		share := float64(s.m.firstJoint[n]) / float64(len(s.m.jointID))
		small := &goal{costScale: g.costScale, penalty: g.penalty, limit: make([]int64, len(g.limit))}
		scale := make([]float64, len(s.scale))
		for r, l := range g.limit {
			small.limit[r] = l
			if l != NoLimit {
				small.limit[r] = int64(share * float64(l))
			}
			scale[r] = math.Max(1, share*s.scale[r])
		}
		d := newDual(s.m, small, scale, s.workers)
		d.bridges = n
		u = d.maximise(u, 200, share*s.worst, nil).u
	}
	return u
}

// plan makes a plan from the choices at the multipliers of an ascent and keeps the
// better.
func (s *solver) plan(d *dual, g *goal, up ascent, out *outcome) *exchange {
	copy(d.u, up.u)
	d.evaluate()
	x := newExchange(s.m, g, up.u, s.scale, d.choice, nil)
	x.repair()
	x.fill(true)
	s.keep(x, out)
	return x
}

// keep takes the plan of x if it is better.
func (s *solver) keep(x *exchange, out *outcome) {
	if v := x.l.value(); v < out.value || out.choice == nil {
		out.value = v
		out.choice = append([]int32(nil), x.l.choice...)
	}
}

// ruin improves the best plan by ruin and recreate, from a fixed seed.
func (s *solver) ruin(d *dual, x *exchange, out *outcome) {
	rng := rand.New(rand.NewPCG(1, uint64(len(s.m.jointID))))
	p := newPool(s.m)
	p.widen(d, out.u, 100, rng)
	x.l.load(out.choice)
	rounds := s.effort * min(20_000, 100*len(s.m.jointID))
	newRuin(x, p, rng).run(rounds, 3e-3*math.Abs(out.value)/math.Sqrt(float64(len(s.m.jointID))))
	x.fill(true)
	s.keep(x, out)
}

// exact closes the gap by branch and bound as far as the effort allows.
func (s *solver) exact(d *dual, x *exchange, up ascent, out *outcome) {
	upper := s.upper(d.goal, out)
	e := &exactSearch{d: d, x: x, choice: append([]int32(nil), out.choice...), upper: upper}
	e.closed = make([]bool, len(s.m.optionID))
	work := s.effort * 1_000_000 / (1 + len(s.m.optionID))
	bound := e.run(up, min(work, s.effort*100_000))
	out.bound = math.Max(out.bound, bound)
	if e.upper < upper {
		out.value, out.choice = e.upper, e.choice
	}
}
