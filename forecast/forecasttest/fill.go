// Package forecasttest fills an inventory with an invented network of any
// size, for tests and benchmarks. No bridge in it exists.
package forecasttest

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"

	"github.com/paulmach/orb"

	"reseal/geo"
	"reseal/inventory"
	"reseal/inventory/store"
)

// JointsPerBridge is how many joints each bridge has.
const JointsPerBridge = 4

var kinds = []string{"strip seal", "pourable seal", "compression seal", "modular joint", "open joint", "other"}

// Fill adds bridges with four joints each, of which most have two inspections
// before 2026, some work, findings and projects. The same seed gives the same
// network.
func Fill(ctx context.Context, s *store.Store, bridges int, seed uint64) error {
	n := &network{r: rand.New(rand.NewPCG(seed, 1))}
	return n.fill(ctx, s, bridges, []columnsOf{
		{"bridges", []string{"id", "uid", "geom", "state", "structure_number", "route", "milepost", "district", "deicing", "adt", "lanes"}},
		{"joints", []string{"id", "uid", "tag", "geom", "bridge_id", "place", "sequence", "length_ft", "lanes"}},
		{"stretches", []string{"id", "uid", "joint_id", "from_ft", "to_ft"}},
		{"seals", []string{"id", "uid", "stretch_id", "kind", "installed_on", "warranty_until"}},
		{"inspections", []string{"id", "uid", "joint_id", "inspected_on"}},
		{"inspection_feet", []string{"inspection_id", "stretch_id", "cs1_ft", "cs2_ft", "cs3_ft", "cs4_ft", "not_seen_ft"}},
		{"work", []string{"uid", "joint_id", "done_on", "treatment", "from_ft", "to_ft", "new_seal"}},
		{"findings", []string{"uid", "joint_id", "kind", "found_on", "urgency"}},
		{"projects", []string{"uid", "bridge_id", "kind", "year", "certainty"}},
	}, n.bridge)
}

// columnsOf are the columns of a table that are filled.
type columnsOf struct {
	table   string
	columns []string
}

// fill has bridge add the rows of one bridge after the other, and writes them,
// parents before their children.
func (n *network) fill(ctx context.Context, s *store.Store, bridges int, tables []columnsOf, bridge func(id int64) error) error {
	return s.Update(ctx, "test", func(ctx context.Context, tx *store.Tx) error {
		for _, layer := range []string{"bridges", "joints"} {
			if err := tx.DropIndex(ctx, layer); err != nil {
				return err
			}
		}
		n.rows, n.bulk = map[string][][]any{}, map[string]*store.Bulk{}
		for _, t := range tables {
			n.bulk[t.table] = tx.Bulk(ctx, t.table, t.columns...)
			n.order = append(n.order, t.table)
		}
		for b := range bridges {
			if err := bridge(int64(b + 1)); err != nil {
				return err
			}
			if b%200 == 199 || b == bridges-1 {
				if err := n.write(); err != nil {
					return err
				}
			}
		}
		for _, b := range n.bulk {
			if err := b.Close(); err != nil {
				return err
			}
		}
		return errors.Join(tx.CreateIndex(ctx, "bridges"), tx.CreateIndex(ctx, "joints"))
	})
}

type network struct {
	r                 *rand.Rand
	order             []string // parents before their children
	rows              map[string][][]any
	bulk              map[string]*store.Bulk
	joint, inspection int64
	uid               int
	err               error
}

func (n *network) row(table string, values ...any) { n.rows[table] = append(n.rows[table], values) }

// write writes the rows that wait, parents first.
func (n *network) write() error {
	for _, table := range n.order {
		for _, values := range n.rows[table] {
			if err := n.bulk[table].Add(values...); err != nil {
				return err
			}
		}
		if err := n.bulk[table].Flush(); err != nil {
			return err
		}
		n.rows[table] = n.rows[table][:0]
	}
	return nil
}

func (n *network) id() string { n.uid++; return fmt.Sprint("invented-", n.uid) }

func (n *network) bridge(id int64) error {
	lon, lat := -121+float64(id%100)*0.02, 44+float64(id/100%100)*0.02
	var deicing any
	if d := n.r.IntN(5); d < 4 {
		deicing = []string{"none", "light", "moderate", "heavy"}[d]
	}
	lanes := 2 + 2*n.r.IntN(2)
	width := 14 * float64(lanes)
	geom, err := geo.Geometry{Geometry: orb.Point{lon, lat}}.Value()
	if err != nil {
		return err
	}
	n.row("bridges", id, n.id(), geom, "41", fmt.Sprintf("B%06d", id), fmt.Sprint("R ", id%40+1), float64(id%900)/4, fmt.Sprint(id%5+1),
		deicing, 500+n.r.IntN(30000), lanes)
	if n.r.IntN(12) == 0 {
		n.row("projects", n.id(), id, "deck replacement", 2028, "committed")
	}
	for k := range JointsPerBridge {
		n.jointAt(id, k, lon+float64(k)*0.0002, lat, width, lanes)
	}
	return n.err
}

func (n *network) jointAt(bridge int64, k int, lon, lat, widthFt float64, lanes int) {
	n.joint++
	id := n.joint
	geom, err := geo.Geometry{Geometry: orb.LineString{{lon, lat}, {lon, lat + 0.0001}}}.Value()
	if err != nil {
		n.err = err
	}
	place := "pier"
	if k == 0 || k == JointsPerBridge-1 {
		place = "abutment"
	}
	installed := inventory.Date{Year: 2002 + n.r.IntN(22), Month: 6, Day: 1 + n.r.IntN(28)}
	n.row("joints", id, n.id(), inventory.TagFor(id), geom, bridge, place, k+1, widthFt, lanes)
	n.row("stretches", id, n.id(), id, 0, widthFt)
	kind := kinds[n.r.IntN(len(kinds))]
	seen := n.r.IntN(20)
	var on, warranty any = installed, nil
	if seen == 0 {
		on = nil // nothing known of it
	}
	if installed.Year > 2020 {
		warranty = installed.AddMonths(60)
	}
	n.row("seals", id, n.id(), id, kind, on, warranty)
	if seen < 2 {
		return
	}
	worse := n.r.Float64() * float64(2026-installed.Year) / 16
	for i, year := range []int{2023, 2025} {
		if year <= installed.Year {
			continue
		}
		n.inspection++
		x := min(worse*(0.7+0.3*float64(i)), 1.5)
		cs4 := float64(int(widthFt * max(0, x-0.7) * 0.5))
		cs3 := float64(int(widthFt * min(x, 1) * 0.2))
		cs2 := float64(int(widthFt * min(x, 1) * 0.3))
		n.row("inspections", n.inspection, n.id(), id, inventory.Date{Year: year, Month: 5, Day: 1 + n.r.IntN(28)})
		n.row("inspection_feet", n.inspection, id, max(widthFt-cs2-cs3-cs4, 0), cs2, cs3, cs4, 0)
	}
	switch n.r.IntN(60) {
	case 0:
		n.row("work", n.id(), id, inventory.Date{Year: 2025, Month: 9, Day: 3}, "reseal", 0, nil, true)
	case 1:
		n.row("work", n.id(), id, inventory.Date{Year: 2025, Month: 9, Day: 3}, "spot repair", 0, 10, false)
	case 2:
		n.row("findings", n.id(), id, "loose steel", inventory.Date{Year: 2026, Month: 2, Day: 14}, "severe")
	case 3:
		n.row("findings", n.id(), id, inventory.PlatePlaced, inventory.Date{Year: 2025, Month: 12, Day: 2}, "soon")
		n.row("work", n.id(), id, inventory.Date{Year: 2025, Month: 12, Day: 2}, inventory.TemporaryPlate, 0, 12, false)
	}
}
