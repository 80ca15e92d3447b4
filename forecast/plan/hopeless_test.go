package plan

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// bitingInstance invents a small instance whose contracts change the best plan: without
// them it would cost less.
func bitingInstance(rng *rand.Rand) (in *Instance, best float64) {
	for {
		in = randomInstance(rng)
		if len(in.Contracts) == 0 {
			continue
		}
		free := *in
		free.Contracts = nil
		without, _ := bruteForce(&free)
		if best, _ = bruteForce(in); without < best-1e-6 && !math.IsInf(best, 1) {
			return in, best
		}
	}
}

func TestContractsThatBiteMatchBruteForce(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	for seed := range uint64(100) {
		in, want := bitingInstance(rand.New(rand.NewPCG(11, seed)))
		got, err := Solve(context.Background(), in, Options{Workers: 1})
		if err != nil {
			t.Errorf("seed %d: %v, want cost %v", seed, err, want)
			continue
		}
		checkResult(t, in, got)
		if math.Abs(got.Cost-want) > 1e-6 || math.Abs(got.Bound-want) > 1e-6 {
			t.Errorf("seed %d: got cost %v bound %v, want %v", seed, got.Cost, got.Bound, want)
		}
	}
}

// No plan that keeps every limit and contract holds an option that is marked, and the
// contracts mark some that their money alone does not; nor does a plan that lets a
// contract hold one that is marked for that.
func TestHopelessOptionsAreInNoPlan(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent")
	}
	more, crowded := 0, 0
	for seed := range uint64(60) {
		in, _ := bitingInstance(rand.New(rand.NewPCG(12, seed)))
		m, err := newModel(in)
		if err != nil {
			t.Fatal(err)
		}
		g := newSolver(context.Background(), m, Options{}).strict(m.rows.limit)
		marked := m.hopeless(g)
		more += count(marked) - count(m.tooMuch(g))
		let := make([][]bool, len(m.rows.contracts)) // marked where the contract is let
		possible := make([]bool, len(let))
		for k := range let {
			held := g.clone()
			held.decide(&m.rows.contracts[k], true)
			let[k] = m.tooMuch(g)
			possible[k] = m.narrow(held, let[k])
			crowded += count(let[k]) - count(marked)
		}
		number := map[int32]int32{}
		for o, id := range m.optionID {
			number[id] = int32(o)
		}
		l := newLedger(m, g, m.idle())
		plan := make([]int32, len(m.jointID))
		eachPlan(in, func(choice []int32, _ float64) {
			for j, joint := range m.jointID {
				o, ok := number[choice[joint]]
				if !ok {
					return // another option is no worse
				}
				plan[j] = o
				if marked[o] {
					t.Fatalf("seed %d: option %d is marked, but the plan %v keeps every limit", seed, choice[joint], choice)
				}
			}
			l.load(plan)
			for k, c := range m.rows.contracts {
				if l.use[c.rows[0]] == 0 {
					continue
				}
				if !possible[k] || slices.ContainsFunc(plan, func(o int32) bool { return let[k][o] }) {
					t.Fatalf("seed %d: the plan %v lets contract %d of year %d, which is held to be impossible", seed, choice, c.contract, c.year)
				}
			}
		})
	}
	if more < 50 || crowded < 50 {
		t.Errorf("the contracts mark %d options more, and when let %d, want at least 50", more, crowded)
	}
}

func count(marked []bool) int {
	return len(slices.DeleteFunc(slices.Clone(marked), func(b bool) bool { return !b }))
}
