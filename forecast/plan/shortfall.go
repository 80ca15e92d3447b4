package plan

import (
	"math"
)

// Shortfall says which limits cannot be kept together, and how much money would do.
type Shortfall struct {
	// Proved is true when it is proved that no plan keeps every limit, and false
	// when none was found.
	Proved bool
	// Targets are those that cannot be met, or were not, even alone.
	Targets []MissedTarget
	// OverCents is by budget and year the money by which the plan, which comes as
	// near to the limits as was found, exceeds its budgets.
	OverCents [][]int64
	// Contracts are those that the same plan lets for less than their least.
	Contracts []BrokenContract
	// Enough is the least multiple of every budget at which a plan was found that
	// keeps every limit, to a hundredth; 0 when no multiple up to 64 helps.
	Enough float64
}

// MissedTarget is a target that the budgets do not meet, other targets left aside.
type MissedTarget struct {
	Target int // index into Instance.Targets
	Name   string
	Cap    int64
	Least  int64 // lowest value found within the budgets; -1 when no plan keeps them
	Bound  int64 // no plan within the budgets gets below this
}

// String says the shortfall in a sentence; who knows what the rows stand for says more.
func (s *Shortfall) String() string {
	if s.Proved {
		return "it is proved that no plan keeps every limit"
	}
	return "none was found that keeps every limit"
}

// solveFeasible solves for least cost, and where no plan keeps every limit finds the
// plan that comes nearest and says what is short.
func (s *solver) solveFeasible(g *goal, budgets []Budget, u []float64, known []int32) (outcome, *Shortfall) {
	if known == nil {
		known = s.feasibleStart(g)
	}
	out := s.solve(g, u, known)
	if !math.IsInf(out.value, 1) || s.ctx.Err() != nil {
		return out, nil
	}
	short := &Shortfall{Proved: out.bound >= s.worst}
	nearest := s.solve(s.soft(g.limit), nil, out.choice)
	if nearest.value == 0 { // it keeps every limit after all
		return s.solve(g, u, nearest.choice), nil
	}
	if len(s.m.in.Targets) > 0 {
		known := s.solve(s.nearTargets(g.limit), nil, nearest.choice)
		if known.value == 0 {
			return s.solve(g, u, known.choice), nil
		}
		short.Proved = short.Proved || known.bound > 1e-9
	}
	short.Proved = short.Proved || nearest.bound > 1e-9
	for k := range s.m.in.Targets {
		if t, missed := s.alone(k, g.limit); missed {
			short.Targets = append(short.Targets, t)
		}
	}
	short.OverCents = s.overCents(nearest.choice, g.limit)
	short.Contracts = s.m.brokenContracts(newLedger(s.m, g, nearest.choice))
	short.Enough = s.enough(budgets, nearest.choice)
	nearest.u = out.u
	nearest.bound = math.Min(out.bound, s.worst)
	return nearest, short
}

// feasibleStart returns the plan of least money if it keeps every strict limit, or nil.
func (s *solver) feasibleStart(g *goal) []int32 {
	idle := s.m.idle()
	if l := newLedger(s.m, g, idle); !math.IsInf(l.value(), 1) {
		return idle
	}
	return nil
}

// soft returns the goal of exceeding limits as little as can be, each in units of
// its scale, whatever the cost.
func (s *solver) soft(limit []int64) *goal {
	g := &goal{limit: limit, penalty: make([]float64, len(limit))}
	for r := range g.penalty {
		g.penalty[r] = 1 / s.scale[r]
	}
	s.m.leaveContracts(g)
	return g
}

// nearTargets returns the goal of exceeding the targets as little as can be, every
// other limit kept and whatever the cost.
func (s *solver) nearTargets(limit []int64) *goal {
	g := s.soft(limit)
	for r := range s.m.rows.firstGoal {
		g.penalty[r] = math.Inf(1)
	}
	return g
}

// alone finds the lowest value of target k within the limits other than targets, and
// reports whether it is above the cap.
func (s *solver) alone(k int, limit []int64) (MissedTarget, bool) {
	target := s.m.in.Targets[k]
	row := s.m.rows.firstGoal + k
	g := s.strict(append([]int64(nil), limit...))
	g.costScale = 0
	for r := s.m.rows.firstGoal; r < len(limit); r++ {
		g.limit[r] = NoLimit
	}
	g.limit[row], g.penalty[row] = 0, 1/s.scale[row]
	out := s.solve(g, nil, s.feasibleStart(g))
	t := MissedTarget{Target: k, Name: target.Name, Cap: target.Cap, Least: -1}
	t.Bound = int64(math.Ceil(out.bound*s.scale[row] - 1e-6))
	if !math.IsInf(out.value, 1) {
		t.Least = int64(math.Round(out.value * s.scale[row]))
		t.Bound = min(t.Bound, t.Least)
	}
	return t, t.Least < 0 || t.Least > target.Cap
}

// overCents returns by budget and year what a plan spends beyond the limits.
func (s *solver) overCents(choice []int32, limit []int64) [][]int64 {
	l := newLedger(s.m, s.soft(limit), choice)
	years := s.m.in.Years
	over := make([][]int64, len(s.m.in.Budgets))
	for b := range over {
		over[b] = make([]int64, years)
		before := int64(0) // with carry-over, the excess of earlier years
		for y := range years {
			excess := max(0, l.use[b*years+y]-limit[b*years+y])
			over[b][y] = max(0, excess-before)
			if s.m.in.Budgets[b].CarryOver {
				before = max(before, excess)
			}
		}
	}
	return over
}

// enough returns the least multiple of every budget, to a hundredth, at which a plan
// was found that keeps every limit, or 0. It looks for plans only, not for proofs.
func (s *solver) enough(budgets []Budget, start []int32) float64 {
	quick := *s
	quick.draft, quick.brief = true, true
	try := func(hundredths int) bool {
		limit := s.m.rows.atLevel(scaled(budgets, float64(hundredths)/100))
		goals := []*goal{s.strict(limit), s.soft(limit)}
		if len(s.m.in.Targets) > 0 {
			goals = append(goals, s.nearTargets(limit))
		}
		for _, g := range goals {
			if out := quick.solve(g, nil, start); newLedger(s.m, g, out.choice).kept() {
				start = out.choice
				return true
			}
		}
		return false
	}
	high := 100
	for !try(high) {
		if high *= 2; high > 6400 || s.ctx.Err() != nil {
			return 0
		}
	}
	low := high / 2
	narrow := func() {
		for high-low > 1 {
			if middle := (low + high) / 2; try(middle) {
				high = middle
			} else {
				low = middle
			}
		}
	}
	narrow()
	if n := len(s.m.jointID); n > draftLimit && n <= ruinLimit { // the draft may have missed a plan
		quick.draft = false
		low = min(100, high/2)
		narrow()
	}
	return float64(high) / 100
}
