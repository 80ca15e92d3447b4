package sample

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"

	"github.com/paulmach/orb"

	"reseal/condition"
	"reseal/forecast"
	"reseal/geo"
	"reseal/inventory"
	"reseal/inventory/store"
)

// State is the code of the invented state: no FIPS state code is 99.
const State = "99"

// Notice goes with everything that rests on the sample.
const Notice = "INVENTED sample data: no bridge, person or figure in it is real"

// Options of Make. The zero value makes the usual network.
type Options struct {
	Seed    uint64
	Bridges int            // 0 means 400
	Today   inventory.Date // the records end here
}

// Made counts what Make put on record.
type Made struct {
	Bridges, Joints, Inspections, Readings, Work, Findings int
}

// network is one run of Make: its random source, the rows that it writes and
// the model that wears the seals.
type network struct {
	*rand.Rand
	tx    *store.Tx
	today inventory.Date
	wear  map[string][3]float64 // rates per year out of CS1, CS2, CS3, by seal kind
	made  Made

	bridges     *store.Rows[inventory.Bridge]
	joints      *store.Rows[inventory.Joint]
	stretches   *store.Rows[inventory.Stretch]
	seals       *store.Rows[inventory.Seal]
	inspections *store.Rows[condition.Inspection]
	feet        *store.Rows[condition.Feet]
	defects     *store.Rows[condition.Defect]
	readings    *store.Rows[condition.Reading]
	work        *store.Rows[inventory.Work]
	findings    *store.Rows[inventory.Finding]
	projects    *store.Rows[inventory.Project]
}

// Fill puts the network, with the notice that it is invented, into an
// inventory that must be empty.
func Fill(ctx context.Context, s *store.Store, actor string, opt Options) (made Made, err error) {
	err = s.Update(ctx, actor, func(ctx context.Context, tx *store.Tx) error {
		var bridges int
		if err := tx.NewRaw("SELECT count(*) FROM bridges").Scan(ctx, &bridges); err != nil {
			return err
		}
		if bridges > 0 {
			return store.Invalid("make a new inventory for the invented network", "%s has %d bridges already", s.Path(), bridges)
		}
		if err := store.SetNotice(ctx, tx, Notice); err != nil {
			return err
		}
		made, err = Make(ctx, tx, opt)
		return err
	})
	return made, err
}

// Make puts the network on record, in an empty inventory.
func Make(ctx context.Context, tx *store.Tx, opt Options) (Made, error) {
	if opt.Bridges == 0 {
		opt.Bridges = 400
	}
	n := &network{Rand: rand.New(rand.NewPCG(opt.Seed, 0x5ea1)), tx: tx, today: opt.Today, wear: map[string][3]float64{}}
	tables, err := forecast.LoadTables(ctx, tx)
	if err != nil {
		return n.made, err
	}
	for _, l := range tables.Lives {
		// Half of the feet leave a state within its median years: q = ln 2 / T.
		n.wear[l.Kind] = [3]float64{math.Ln2 / l.CS1Years, math.Ln2 / l.CS2Years, math.Ln2 / l.CS3Years}
	}
	if err := n.open(ctx); err != nil {
		return n.made, err
	}
	for i := range opt.Bridges {
		if err := n.bridge(i, opt.Bridges); err != nil {
			return n.made, fmt.Errorf("invent bridge %d: %w", i+1, err)
		}
	}
	return n.made, n.close()
}

func (n *network) open(ctx context.Context) (err error) {
	begin := func(open func() error) {
		if err == nil {
			err = open()
		}
	}
	begin(func() (e error) { n.bridges, e = store.RowsOf[inventory.Bridge](ctx, n.tx); return e })
	begin(func() (e error) { n.joints, e = store.RowsOf[inventory.Joint](ctx, n.tx, n.bridges); return e })
	begin(func() (e error) { n.stretches, e = store.RowsOf[inventory.Stretch](ctx, n.tx, n.joints); return e })
	begin(func() (e error) { n.seals, e = store.RowsOf[inventory.Seal](ctx, n.tx, n.stretches); return e })
	begin(func() (e error) {
		n.inspections, e = store.RowsOf[condition.Inspection](ctx, n.tx, n.joints)
		return e
	})
	begin(func() (e error) {
		n.feet, e = store.RowsOf[condition.Feet](ctx, n.tx, n.stretches, n.inspections)
		return e
	})
	begin(func() (e error) {
		n.defects, e = store.RowsOf[condition.Defect](ctx, n.tx, n.stretches, n.inspections)
		return e
	})
	begin(func() (e error) {
		n.readings, e = store.RowsOf[condition.Reading](ctx, n.tx, n.joints, n.inspections)
		return e
	})
	begin(func() (e error) { n.work, e = store.RowsOf[inventory.Work](ctx, n.tx, n.joints); return e })
	begin(func() (e error) { n.findings, e = store.RowsOf[inventory.Finding](ctx, n.tx, n.joints); return e })
	begin(func() (e error) { n.projects, e = store.RowsOf[inventory.Project](ctx, n.tx, n.bridges); return e })
	return err
}

func (n *network) close() error {
	return errors.Join(n.bridges.Close(), n.joints.Close(), n.stretches.Close(), n.seals.Close(), n.inspections.Close(),
		n.feet.Close(), n.defects.Close(), n.readings.Close(), n.work.Close(), n.findings.Close(), n.projects.Close())
}

// chance is true with probability p.
func (n *network) chance(p float64) bool { return n.Float64() < p }

// between is a number from low to high.
func (n *network) between(low, high float64) float64 { return low + (high-low)*n.Float64() }

func pick[T any](n *network, of ...T) T { return of[n.IntN(len(of))] }

func ptr[T any](v T) *T { return &v }

// round is to a step, in the nearest number that has its digits: 0.1 · 3 would
// have seventeen.
func round(v, to float64) float64 {
	if to < 1 {
		return math.Round(v/to) / math.Round(1/to)
	}
	return math.Round(v/to) * to
}

// routes of the invented state fan out from one point in the open Pacific,
// over a thousand miles from land.
var (
	hub    = orb.Point{-150.5, 34.5}
	routes = []struct {
		name     string
		bearing  float64
		district string
		deicing  string
		adt      float64
	}{
		{"Route 1", 20, "North", "heavy", 42000},
		{"Route 2", 65, "North", "heavy", 18000},
		{"Route 3", 110, "East", "moderate", 9000},
		{"Route 4", 155, "East", "moderate", 26000},
		{"Route 5", 200, "South", "light", 4000},
		{"Route 6", 245, "South", "none", 12000},
		{"Route 7", 290, "West", "light", 31000},
		{"Route 8", 335, "West", "moderate", 2500},
	}
)

// bridge invents one bridge with its joints.
func (n *network) bridge(i, of int) error {
	r := routes[i%len(routes)]
	mile := round(2+90*float64(i/len(routes))/float64(of/len(routes)+1)+n.between(0, 1.2), 0.01)
	spans := 1 + n.IntN(5)
	material := pick(n, "steel", "prestressed concrete", "concrete")
	b := &inventory.Bridge{
		ID: n.bridges.NewID(), UID: n.tx.NewUID(), State: State, StructureNumber: fmt.Sprintf("INV%04d", i+1),
		Name: fmt.Sprintf("Invented bridge %d", i+1), FacilityCarried: r.name, Route: r.name, Milepost: &mile,
		FeatureIntersected: pick(n, "Invented Creek", "Invented River", "an invented railway", "Invented Avenue"),
		District:           r.district, County: "Invented County", Owner: "invented highway agency",
		YearBuilt: 1956 + n.IntN(58), LengthFt: ptr(round(float64(spans)*n.between(45, 140), 1)), MainSpans: ptr(spans), ApproachSpans: ptr(0),
		SkewDeg: ptr(pick(n, 0.0, 0, 0, 10, 15, 20, 30, 40)), CurbWidthFt: ptr(pick(n, 28.0, 32, 40, 44, 52)), Lanes: ptr(2 + 2*n.IntN(2)),
		BearingDeg: ptr(r.bearing), Material: material, Continuous: ptr(spans > 2 && n.chance(0.5)), Design: "stringer",
		ADT: ptr(int(round(r.adt*n.between(0.4, 1.6), 10))), ADTYear: n.today.Year - 1, TruckPct: ptr(round(n.between(3, 22), 1)),
		Climate: pick(n, "cold", "moderate"), Deicing: r.deicing, DetourMi: ptr(round(n.between(0, 25), 1)),
		InspectionMonths: 24, Status: inventory.InService, Source: "invented", Notes: Notice, Stamp: n.tx.Created(),
	}
	b.OutWidthFt = ptr(*b.CurbWidthFt + 3)
	if n.chance(0.1) {
		b.Access = "traffic control and a lift"
	}
	if i%97 == 5 { // as in real files, a few cannot be placed
		b.PositionProblem = "the file gives no position"
	} else {
		b.Geom = geo.Geometry{Geometry: geo.Destination(hub, r.bearing, mile*5280)}
	}
	n.made.Bridges++
	if err := n.bridges.Add(b); err != nil {
		return err
	}
	if n.chance(0.04) {
		p := &inventory.Project{
			ID: n.projects.NewID(), UID: n.tx.NewUID(), BridgeID: b.ID, Kind: pick(n, "overlay", "deck replacement"),
			Year: n.today.Year + 1 + n.IntN(6), Certainty: pick(n, "committed", "likely", "possible"), Notes: "invented", Stamp: n.tx.Created(),
		}
		if err := n.projects.Add(p); err != nil {
			return err
		}
	}
	proposed := inventory.Propose(b, nil)
	for s := range proposed {
		if err := n.joint(b, &proposed[s]); err != nil {
			return err
		}
	}
	return nil
}
