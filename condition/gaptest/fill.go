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
		n := &network{ctx: ctx, tx: tx, r: rand.New(rand.NewPCG(seed, 2)), sites: make([]site, bridges)}
		for _, fill := range []func() error{n.bridges, n.joints, n.seals, n.readings} { // parents first
			if err := fill(); err != nil {
				return err
			}
		}
		return nil
	})
}

type site struct{ lengthFt, skewDeg float64 }

type network struct {
	ctx   context.Context
	tx    *store.Tx
	r     *rand.Rand
	sites []site
	uid   int
}

func (n *network) id() string { n.uid++; return fmt.Sprint("invented-", n.uid) }

func (n *network) bridges() error {
	add := n.tx.Bulk(n.ctx, "bridges", "id", "uid", "state", "structure_number", "district", "material", "climate", "length_ft", "skew_deg")
	for i := range n.sites {
		b := &n.sites[i]
		b.lengthFt, b.skewDeg = 200+float64(n.r.IntN(500)), float64(n.r.IntN(31))
		climate := []string{"cold", "moderate"}[i%2]
		if err := add.Add(i+1, n.id(), "41", fmt.Sprintf("G%06d", i+1), fmt.Sprint(i%5+1), "steel", climate, b.lengthFt, b.skewDeg); err != nil {
			return err
		}
	}
	return add.Close()
}

func (n *network) joints() error {
	add := n.tx.Bulk(n.ctx, "joints", "id", "uid", "tag", "bridge_id", "place", "movement", "sequence", "length_ft", "expansion_length_ft")
	for j := 1; j <= 2*len(n.sites); j++ {
		bridge := (j + 1) / 2
		if err := add.Add(j, n.id(), inventory.TagFor(int64(j)), bridge, "abutment", "expansion", 2-j%2, 40, n.sites[bridge-1].lengthFt/2); err != nil {
			return err
		}
	}
	return add.Close()
}

func (n *network) seals() error {
	add := n.tx.Bulk(n.ctx, "stretches", "id", "uid", "joint_id", "from_ft", "to_ft")
	for j := 1; j <= 2*len(n.sites); j++ {
		if err := add.Add(j, n.id(), j, 0, 40); err != nil {
			return err
		}
	}
	if err := add.Close(); err != nil {
		return err
	}
	add = n.tx.Bulk(n.ctx, "seals", "id", "uid", "stretch_id", "kind", "size", "installed_on")
	for j := 1; j <= 2*len(n.sites); j++ {
		if err := add.Add(j, n.id(), j, "strip seal", "4 in", "2015-06-01"); err != nil {
			return err
		}
	}
	return add.Close()
}

func (n *network) readings() error {
	add := n.tx.Bulk(n.ctx, "readings", "uid", "joint_id", "read_on", "gap_in", "deck_temp_f")
	r := n.r
	for j := 1; j <= 2*len(n.sites); j++ {
		b := n.sites[(j-1)/2]
		slope := -12 * 6.5e-6 * b.lengthFt / 2 * math.Cos(b.skewDeg*math.Pi/180) * (1 + 0.25*r.NormFloat64())
		drift := 0.01 * r.NormFloat64()
		if r.IntN(100) < 3 {
			slope *= 0.02
		}
		if r.IntN(100) < 10 {
			drift *= 10
		}
		for k := range ReadingsPerJoint {
			years, temp := float64(2*k)+r.Float64(), 20+75*r.Float64()
			gap := 2 + slope*(temp-60) + drift*years + r.NormFloat64()/16
			day := inventory.Date{Year: 2016, Month: 1, Day: 1}.AddDays(int(years * 365.25))
			if err := add.Add(n.id(), j, day, math.Max(gap, 0), math.Round(temp+6*r.NormFloat64())); err != nil {
				return err
			}
		}
	}
	return add.Close()
}
