package markov

import (
	"fmt"
	"math/rand/v2"
	"os"
	"testing"
)

// BenchmarkFit fits networks of joints seen five times, on dates about two
// years apart, with two covariates (four patterns), the differences between
// joints estimated, three pieces. With RESEAL_LONG=1 it goes to 5,000,000
// intervals.
func BenchmarkFit(b *testing.B) {
	sizes := []int{10_000, 100_000, 1_000_000}
	if os.Getenv("RESEAL_LONG") == "1" {
		sizes = append(sizes, 5_000_000)
	}
	for _, intervals := range sizes {
		p := benchPanel(b, intervals)
		b.Run(fmt.Sprint(intervals), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				f, err := FitPanel(p, Model{EstimateK: true, Pieces: 3})
				if err != nil || !f.Converged {
					b.Fatal(err, "not converged")
				}
				b.ReportMetric(float64(f.Evaluations), "evaluations")
			}
			b.ReportMetric(float64(p.Counts().Intervals)*float64(b.N)/b.Elapsed().Seconds(), "intervals/s")
		})
	}
}

func benchPanel(b *testing.B, intervals int) *Panel {
	b.Helper()
	p, err := NewPanel(Worsening(4), 2)
	if err != nil {
		b.Fatal(err)
	}
	r := rand.New(rand.NewPCG(5, 5))
	n := network{joints: intervals / 5, intervals: 5, rates: []float64{.2, .15, .1}, k: 4, pieces: 3, years: func(r *rand.Rand) float64 {
		return float64(600+r.IntN(260)) / 365.25
	}}
	n.simulate(r, func(joint int, seen []Interval) {
		p.Begin(joint / 4)
		x := []float64{float64(joint % 2), float64(joint / 2 % 2)}
		for _, v := range seen {
			v.X = x
			if _, err := p.Add(v); err != nil {
				b.Fatal(err)
			}
		}
	})
	return p
}
