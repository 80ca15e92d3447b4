// Package gaptest fills an inventory with an invented network of gap readings
// of any size, for tests and benchmarks. No bridge in it exists.
package gaptest

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"reseal/inventory"
	"reseal/inventory/store"
)

// ReadingsPerJoint is how many readings each joint has.
const ReadingsPerJoint = 5

// Fill adds steel bridges with two joints each, every joint with a strip seal
// of 4 in and five readings between 2016 and 2026: of a hundred joints three
// do not move and ten drift. The same seed gives the same network.
func Fill(ctx context.Context, s *store.Store, bridges int, seed uint64) error {
	return s.Update(ctx, "test", func(ctx context.Context, tx *store.Tx) error {
		if _, err := tx.ExecContext(ctx, "PRAGMA defer_foreign_keys = on"); err != nil {
			return err
		}
		r := rand.New(rand.NewPCG(seed, 2))
		add := map[string]*store.Bulk{}
		for name, columns := range map[string][]string{
			"bridges":   {"id", "uid", "state", "structure_number", "district", "material", "climate", "length_ft", "skew_deg"},
			"joints":    {"id", "uid", "tag", "bridge_id", "place", "movement", "sequence", "length_ft", "expansion_length_ft"},
			"stretches": {"id", "uid", "joint_id", "from_ft", "to_ft"},
			"seals":     {"id", "uid", "stretch_id", "kind", "size", "installed_on"},
			"readings":  {"uid", "joint_id", "read_on", "gap_in", "deck_temp_f"},
		} {
			add[name] = tx.Bulk(ctx, name, columns...)
		}
		uid := 0
		row := func(table string, values ...any) error { return add[table].Add(values...) }
		id := func() string { uid++; return fmt.Sprint("invented-", uid) }
		for b := 1; b <= bridges; b++ {
			length, skew := 200+float64(r.IntN(500)), float64(r.IntN(31))
			err := row("bridges", b, id(), "41", fmt.Sprintf("G%06d", b), fmt.Sprint(b%5+1), "steel", []string{"cold", "moderate"}[b%2], length, skew)
			for k := 1; k <= 2 && err == nil; k++ {
				j := 2*(b-1) + k
				for _, step := range []func() error{
					func() error {
						return row("joints", j, id(), inventory.TagFor(int64(j)), b, "abutment", "expansion", k, 40, length/2)
					},
					func() error { return row("stretches", j, id(), j, 0, 40) },
					func() error { return row("seals", j, id(), j, "strip seal", "4 in", "2015-06-01") },
				} {
					if err = step(); err != nil {
						return err
					}
				}
				slope := -12 * 6.5e-6 * length / 2 * math.Cos(skew*math.Pi/180) * (1 + 0.25*r.NormFloat64())
				drift := 0.01 * r.NormFloat64()
				if r.IntN(100) < 3 {
					slope *= 0.02
				}
				if r.IntN(100) < 10 {
					drift *= 10
				}
				for n := range ReadingsPerJoint {
					years, temp := float64(2*n)+r.Float64(), 20+75*r.Float64()
					gap := 2 + slope*(temp-60) + drift*years + r.NormFloat64()/16
					day := inventory.Date{Year: 2016, Month: 1, Day: 1}.AddDays(int(years * 365.25))
					if err = row("readings", id(), j, day, math.Max(gap, 0), math.Round(temp+6*r.NormFloat64())); err != nil {
						return err
					}
				}
			}
			if err != nil {
				return err
			}
		}
		for _, b := range add {
			if err := b.Close(); err != nil {
				return err
			}
		}
		return nil
	})
}
