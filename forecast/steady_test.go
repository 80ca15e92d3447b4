package forecast

import (
	"math"
	"math/rand/v2"
	"testing"
)

// 1000 joints that cost 1 each and fail with 10 % a year where they are not
// failed. To hold 200 failed, 0.1 × 800 are renewed a year; to bring them to 100
// in ten years, 0.1 × 850 on average and ten more.
func TestSteadyByHand(t *testing.T) {
	s := Steady{FailedShare: 0.2, Whole: 1000, FailingAYear: 100, Years: 10}
	for _, test := range []struct {
		name   string
		target float64
		want   float64
	}{{"hold", 0.2, 80}, {"better", 0.1, 95}, {"nothing failed", 0, 110}, {"let go", 1, 0}} {
		if got := float64(s.Reach(test.target)); got != test.want {
			t.Errorf("%s: got %v, want %v", test.name, got, test.want)
		}
	}
	if s.Hold() != 80 {
		t.Errorf("hold: got %v", s.Hold())
	}
}

// Against simulation: spending Reach(target) a year on failed joints taken at
// random brings the share to the target.
func TestSteadyAgainstSimulation(t *testing.T) {
	const n, years = 200_000, 10
	s := Steady{FailedShare: 0.3, Whole: n, FailingAYear: 0.08 * n, Years: years}
	for _, target := range []float64{0.3, 0.15, 0.05} {
		r := rand.New(rand.NewPCG(1, 2))
		failed := int(s.FailedShare * n)
		for range years {
			fails := 0
			for range n - failed {
				if r.Float64() < 0.08 {
					fails++
				}
			}
			failed = max(0, failed+fails-int(s.Reach(target)))
		}
		if got := float64(failed) / n; math.Abs(got-target) > 0.01 {
			t.Errorf("aimed at %.2f, came to %.3f", target, got)
		}
	}
}
