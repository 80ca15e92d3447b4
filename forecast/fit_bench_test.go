package forecast_test

import (
	"fmt"
	"testing"

	"reseal/forecast"
	"reseal/forecast/forecasttest"
	"reseal/inventory"
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

// BenchmarkForecastOfAFit projects a network by the life table and by a fit,
// whose parameters' uncertainty costs eight projections more.
func BenchmarkForecastOfAFit(b *testing.B) {
	s := historyStore(b, forecasttest.Usual(2500), 1)
	f, tables := fitOf(b, s, forecast.FitOptions{With: []string{"seal", "deicing"}})
	for _, v := range []struct {
		name string
		fit  *forecast.Fit
	}{{"life table", nil}, {"fit", f}} {
		b.Run(v.name, func(b *testing.B) {
			tables.Fit = v.fit
			m, err := forecast.NewModel(tables)
			if err != nil {
				b.Fatal(err)
			}
			b.ReportAllocs()
			joints := 0
			for b.Loop() {
				err := m.Each(b.Context(), s.Read(), forecast.Options{AsOf: inventory.Date{Year: 2026, Month: 3, Day: 1}}, func(forecast.Projected) error {
					joints++
					return nil
				})
				if err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(joints)/b.Elapsed().Seconds(), "joints/s")
		})
	}
}
