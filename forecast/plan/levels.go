package plan

import (
	"context"
	"fmt"
	"math"
	"slices"
)

// SolveLevels solves an instance at several levels of money, each a share of every
// budget (0.8 for 20 per cent less), and returns the results in the order of levels.
// A level never gets a dearer plan than one with less money: the plan of the lower
// level is where the higher begins. Errors are those of Solve; the first infeasible
// level's is returned, with all results.
func SolveLevels(ctx context.Context, in *Instance, levels []float64, opt Options) ([]*Result, error) {
	if err := in.Validate(); err != nil {
		return nil, err
	}
	order := make([]int, len(levels))
	for i, level := range levels {
		order[i] = i
		if !(level >= 0) || math.IsInf(level, 1) {
			return nil, fmt.Errorf("%w: budget level %v, want a share of zero or more", ErrInvalid, level)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		if levels[a] < levels[b] {
			return -1
		} else if levels[a] > levels[b] {
			return 1
		}
		return 0
	})
	m, err := newModel(in)
	if err != nil {
		return nil, err
	}
	s := newSolver(ctx, m, opt)
	results := make([]*Result, len(levels))
	var known []int32
	var u []float64
	for _, i := range order {
		budgets := scaled(in.Budgets, levels[i])
		g := s.strict(m.rows.atLevel(budgets))
		out, short := s.solveFeasible(g, budgets, u, known)
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		results[i] = m.result(&out, g, budgets)
		results[i].Shortfall = short
		if short == nil {
			known, u = out.choice, out.u
		} else if err == nil {
			err = errInfeasible(short)
		}
	}
	// No plan within more money beats a bound, so none within less money does.
	least := math.Inf(-1)
	for _, i := range slices.Backward(order) {
		if r := results[i]; r.Feasible {
			r.Bound = math.Min(r.Cost, math.Max(r.Bound, least))
			least = r.Bound
		}
	}
	return results, err
}

// scaled returns budgets times a share, rounded to the nearest cent.
func scaled(budgets []Budget, share float64) []Budget {
	budgets = slices.Clone(budgets)
	if share == 1 {
		return budgets
	}
	for b := range budgets {
		budgets[b].Cents = slices.Clone(budgets[b].Cents)
		for y, c := range budgets[b].Cents {
			if c != NoLimit {
				budgets[b].Cents[y] = int64(math.Min(math.Round(share*float64(c)), 1<<62))
			}
		}
	}
	return budgets
}

// atLevel returns the limits of all rows with other budgets.
func (r *rows) atLevel(budgets []Budget) []int64 {
	limit := slices.Clone(r.limit)
	copy(limit, budgetLimits(budgets))
	return limit
}
