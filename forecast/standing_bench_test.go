package forecast_test

import (
	"context"
	"fmt"
	"os"
	"testing"

	"reseal/forecast"
	"reseal/inventory"
)

// BenchmarkStandings follows an invented network for ten years under a plan and
// with nothing done, and under the two other life tables of the bands.
func BenchmarkStandings(b *testing.B) {
	for _, bridges := range []int{100, 2_500} {
		if bridges > 100 && os.Getenv("RESEAL_LONG") == "" {
			continue
		}
		s := invented(b, bridges)
		p, solved := planOf(b, s, int64(bridges)*1_000_00)
		m := model(b, s)
		asOf := inventory.Date{Year: 2026, Month: 3, Day: 1}
		b.Run(fmt.Sprintf("joints=%d", p.Joints), func(b *testing.B) {
			for b.Loop() {
				if _, err := m.NewStandings(context.Background(), s.Read(), forecast.Options{AsOf: asOf}, 10, forecast.ByDistrict, p, solved); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(p.Joints)*float64(b.N)/b.Elapsed().Seconds(), "joints/s")
		})
	}
}
