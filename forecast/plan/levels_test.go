package plan

import (
	"context"
	"errors"
	"testing"
)

func TestMoreMoneyIsNeverWorse(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	in := inventedNetwork(50, 2, 3)
	levels := []float64{1, 0.8, 1.2, 0, 0.9}
	got, err := SolveLevels(context.Background(), in, levels, Options{})
	if err != nil {
		t.Fatal(err)
	}
	order := []int{3, 1, 4, 0, 2}
	for i, at := range order {
		r := got[at]
		at2 := *in
		at2.Budgets = scaled(in.Budgets, levels[at])
		checkResult(t, &at2, r)
		if levels[at] == 0 && r.Cost != r.Nothing {
			t.Errorf("without money: got cost %v, want that of doing nothing, %v", r.Cost, r.Nothing)
		}
		if i == 0 {
			continue
		}
		if less := got[order[i-1]]; r.Cost > less.Cost || r.Bound > less.Bound {
			t.Errorf("level %v: cost %v bound %v, above those of level %v: %v %v",
				levels[at], r.Cost, r.Bound, levels[order[i-1]], less.Cost, less.Bound)
		}
	}
	if alone, err := Solve(context.Background(), in, Options{}); err != nil || got[0].Bound > alone.Cost || alone.Bound > got[0].Cost {
		t.Errorf("level 1: cost %v bound %v; alone: cost %v bound %v, %v", got[0].Cost, got[0].Bound, alone.Cost, alone.Bound, err)
	}
}

func TestSolveLevelsReturnsEveryResult(t *testing.T) {
	in := &Instance{Years: 1, Accounts: [][]int32{{0}}, Budgets: []Budget{{Name: "network", Cents: []int64{100}}}}
	in.AddBridge([]float64{0}, []int64{0}, 0, -1)
	in.AddJoint()
	in.AddOption(10, Charge{Cents: 90, Account: 0, Year: 0})
	got, err := SolveLevels(context.Background(), in, []float64{1, 0.5}, Options{})
	if !errors.Is(err, ErrInfeasible) {
		t.Errorf("got error %v, want ErrInfeasible", err)
	}
	if !got[0].Feasible || got[1].Feasible || got[1].Shortfall == nil {
		t.Errorf("got %+v, want the first level feasible and the second not", got)
	}
	if over := got[1].Shortfall.OverCents[0][0]; over != 40 {
		t.Errorf("got %d cents over, want 40", over)
	}
	if _, err := SolveLevels(context.Background(), in, []float64{-1}, Options{}); !errors.Is(err, ErrInvalid) {
		t.Errorf("level -1: got error %v, want ErrInvalid", err)
	}
}
