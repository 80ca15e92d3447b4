package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"reseal/geo"
	"reseal/inventory"
	"reseal/inventory/store"
)

// bigNetwork makes an invented inventory of so many joints, three a bridge,
// each with a seal and an inspection.
func bigNetwork(tb testing.TB, joints int) *store.Store {
	tb.Helper()
	ctx := context.Background()
	s, err := store.Open(ctx, filepath.Join(tb.TempDir(), "big.gpkg"), store.Options{Create: true})
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { s.Close() })
	if err := s.Update(ctx, "invented", func(ctx context.Context, tx *store.Tx) error { return fillBig(ctx, tx, joints) }); err != nil {
		tb.Fatal(err)
	}
	return s
}

func fillBig(ctx context.Context, tx *store.Tx, joints int) error {
	for _, layer := range []string{"bridges", "joints"} {
		if err := tx.DropIndex(ctx, layer); err != nil {
			return err
		}
	}
	rng := rand.New(rand.NewPCG(1, 2))
	kinds := []string{"strip seal", "pourable seal", "compression seal"}
	place := func(b int) orb.Point {
		return orb.Point{-60 - 20*math.Mod(float64(b)*0.618, 1), -40 + 10*math.Mod(float64(b)*0.414, 1)}
	}
	length := func(i int) float64 { return float64(20 + i%60) }
	fill := func(n int, table, columns string, row func(i int) []any) error {
		bulk := tx.Bulk(ctx, table, strings.Split(columns, " ")...)
		for i := 1; i <= n; i++ {
			if err := bulk.Add(row(i)...); err != nil {
				return err
			}
		}
		return bulk.Close()
	}
	// Table by table, each after those that it refers to.
	return errors.Join(
		fill((joints+2)/3, "bridges", "id uid geom state structure_number facility_carried feature_intersected route milepost district county status source", func(i int) []any {
			return []any{
				i, tx.NewUID(),
				geo.Geometry{Geometry: place(i)},
				"00", fmt.Sprintf("INV%07d", i), fmt.Sprint("invented road ", i%97), "invented river",
				fmt.Sprint("R ", i%97), float64(i%3000) / 10, fmt.Sprint(i % 9), fmt.Sprint(i % 60), "in service", "invented",
			}
		}),
		fill(joints, "joints", "id uid geom tag bridge_id place movement sequence length_ft skew_deg scope origin geometry_source status created_at created_by", func(i int) []any {
			b := (i-1)/3 + 1
			line := geo.CrossLine(place(b), 360*rng.Float64(), float64(50*(i%3)), length(i), 0)
			return []any{
				i, tx.NewUID(),
				geo.Geometry{Geometry: line},
				inventory.TagFor(int64(i)), b, "pier", "expansion", (i-1)%3 + 1, length(i), 10.0,
				"joint", "entered", "drawn", "in service", tx.At, "invented",
			}
		}),
		fill(joints, "stretches", "id uid joint_id to_ft", func(i int) []any { return []any{i, tx.NewUID(), i, length(i)} }),
		fill(joints, "seals", "stretch_id kind installed_on", func(i int) []any {
			return []any{i, kinds[i%3], fmt.Sprintf("20%02d-0%d-15", rng.IntN(25), 1+rng.IntN(9))}
		}),
		fill(joints, "inspections", "id joint_id inspected_on source", func(i int) []any {
			return []any{i, i, fmt.Sprintf("2026-0%d-1%d", 1+rng.IntN(9), rng.IntN(10)), "inspection"}
		}),
		fill(joints, "inspection_feet", "inspection_id stretch_id cs1_ft cs2_ft cs3_ft cs4_ft", func(i int) []any {
			poor := float64(rng.IntN(10))
			return []any{i, i, length(i) - 2*poor, poor, poor, 0.0}
		}),
		tx.CreateIndex(ctx, "bridges"), tx.CreateIndex(ctx, "joints"))
}

// BenchmarkExportJoints writes the joints of an invented network as GeoJSON.
// With RESEAL_LONG=1 it also takes a million, and GDAL's ogr2ogr beside it in
// the same run: once from the plain table of joints, once from the view of
// their latest condition, which has the same fields as the export.
func BenchmarkExportJoints(b *testing.B) {
	sizes := []int{10_000, 100_000}
	long := os.Getenv("RESEAL_LONG") != ""
	if long {
		sizes = append(sizes, 1_000_000)
	}
	for _, n := range sizes {
		b.Run(fmt.Sprint(n), func(b *testing.B) { exportJoints(b, n, long) })
	}
}

func exportJoints(b *testing.B, n int, peer bool) {
	s := bigNetwork(b, n)
	rate := func(b *testing.B) { b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "joints/s") }
	b.Run("reseal", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			writeJoints(b, s)
		}
		rate(b)
	})
	ogr2ogr, err := exec.LookPath("ogr2ogr")
	if !peer || err != nil {
		return
	}
	for _, layer := range []string{"joints", "joint_condition"} {
		b.Run("ogr2ogr "+layer, func(b *testing.B) {
			for b.Loop() {
				out := filepath.Join(b.TempDir(), "out.geojson")
				if msg, err := exec.CommandContext(b.Context(), ogr2ogr, "-f", "GeoJSON", out, s.Path(), layer).CombinedOutput(); err != nil {
					b.Fatalf("%v: %s", err, msg)
				}
			}
			rate(b)
		})
	}
}

func writeJoints(b *testing.B, s *store.Store) {
	l := jointLayer()
	columns, err := l.columns(nil)
	if err != nil {
		b.Fatal(err)
	}
	f, err := os.Create(filepath.Join(b.TempDir(), "joints.geojson"))
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	to := newGeojsonSink(f, columns, false)
	if err := exportTo(b.Context(), s, world{err: io.Discard}, l, exportQuery{}, to); err != nil {
		b.Fatal(err)
	}
}
