package plan

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The bridge search against trying all options of a bridge: exact up to 8 joints, a
// bound beyond.
func TestBridgeSolverMatchesBruteForce(t *testing.T) {
	for seed := range uint64(300) {
		checkBridge(t, seed, 1+int(seed%6), 5)
	}
	for seed := range uint64(20) {
		checkBridge(t, seed, exactJoints+1, 3)
	}
}

// checkBridge solves an invented bridge of so many joints with up to so many options.
func checkBridge(t *testing.T, seed uint64, joints, options int) {
	t.Helper()
	rng := rand.New(rand.NewPCG(3, seed))
	in := &Instance{Years: 2 + rng.IntN(5), Accounts: [][]int32{{0}}}
	in.Budgets = []Budget{{Name: "network", Cents: make([]int64, in.Years)}}
	cost, cents := make([]float64, in.Years), make([]int64, in.Years)
	for y := range cost {
		cost[y], cents[y] = 40*rng.Float64(), int64(rng.IntN(4000))
	}
	in.AddBridge(cost, cents, 0, -1)
	for range joints {
		in.AddJoint()
		in.AddOption(100 * rng.Float64())
		for range 1 + rng.IntN(options-1) {
			charges := []Charge{{int64(rng.IntN(3000)), 0, int16(rng.IntN(in.Years)), 0}}
			if rng.IntN(3) == 0 {
				charges = append(charges, Charge{int64(rng.IntN(3000)), 0, int16(rng.IntN(in.Years)), 0})
			}
			in.AddOption(60*rng.Float64(), charges...)
		}
	}
	m, err := newModel(in)
	if err != nil {
		t.Fatal(err)
	}
	u := make([]float64, in.Years)
	for y := range u {
		u[y] = 0.02 * rng.Float64()
	}
	var p prices
	m.setPrices(&p, u, 1)
	s := bridgeSolver{m: m}
	choice := make([]int32, len(m.jointID))
	got := s.solve(0, &p, choice)
	// Price the instance by adding the money to the costs, and try everything.
	priced := *in
	priced.Budgets = []Budget{{Name: "network", Cents: unlimited(in.Years)}}
	priced.Cost = append([]float64(nil), in.Cost...)
	for o := range priced.Cost {
		for _, c := range in.charges(int32(o)) {
			priced.Cost[o] += u[c.Year] * float64(c.Cents)
		}
	}
	priced.VisitCost = append([]float64(nil), cost...)
	for y := range cost {
		priced.VisitCost[y] += u[y] * float64(cents[y])
	}
	want, _ := bruteForce(&priced)
	taken := make([]int32, len(choice))
	for j, o := range choice {
		taken[m.jointID[j]] = m.optionID[o]
	}
	chosen, _ := check(&priced, taken)
	if joints <= exactJoints && (math.Abs(got-want) > 1e-9 || math.Abs(chosen-want) > 1e-9) {
		t.Fatalf("seed %d: got bound %v, chosen options cost %v, want %v", seed, got, chosen, want)
	}
	if got > want+1e-9 || chosen < want-1e-9 {
		t.Fatalf("seed %d: got bound %v, chosen options cost %v, on both sides of %v", seed, got, chosen, want)
	}
}
