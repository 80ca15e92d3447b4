package forecast_test

import (
	"context"
	"fmt"
	"path/filepath"
	"testing"

	"reseal/forecast"
	"reseal/forecast/sample"
	"reseal/inventory/store"
)

// BenchmarkWorkList ranks a year's work on the invented network, whose joints
// have gap readings, findings and repairs to choose from.
func BenchmarkWorkList(b *testing.B) {
	for _, bridges := range []int{400, 4000} {
		b.Run(fmt.Sprint("bridges=", bridges), func(b *testing.B) {
			ctx := b.Context()
			s, err := store.Open(ctx, filepath.Join(b.TempDir(), "network.gpkg"), store.Options{Create: true})
			if err != nil {
				b.Fatal(err)
			}
			defer s.Close()
			err = s.Update(ctx, "bench", func(ctx context.Context, tx *store.Tx) error {
				_, err := sample.Make(ctx, tx, sample.Options{Seed: 1, Bridges: bridges, Today: asOf})
				return err
			})
			if err != nil {
				b.Fatal(err)
			}
			m := model(b, s)
			b.ReportAllocs()
			joints := 0
			for b.Loop() {
				w, err := m.NewWorkList(ctx, s.Read(), forecast.WorkListOptions{Options: forecast.Options{AsOf: asOf}, Year: 2027, BudgetCents: 750_000_00})
				if err != nil {
					b.Fatal(err)
				}
				joints = w.Joints
			}
			b.ReportMetric(float64(joints)*float64(b.N)/b.Elapsed().Seconds(), "joints/s")
		})
	}
}
