package plan

import (
	"math"
)

// Shortfall says which limits cannot be kept together, and how much money would do.
type Shortfall struct {
	// Proved is true when it is proved that no plan keeps every limit, and false
	// when none was found.
	Proved bool
	// Targets are those that the plan misses. Least is the lowest value found for
	// that target alone within the budgets; no plan gets below LeastBound.
	Targets []MissedTarget
	// OverCents is by budget and year the money by which the plan, which keeps to
	// the limits as nearly as was found, exceeds them.
	OverCents [][]int64
	// Enough is the least multiple of every budget at which a plan was found that
	// keeps every limit, and TooLittle the largest at which none was; Enough is 0
	// when no multiple helps.
	Enough, TooLittle float64
}

// MissedTarget is a target that the budgets cannot meet.
type MissedTarget struct {
	Target     int // index into Instance.Targets
	Name       string
	Cap        int64
	Least      int64
	LeastBound float64
	Alone      bool // Least is above Cap: missed even when it is the only target
}

func (s *Shortfall) String() string { return "TODO" }

func (s *solver) solveFeasible(g *goal, budgets []Budget, u []float64, known []int32) (outcome, *Shortfall) {
	if known == nil {
		idle := s.m.idle()
		if l := newLedger(s.m, g, idle); l.exceeded == 0 {
			known = idle
		}
	}
	out := s.solve(g, u, known)
	if math.IsInf(out.value, 1) {
		return out, &Shortfall{}
	}
	return out, nil
}
