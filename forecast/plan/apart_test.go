package plan

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"
)

// The bounds of the districts add up to one that no plan beats, and what is solved apart
// makes a plan that keeps every limit.
func TestDistrictsBoundTheNetwork(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	apart, raised := 0, 0
	for seed := uint64(0); apart < 150; seed++ {
		in := randomInstance(rand.New(rand.NewPCG(13, seed)))
		m, err := newModel(in)
		if err != nil {
			t.Fatal(err)
		}
		s := newSolver(context.Background(), m, Options{Workers: 1})
		g := s.strict(m.rows.limit)
		groups := s.groups(g)
		if len(groups) < 2 {
			continue
		}
		best, _ := bruteForce(in)
		if math.IsInf(best, 1) {
			continue
		}
		apart++
		d := newDual(s.ctx, m, g, s.scale, 1)
		d.banned = m.hopeless(g)
		up := d.maximise(s.sample(g, nil), 5, math.Inf(1), nil)
		out := outcome{value: math.Inf(1), bound: up.bound, u: up.u}
		x := s.plan(d, up, newPool(m), &out)
		s.apart(d, x, groups, &out)
		if out.bound > best+1e-6 {
			t.Errorf("seed %d: got a bound of %v, but a plan costs %v", seed, out.bound, best)
		}
		if out.bound > up.bound+1e-6 {
			raised++
		}
		if !math.IsInf(out.value, 1) {
			if cost, kept := check(in, m.result(&out, g, in.Budgets).Choice); !kept || math.Abs(cost-out.value) > 1e-6 {
				t.Errorf("seed %d: got a plan of value %v, recomputed %v, limits kept: %v", seed, out.value, cost, kept)
			}
		}
	}
	if raised < 10 {
		t.Errorf("%d of %d bounds rise, want at least 10", raised, apart)
	}
}

// The gap that a planner is told with contracts in two districts, which was 14.5 % while
// the bound left them out. It was 0.85 % when this was written.
func TestContractsGapOfTwoDistricts(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	in := contracted(inventedNetwork(40, 2, 9), 2, 12_000_00)
	r, err := Solve(context.Background(), in, Options{})
	if err != nil {
		t.Fatal(err)
	}
	checkResult(t, in, r)
	if r.GapPct() > 1.5 {
		t.Errorf("got a gap of %.3f %%, want at most 1.5", r.GapPct())
	}
}
