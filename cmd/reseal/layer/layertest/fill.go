// Package layertest makes an invented inventory for tests of layers.
package layertest

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"reseal/geo"
	"reseal/inventory"
	"reseal/inventory/store"
)

// Network makes an invented inventory of so many joints, three a bridge,
// each with a seal and an inspection.
func Network(tb testing.TB, joints int) *store.Store {
	tb.Helper()
	ctx := context.Background()
	s, err := store.Open(ctx, filepath.Join(tb.TempDir(), "big.gpkg"), store.Options{Create: true})
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { s.Close() })
	if err := s.Update(ctx, "invented", func(ctx context.Context, tx *store.Tx) error { return fill(ctx, tx, joints) }); err != nil {
		tb.Fatal(err)
	}
	return s
}

func fill(ctx context.Context, tx *store.Tx, joints int) error {
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
	rows := func(n int, table, columns string, row func(i int) []any) error {
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
		rows((joints+2)/3, "bridges", "id uid geom state structure_number facility_carried feature_intersected route milepost district county status source", func(i int) []any {
			return []any{
				i, tx.NewUID(),
				geo.Geometry{Geometry: place(i)},
				"00", fmt.Sprintf("INV%07d", i), fmt.Sprint("invented road ", i%97), "invented river",
				fmt.Sprint("R ", i%97), float64(i%3000) / 10, fmt.Sprint(i % 9), fmt.Sprint(i % 60), "in service", "invented",
			}
		}),
		rows(joints, "joints", "id uid geom tag bridge_id place movement sequence length_ft skew_deg scope origin geometry_source status created_at created_by", func(i int) []any {
			b := (i-1)/3 + 1
			line := geo.CrossLine(place(b), 360*rng.Float64(), float64(50*(i%3)), length(i), 0)
			return []any{
				i, tx.NewUID(),
				geo.Geometry{Geometry: line},
				inventory.TagFor(int64(i)), b, "pier", "expansion", (i-1)%3 + 1, length(i), 10.0,
				"joint", "entered", "drawn", "in service", tx.At, "invented",
			}
		}),
		rows(joints, "stretches", "id uid joint_id to_ft", func(i int) []any { return []any{i, tx.NewUID(), i, length(i)} }),
		rows(joints, "seals", "stretch_id kind installed_on", func(i int) []any {
			return []any{i, kinds[i%3], fmt.Sprintf("20%02d-0%d-15", rng.IntN(25), 1+rng.IntN(9))}
		}),
		rows(joints, "inspections", "id joint_id inspected_on source", func(i int) []any {
			return []any{i, i, fmt.Sprintf("2026-0%d-1%d", 1+rng.IntN(9), rng.IntN(10)), "inspection"}
		}),
		rows(joints, "inspection_feet", "inspection_id stretch_id cs1_ft cs2_ft cs3_ft cs4_ft", func(i int) []any {
			poor := float64(rng.IntN(10))
			return []any{i, i, length(i) - 2*poor, poor, poor, 0.0}
		}),
		tx.CreateIndex(ctx, "bridges"), tx.CreateIndex(ctx, "joints"))
}
