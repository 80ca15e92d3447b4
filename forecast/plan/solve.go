package plan

import (
	"context"
	"math"
	"math/rand/v2"
	"runtime"
)

// Options steer the solver. The zero value suits any size of network. The plan does
// not depend on Workers.
type Options struct {
	Workers int // goroutines; 0 for one a processor
	Effort  int // 0 or 1 is the usual effort; 4 searches about four times as long
	// Progress is called now and then with how near to the best the search has come,
	// in per cent of cost; NaN while there is no plan. It may be nil.
	Progress func(gapPct float64)
}

// Sizes at which the solver changes its ways, in joints.
const (
	exactLimit = 400  // branch and bound up to here
	ruinLimit  = 2000 // ruin and recreate up to here
	draftLimit = 100  // always in full up to here
)

// solver solves goals on one model. Once its context has ended every search in it
// stops where it is, and what it returns is worth nothing.
type solver struct {
	ctx     context.Context
	tell    func(gapPct float64)
	m       *model
	workers int
	effort  int
	scale   []float64
	worst   float64 // no plan costs more
	draft   bool    // look less hard on networks of more than draftLimit joints
	brief   bool    // branch and bound for a tenth of the time, and not on such networks
	inexact bool    // no branch and bound
	parts   int     // that the network is cut in, of which this is one; or 1
}

func newSolver(ctx context.Context, m *model, opt Options) *solver {
	s := &solver{ctx: ctx, tell: opt.Progress, m: m, workers: opt.Workers, effort: max(1, opt.Effort), parts: 1}
	if s.tell == nil {
		s.tell = func(float64) {}
	}
	if s.workers <= 0 {
		s.workers = runtime.GOMAXPROCS(0)
	}
	free := &goal{costScale: 1, limit: unlimited(len(m.rows.limit)), penalty: make([]float64, len(m.rows.limit))}
	d := newDual(ctx, m, free, nil, s.workers)
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
	s.m.leaveContracts(g)
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
	d := newDual(s.ctx, s.m, g, s.scale, s.workers)
	d.banned = s.m.hopeless(g)
	out := outcome{value: math.Inf(1), bound: math.Inf(-1)}
	if known != nil {
		l := newLedger(s.m, g, known)
		out.choice, out.value = l.choice, l.value()
	}
	p := newPool(s.m)
	up := s.sample(g, start)
	var x *exchange
	draft := s.draft && len(s.m.jointID) > draftLimit
	for range 2 {
		if out.closed() && x != nil {
			break
		}
		up = d.maximise(up, s.evaluations(), s.upper(g, &out), func() {
			p.add(d.choice)
			s.report(g, out.value, out.bound)
		})
		better := up.bound > out.bound+1e-4*math.Abs(up.bound)
		if up.bound > out.bound {
			out.bound, out.u = up.bound, up.u
			x = s.plan(d, up, p, &out)
		}
		if !better || out.gap() < goodGap || draft {
			break
		}
	}
	s.report(g, out.value, out.bound)
	if draft {
		return out
	}
	small := len(s.m.jointID) <= ruinLimit
	groups := s.groups(g)
	switch {
	case out.closed():
	case len(groups) > 1:
		s.apart(d, x, groups, &out)
		s.decided(d, &out)
		s.report(g, out.value, out.bound)
	case s.m.undecided(g) && (small || out.gap() > goodGap):
		s.contracts(d, x, &out)
		s.report(g, out.value, out.bound)
	case small:
		s.ruin(d, x, &out)
		s.report(g, out.value, out.bound)
	}
	exactly := exactLimit
	if s.brief || len(groups) > 1 {
		exactly = draftLimit
	}
	if !out.closed() && !s.inexact && len(s.m.jointID) <= exactly {
		s.exact(d, x, ascent{u: out.u, bound: out.bound, reach: up.reach}, &out)
	}
	out.bound = math.Min(out.bound, out.value)
	return out
}

// goodGap is the gap, as a share of cost, at which prices need no more steps.
const goodGap = 2e-4

// report tells how near to the best the search for the plan of least cost has come.
func (s *solver) report(g *goal, value, bound float64) {
	gapPct := math.NaN()
	if g.costScale != 0 && value > 0 && value < s.worst && !math.IsInf(bound, -1) {
		gapPct = 100 * (value - bound) / value
	}
	s.tell(gapPct)
}

func (o *outcome) gap() float64 { return (o.value - o.bound) / math.Max(math.Abs(o.value), 1e-9) }

// evaluations is the number of dual steps that a network's size affords.
func (s *solver) evaluations() int {
	n := 25 + 400_000/(1+len(s.m.jointID))
	if s.draft {
		n /= 2
	}
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
	switch {
	case !math.IsInf(out.value, 1):
		return out.value
	case g.costScale != 0:
		return s.worst
	}
	return mostExcess
}

// mostExcess is more than any plan exceeds its limits by, in units of their scales.
const mostExcess = 1e30

// sample returns multipliers found on ever larger samples of the bridges, whose
// order is that of a hash of their content. Prices on money hardly depend on the
// size of the network.
func (s *solver) sample(g *goal, start []float64) ascent {
	up := ascent{u: start}
	if start == nil {
		up.u = make([]float64, len(g.limit))
	}
	all := len(s.m.bridgeID)
	for _, level := range []struct{ part, evaluations int }{{64, 200}, {16, 100}, {4, 40}} {
		n := all / level.part
		if n < 100 || start != nil {
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
		d := newDual(s.ctx, s.m, small, scale, s.workers)
		d.bridges = n
		up = d.maximise(up, level.evaluations, share*s.worst, nil)
	}
	return up
}

// plan makes a plan from the choices at the multipliers of an ascent and keeps the
// better.
func (s *solver) plan(d *dual, up ascent, p *pool, out *outcome) *exchange {
	copy(d.u, up.u)
	d.evaluate()
	x := newExchange(s.ctx, s.m, d.goal, up.u, s.scale, d.choice, d.banned, p)
	x.repair()
	x.fill(len(s.m.jointID) <= ruinLimit)
	x.settle(len(s.m.jointID) <= ruinLimit)
	s.keep(x, out)
	if d.goal.costScale == 0 && !out.closed() { // prices say less about limits alone
		x.l.load(out.choice)
		x.repair()
		x.settle(false)
		s.keep(x, out)
	}
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
	x.pool.widen(d, out.u, 100, rng)
	x.l.load(out.choice)
	rounds := s.effort * min(20_000/s.parts, 100*len(s.m.jointID))
	newRuin(x, rng).run(rounds, 3e-3*math.Abs(out.value)/math.Sqrt(float64(len(s.m.jointID))))
	x.fill(true)
	s.keep(x, out)
}

// exact closes the gap by branch and bound as far as the effort allows.
func (s *solver) exact(d *dual, x *exchange, up ascent, out *outcome) {
	upper := s.upper(d.goal, out)
	d.goal = x.l.goal // whose contracts the nodes decide
	e := &exactSearch{d: d, x: x, report: func(value, bound float64) { s.report(d.goal, value, bound) }, choice: append([]int32(nil), out.choice...), upper: upper}
	e.closed = d.banned
	x.pool = newPool(s.m) // joints only: a node's plans are many and must be quick
	work := s.effort * 6_000_000 / (1 + len(s.m.optionID))
	if s.m.undecided(d.goal) && len(s.groups(d.goal)) < 2 {
		work *= 5 // contracts leave more open
	}
	work /= s.parts
	if s.brief {
		work /= 10
	}
	bound := e.run(up, min(work, s.effort*100_000))
	out.bound = math.Max(out.bound, bound)
	if e.upper < upper {
		out.value, out.choice = e.upper, e.choice
	}
}
