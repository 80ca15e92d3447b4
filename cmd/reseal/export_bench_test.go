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
	"syscall"
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

// BenchmarkExportJoints writes the joints of an invented network as GeoJSON:
// with all fields, and with those of the table of joints alone. With
// RESEAL_LONG=1 it also takes a million, and GDAL's ogr2ogr beside it in the
// same run with the same fields. Processor time is given too, which other
// programs on the machine disturb less than the clock.
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

// ownFields are fields that the table of joints has itself.
const ownFields = "tag,label,place,sequence,length_ft,movement,scope,origin,geometry_source,status"

func exportJoints(b *testing.B, n int, peer bool) {
	s := bigNetwork(b, n)
	for _, way := range []struct {
		name, fields, layer string
	}{{"all fields", "", "joint_condition"}, {"own fields", ownFields, "joints"}} {
		b.Run("reseal "+way.name, func(b *testing.B) {
			b.ReportAllocs()
			measure(b, n, syscall.RUSAGE_SELF, func(out string) { writeJoints(b, s, out, way.fields) })
		})
		ogr2ogr, err := exec.LookPath("ogr2ogr")
		if !peer || err != nil {
			continue
		}
		b.Run("ogr2ogr "+way.name, func(b *testing.B) {
			measure(b, n, syscall.RUSAGE_CHILDREN, func(out string) {
				args := []string{"-f", "GeoJSON", out, s.Path(), way.layer}
				if way.fields != "" {
					args = append(args, "-select", way.fields)
				}
				if msg, err := exec.CommandContext(b.Context(), ogr2ogr, args...).CombinedOutput(); err != nil {
					b.Fatalf("%v: %s", err, msg)
				}
			})
		})
	}
}

// measure runs write for the benchmark and reports joints a second by the
// clock and by the processor time of the program or its children.
func measure(b *testing.B, joints, who int, write func(out string)) {
	spent := func() float64 {
		var r syscall.Rusage
		if err := syscall.Getrusage(who, &r); err != nil {
			b.Fatal(err)
		}
		return float64(r.Utime.Nano()+r.Stime.Nano()) / 1e9
	}
	out := filepath.Join(b.TempDir(), "joints.geojson")
	before := spent()
	for b.Loop() {
		if err := os.RemoveAll(out); err != nil {
			b.Fatal(err)
		}
		write(out)
	}
	done := float64(joints) * float64(b.N)
	b.ReportMetric(done/b.Elapsed().Seconds(), "joints/s")
	b.ReportMetric(done/(spent()-before), "joints/cpu-s")
}

func writeJoints(b *testing.B, s *store.Store, out, fields string) {
	l, q := jointLayer(), exportQuery{}
	if fields != "" {
		q.fields = strings.Split(fields, ",")
	}
	columns, err := l.columns(q.fields)
	if err != nil {
		b.Fatal(err)
	}
	f, err := os.Create(out)
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	if err := exportTo(b.Context(), s, world{err: io.Discard}, l, q, newGeojsonSink(f, columns, false)); err != nil {
		b.Fatal(err)
	}
}
