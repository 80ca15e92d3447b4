package forecast_test

import (
	"fmt"
	"testing"

	"reseal/forecast"
	"reseal/forecast/forecasttest"
)

// BenchmarkFit reads the inspections of an invented network from the database
// and fits them, by seal kind and deicing, with pieces and k estimated.
func BenchmarkFit(b *testing.B) {
	for _, bridges := range []int{400, 4000, 40000} {
		b.Run(fmt.Sprint("bridges=", bridges), func(b *testing.B) {
			s := historyStore(b, forecasttest.Usual(bridges), 1)
			b.ReportAllocs()
			intervals := 0
			for b.Loop() {
				f, _ := fitOf(b, s, forecast.FitOptions{With: []string{"seal", "deicing"}})
				intervals = f.Report.Intervals
			}
			b.ReportMetric(float64(intervals), "intervals")
			b.ReportMetric(float64(intervals)*float64(b.N)/b.Elapsed().Seconds(), "intervals/s")
		})
	}
}
