package plan

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

func TestSolveMatchesBruteForce(t *testing.T) {
	infeasible := 0
	for seed := range uint64(200) {
		in := randomInstance(rand.New(rand.NewPCG(7, seed)))
		want, _ := bruteForce(in)
		got, err := Solve(in, Options{Workers: 1})
		if math.IsInf(want, 1) {
			infeasible++
			if !errors.Is(err, ErrInfeasible) || got.Feasible {
				t.Errorf("seed %d: got cost %v, error %v, want ErrInfeasible", seed, got.Cost, err)
			}
			continue
		}
		if err != nil {
			t.Errorf("seed %d: %v, want cost %v", seed, err, want)
			continue
		}
		cost, ok := check(in, got.Choice)
		if !ok || math.Abs(cost-got.Cost) > 1e-9 {
			t.Errorf("seed %d: plan keeps its limits: %v; recomputed cost %v, reported %v", seed, ok, cost, got.Cost)
		}
		if math.Abs(got.Cost-want) > 1e-6 || got.Bound > want+1e-6 || got.Bound < want-1e-6 {
			t.Errorf("seed %d: got cost %v bound %v, want %v", seed, got.Cost, got.Bound, want)
		}
	}
	t.Logf("%d of 200 infeasible", infeasible)
}
