package plan

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"testing"
)

// inventedNetwork invents a network to measure on: about the given number of joints
// on bridges of 1 to 6 (now and then up to 20), 20 years, 8 treatments and repeats
// of three of them, yearly money for the network and, if districts > 0, for each
// district. Costs, lives and consequences are invented.
func inventedNetwork(joints, districts int, seed uint64) *Instance {
	rng := rand.New(rand.NewPCG(seed, 1))
	in := &Instance{Years: 20}
	for d := range max(1, districts) {
		in.Accounts = append(in.Accounts, []int32{0})
		if districts > 0 {
			in.Accounts[d] = append(in.Accounts[d], int32(d+1))
		}
	}
	need := make([]float64, max(1, districts))
	for in.joints() < joints {
		district := rng.IntN(len(in.Accounts))
		visit := 3000 + 12000*rng.Float64()
		cost, cents := make([]float64, 20), make([]int64, 20)
		for y := range cost {
			cost[y] = visit * math.Pow(1.03, -float64(y))
			cents[y] = int64(100 * visit * math.Pow(1.025, float64(y)))
		}
		in.AddBridge(cost, cents, int32(district), -1)
		n := 1 + rng.IntN(4) + rng.IntN(3)
		if rng.IntN(40) == 0 {
			n += rng.IntN(15)
		}
		need[district] += visit
		for range min(n, joints-in.joints()) {
			need[district] += addInventedJoint(in, int32(district), rng)
		}
	}
	total := 0.0
	for _, v := range need {
		total += v
	}
	const share = 0.045 // of the first round of reseals, each year
	budget := func(name string, dollars float64) {
		b := Budget{Name: name}
		for y := range 20 {
			b.Cents = append(b.Cents, int64(100*dollars*share*math.Pow(1.02, float64(y))))
		}
		in.Budgets = append(in.Budgets, b)
	}
	budget("network", total)
	if districts > 0 {
		for d, v := range need {
			budget(fmt.Sprint("district ", d+1), 1.1*v)
		}
	}
	return in
}

// addInventedJoint adds a joint with its options and returns the dollars of a reseal.
func addInventedJoint(in *Instance, account int32, rng *rand.Rand) float64 {
	in.AddJoint()
	length := 25 + 60*rng.Float64()
	consequence := length * 40 * math.Exp(0.8*rng.NormFloat64()) // dollars a failed year
	age, median := 14*rng.Float64(), 9+6*rng.Float64()
	const treatments = 8
	unit := [treatments]float64{8, 45, 80, 120, 220, 260, 420, 700} // dollars a foot
	life := [treatments]float64{0.08, 0.35, 0.7, 1, 1.3, 1.4, 2, 3} // of the seal's own
	failed := func(age, median float64) float64 {
		return 1 / (1 + math.Pow(median/math.Max(age, 0.01), 4))
	}
	// years of failure from year y on, discounted, after each treatment and untouched
	after := func(y int, start, median float64, until int) float64 {
		sum := 0.0
		for t := y; t < until; t++ {
			sum += failed(start+float64(t-y)+0.5, median) * math.Pow(1.03, -float64(t))
		}
		if until == 20 {
			left := failed(start+float64(20-y), median)
			sum += 6 * left * math.Pow(1.03, -20)
		}
		return sum * consequence
	}
	money := func(k, y int) (float64, int64) {
		dollars := 1500 + unit[k]*length
		return dollars * math.Pow(1.03, -float64(y)), int64(100 * dollars * math.Pow(1.025, float64(y)))
	}
	in.AddOption(after(0, age, median, 20))
	for y := range 20 {
		before := after(0, age, median, y)
		for k := range treatments {
			cost, cents := money(k, y)
			first := Charge{cents, account, int16(y), 0}
			in.AddOption(before+cost+after(y, 0, median*life[k], 20), first)
			if k < 2 || k > 4 {
				continue
			}
			for again := y + 8; again < 20; again += 5 {
				cost2, cents2 := money(k, again)
				value := before + cost + cost2 + after(y, 0, median*life[k], again) + after(again, 0, median*life[k], 20)
				in.AddOption(value, first, Charge{cents2, account, int16(again), 0})
			}
		}
	}
	return 1500 + unit[3]*length
}

func BenchmarkSolve(b *testing.B) {
	for _, size := range []struct{ joints, districts int }{
		{300, 0}, {300, 8}, {1000, 8}, {10_000, 8}, {40_000, 8},
	} {
		b.Run(fmt.Sprintf("joints=%d/districts=%d", size.joints, size.districts), func(b *testing.B) {
			in := inventedNetwork(size.joints, size.districts, 1)
			b.ReportAllocs()
			var r *Result
			for b.Loop() {
				var err error
				if r, err = Solve(context.Background(), in, Options{}); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(r.GapPct(), "gap%cost")
			b.ReportMetric(r.SavingGapPct(), "gap%saving")
			b.ReportMetric(float64(in.options()), "options")
			var mem runtime.MemStats
			runtime.ReadMemStats(&mem)
			b.ReportMetric(float64(mem.Sys)/(1<<20), "MB")
		})
	}
}
