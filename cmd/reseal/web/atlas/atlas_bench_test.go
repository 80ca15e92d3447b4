package atlas_test

import (
	"context"
	"fmt"
	"path/filepath"
	"runtime"
	"testing"

	"reseal/cmd/reseal/web/atlas"
	"reseal/forecast/forecasttest"
	"reseal/geo/mvt"
	"reseal/inventory"
	"reseal/inventory/store"
)

var asOf = inventory.Date{Year: 2026, Month: 6, Day: 15}

// filled is an invented network of so many bridges, of four joints each.
func filled(tb testing.TB, bridges int) *store.Store {
	tb.Helper()
	s, err := store.Open(context.Background(), filepath.Join(tb.TempDir(), "network.gpkg"), store.Options{Create: true})
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { s.Close() })
	if err := forecasttest.Fill(context.Background(), s, bridges, 1); err != nil {
		tb.Fatal(err)
	}
	return s
}

func load(tb testing.TB, s *store.Store) *atlas.Atlas {
	tb.Helper()
	a, err := atlas.Load(context.Background(), s, asOf)
	if err != nil {
		tb.Fatal(err)
	}
	return a
}

// BenchmarkLoad reads and forecasts the network; heap-MB is what stays.
func BenchmarkLoad(b *testing.B) {
	for _, bridges := range []int{250, 2_500, 25_000} {
		b.Run(fmt.Sprint(bridges*forecasttest.JointsPerBridge), func(b *testing.B) {
			s := filled(b, bridges)
			b.ReportAllocs()
			var a *atlas.Atlas
			for b.Loop() {
				a = load(b, s)
			}
			b.ReportMetric(float64(a.Joints())*float64(b.N)/b.Elapsed().Seconds(), "joints/s")
			runtime.GC()
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			b.ReportMetric(float64(m.HeapAlloc)/1e6, "heap-MB")
			runtime.KeepAlive(a)
		})
	}
}

// BenchmarkTile draws the tile with the whole network, one of a part of it,
// and one with joints as lines.
func BenchmarkTile(b *testing.B) {
	a := load(b, filled(b, 25_000))
	for _, t := range []mvt.Tile{{Z: 5, X: 5, Y: 11}, {Z: 8, X: 42, Y: 92}, {Z: 11, X: 338, Y: 741}, {Z: 14, X: 2706, Y: 5928}} {
		b.Run(fmt.Sprint("zoom ", t.Z), func(b *testing.B) {
			b.ReportAllocs()
			size := 0
			for b.Loop() {
				size = len(a.Tile(1, 0, t))
			}
			b.ReportMetric(float64(size), "bytes")
		})
	}
}

func BenchmarkSelect(b *testing.B) {
	a := load(b, filled(b, 25_000))
	box := a.Bound
	for b.Loop() {
		a.Select(atlas.Selection{Box: &box, Hidden: 1})
	}
}
