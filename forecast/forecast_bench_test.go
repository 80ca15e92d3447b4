//go:build unix

package forecast_test

import (
	"fmt"
	"math"
	"os"
	"runtime"
	"runtime/debug"
	"slices"
	"syscall"
	"testing"

	"reseal/forecast"
	"reseal/forecast/forecasttest"
	"reseal/inventory/store"
)

// BenchmarkForecast is what "reseal forecast" does: reads the whole network from
// the database, projects each joint over the 30 years of the settings, stores the
// forecasts and counts the replacement years. By the life table, by a fit that
// knows the rates well, the same with rating errors, and one that knows of two seal
// kinds only, whose uncertainty costs eight projections more for the others. RESEAL_LONG=1 adds
// the large networks; each is filled once. Processor time holds on a busy machine
// too; memory must not grow with the network.
func BenchmarkForecast(b *testing.B) {
	sizes := []int{10_000}
	if os.Getenv("RESEAL_LONG") != "" {
		sizes = append(sizes, 100_000, 1_000_000)
	}
	with := forecast.FitOptions{With: []string{"seal", "deicing"}}
	fit, _ := fitOf(b, historyStore(b, forecasttest.EachKind(2000), 1), with)
	rated := withRatingErrors(fit)
	poor, _ := fitOf(b, historyStore(b, forecasttest.Usual(250), 1), with)
	for _, joints := range sizes {
		b.Run(fmt.Sprint("joints=", joints), func(b *testing.B) {
			s := invented(b, joints/forecasttest.JointsPerBridge)
			b.Run("life table", func(b *testing.B) { forecastAll(b, s, nil, joints) })
			b.Run("fit", func(b *testing.B) { forecastAll(b, s, fit, joints) })
			b.Run("fit with rating errors", func(b *testing.B) { forecastAll(b, s, rated, joints) })
			b.Run("fit of two kinds", func(b *testing.B) { forecastAll(b, s, poor, joints) })
		})
	}
}

// withRatingErrors is a fit as if it had found one rating in twenty to be wrong.
func withRatingErrors(f *forecast.Fit) *forecast.Fit {
	out, n := *f, len(f.Theta)
	out.Settings.RatingError = true
	out.Theta = append(slices.Clone(f.Theta), math.Log(0.05/0.95))
	out.Covariance = make([]float64, (n+1)*(n+1))
	for i := range n {
		copy(out.Covariance[i*(n+1):], f.Covariance[i*n:(i+1)*n])
	}
	out.Covariance[(n+1)*(n+1)-1] = 0.01
	return &out
}

// forecastAll stores the forecasts of a network by a fit, or nil for the life table.
func forecastAll(b *testing.B, s *store.Store, fit *forecast.Fit, joints int) {
	tables, err := forecast.LoadTables(b.Context(), s.Read())
	if err != nil {
		b.Fatal(err)
	}
	tables.Fit = fit
	m, err := forecast.NewModel(tables)
	if err != nil {
		b.Fatal(err)
	}
	defer debug.SetGCPercent(debug.SetGCPercent(400)) // as the command does
	b.ReportAllocs()
	heap, used := uint64(0), processorSeconds(b)
	for b.Loop() {
		var sum forecast.Summary
		err := m.Save(b.Context(), s, "bench", forecast.Options{AsOf: asOf}, func(j forecast.Projected) {
			if sum.Add(j); sum.Joints%5_000 == 0 {
				var mem runtime.MemStats
				runtime.ReadMemStats(&mem)
				heap = max(heap, mem.HeapAlloc)
			}
		})
		if err != nil {
			b.Fatal(err)
		}
		if sum.Joints != joints {
			b.Fatalf("got %d joints, want %d", sum.Joints, joints)
		}
	}
	done := float64(joints) * float64(b.N)
	b.ReportMetric(done/b.Elapsed().Seconds(), "joints/s")
	b.ReportMetric((processorSeconds(b)-used)/done*1e6, "cpu-µs/joint")
	b.ReportMetric(float64(heap)/1e6, "heapMB")
}

// processorSeconds is what the process has used of all processors so far.
func processorSeconds(tb testing.TB) float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		tb.Fatal(err)
	}
	return float64(u.Utime.Sec+u.Stime.Sec) + float64(u.Utime.Usec+u.Stime.Usec)/1e6
}
