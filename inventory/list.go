package inventory

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"github.com/uptrace/bun"

	"reseal/geo"
	"reseal/inventory/store"
)

// Filter chooses bridges or joints. The zero value chooses all that are in
// service; each field that is set narrows the choice.
type Filter struct {
	District   string
	County     string
	Route      string
	MilepostAt [2]*float64 // from, to
	Structure  string      // a structure number, or STATE/NUMBER
	SealKind   string      // joints only
	WorstState int         // joints only: the worst state is this or worse, 1 to 4
	Status     string      // "any" for all
	Box        *orb.Bound
	Near       *orb.Point
	WithinFt   float64   // of Near
	Area       *orb.Ring // the middle lies in it
	Unplaced   bool      // where they lie is not on record
	ID         int64     // the one with this key
	SharedWith int64     // joints only: counted at another bridge, and at an end of the one with this key
	Text       string    // somewhere in tag, label, number, name, facility or feature
	Sort       string    // one of Sorts
	Limit      int       // 0: all
	Offset     int
}

// Sorts are the orders that a list can come in.
// "record" is the order in which they were put on record.
var Sorts = []string{"travel", "number", "length", "condition", "year", "record"}

// JointRow is a joint as a list shows it: where it is, what is in it, and its
// latest condition.
type JointRow struct {
	ID                 int64        `json:"-"`
	Geom               geo.Geometry `json:"geometry"`
	Tag                string       `json:"tag"`
	Label              string       `json:"label,omitempty"`
	Status             string       `json:"status"`
	Scope              string       `json:"scope"`
	Origin             string       `json:"origin"`
	GeometrySource     string       `json:"geometry_source,omitempty"`
	BridgeID           int64        `json:"-"`
	State              string       `json:"state"`
	StructureNumber    string       `json:"structure_number"`
	FacilityCarried    string       `json:"facility_carried,omitempty"`
	FeatureIntersected string       `json:"feature_intersected,omitempty"`
	Route              string       `json:"route,omitempty"`
	Milepost           *float64     `json:"milepost,omitempty"`
	District           string       `json:"district,omitempty"`
	County             string       `json:"county,omitempty"`
	Access             string       `json:"access,omitempty"`
	Place              string       `json:"place"`
	Movement           string       `json:"movement"`
	Sequence           int          `json:"sequence,omitempty"`
	LengthFt           *float64     `json:"length_ft,omitempty"`
	SealKind           string       `json:"seal_kind,omitempty"`
	InstalledOn        Date         `json:"installed_on,omitzero"`
	InstalledPrecision string       `json:"installed_precision,omitempty"` // day, month or year
	InspectedOn        Date         `json:"inspected_on,omitzero"`
	DateKnown          string       `json:"date_known,omitempty"`
	StateFt            [4]float64   `json:"state_ft"` // feet in CS1 to CS4
	NotSeenFt          float64      `json:"not_seen_ft"`
	WorstState         int          `json:"worst_state,omitempty"` // 0: never inspected
}

const jointColumns = `v.id, v.geom, v.tag, v.label, v.status, v.scope, v.origin, v.geometry_source, v.bridge_id,
 v.state, v.structure_number, v.facility_carried, v.feature_intersected, v.route, v.milepost, v.district, v.county, v.access,
 v.place, v.movement, v.sequence, v.length_ft, v.seal_kind, v.installed_on, v.installed_precision, v.inspected_on, v.date_known,
 v.cs1_ft, v.cs2_ft, v.cs3_ft, v.cs4_ft, v.not_seen_ft, v.worst_state`

// scan reads jointColumns. A NULL leaves the field's zero value.
func (r *JointRow) scan(rows *sql.Rows) error {
	err := rows.Scan(&r.ID, &r.Geom, orZero(&r.Tag), orZero(&r.Label), &r.Status, &r.Scope, &r.Origin, orZero(&r.GeometrySource), &r.BridgeID,
		&r.State, &r.StructureNumber, orZero(&r.FacilityCarried), orZero(&r.FeatureIntersected), orZero(&r.Route), &r.Milepost,
		orZero(&r.District), orZero(&r.County), orZero(&r.Access), &r.Place, &r.Movement, orZero(&r.Sequence), &r.LengthFt,
		orZero(&r.SealKind), &r.InstalledOn, orZero(&r.InstalledPrecision), &r.InspectedOn, orZero(&r.DateKnown),
		orZero(&r.StateFt[0]), orZero(&r.StateFt[1]), orZero(&r.StateFt[2]), orZero(&r.StateFt[3]), orZero(&r.NotSeenFt), orZero(&r.WorstState))
	r.RoundFeet()
	return err
}

// RoundFeet rounds the feet to 0.001: a sum over stretches has more digits than any
// of them.
func (r *JointRow) RoundFeet() {
	for s := range r.StateFt {
		r.StateFt[s] = math.Round(r.StateFt[s]*1000) / 1000
	}
	r.NotSeenFt = math.Round(r.NotSeenFt*1000) / 1000
}

// EachJoint calls fn for each joint that f chooses, in f's order, without
// holding more than one; the row is fn's to keep.
func EachJoint(ctx context.Context, db bun.IDB, f Filter, fn func(*JointRow) error) error {
	q := db.NewSelect().TableExpr("joint_condition AS v").ColumnExpr(jointColumns)
	chosen := f
	if f.Limit > 0 && f.plain() {
		page := db.NewSelect().TableExpr(f.plainJoints()).ColumnExpr("v.id")
		if err := f.joints(page); err != nil {
			return err
		}
		q.Where("v.id IN (?)", page)
		chosen = Filter{Status: "any", Sort: f.Sort}
	}
	if err := chosen.joints(q); err != nil {
		return err
	}
	rows, err := q.Rows(ctx)
	if err != nil {
		return err
	}
	defer rows.Close()
	page := f.page()
	for rows.Next() {
		r := &JointRow{}
		if err := r.scan(rows); err != nil {
			return fmt.Errorf("read joint: %w", err)
		}
		take, end := page(r.Geom)
		if end {
			break
		}
		if !take {
			continue
		}
		if err := fn(r); err != nil {
			return err
		}
	}
	return rows.Err()
}

// jointsOfBridges are the joints without their seals and inspections. The view
// joint_condition looks a dozen values up for each joint that it sorts: of
// 100,000 joints a first page of 100 takes 250 ms with it, 75 ms when the page is
// cut from these (on a busy machine with two processors).
const jointsOfBridges = `(SELECT j.id, j.geom, j.tag, j.label, j.status, j.sequence, j.length_ft, b.state, b.structure_number,
 b.facility_carried, b.feature_intersected, b.route, b.milepost, b.district, b.county
 FROM bridges b %s JOIN joints j ON j.bridge_id = b.id) AS v`

// plainJoints walks along the bridges where that is the order wanted, so that
// a page ends the walk (SQLite never reorders a CROSS JOIN): 7 ms for the first
// 100 of 100,000 joints where sorting them takes 50.
func (f Filter) plainJoints() string {
	if (f.Sort == "" || f.Sort == "travel") && f.Limit > 0 && f.ID == 0 && f.Structure == "" && f.Box == nil {
		return fmt.Sprintf(jointsOfBridges, "CROSS")
	}
	return fmt.Sprintf(jointsOfBridges, "")
}

// plain tells whether jointsOfBridges have all that f chooses and sorts by.
func (f Filter) plain() bool {
	return !f.cutHere() && f.SealKind == "" && f.WorstState == 0 && f.Sort != "condition" && f.Sort != "year"
}

// Joints returns the joints that f chooses.
func Joints(ctx context.Context, db bun.IDB, f Filter) ([]*JointRow, error) {
	var out []*JointRow
	err := EachJoint(ctx, db, f, func(r *JointRow) error {
		out = append(out, r)
		return nil
	})
	return out, err
}

// EachBridge calls fn for each bridge that f chooses, in f's order.
func EachBridge(ctx context.Context, db bun.IDB, f Filter, fn func(*Bridge) error) error {
	q := db.NewSelect().Model((*Bridge)(nil))
	if err := f.bridges(q); err != nil {
		return err
	}
	rows, err := q.Rows(ctx)
	if err != nil {
		return err
	}
	defer rows.Close()
	bundb := db.NewSelect().DB()
	page := f.page()
	for rows.Next() {
		b := &Bridge{}
		if err := bundb.ScanRow(ctx, rows, b); err != nil {
			return fmt.Errorf("read bridge: %w", err)
		}
		take, end := page(b.Geom)
		if end {
			break
		}
		if !take {
			continue
		}
		if err := fn(b); err != nil {
			return err
		}
	}
	return rows.Err()
}

// Choices are the values that a filter may take, of what is in service.
type Choices struct {
	Districts, Counties, Routes, Kinds []string
}

// ReadChoices lists the districts, counties and routes that bridges are in and on,
// and the agency's seal kinds.
func ReadChoices(ctx context.Context, db bun.IDB) (c Choices, err error) {
	for column, into := range map[string]*[]string{"district": &c.Districts, "county": &c.Counties, "route": &c.Routes} {
		err := db.NewRaw("SELECT DISTINCT ? FROM bridges WHERE ? IS NOT NULL AND status = ? ORDER BY 1",
			bun.Ident(column), bun.Ident(column), InService).Scan(ctx, into)
		if err != nil {
			return c, fmt.Errorf("list each %s: %w", column, err)
		}
	}
	c.Kinds, err = SealKinds(ctx, db)
	return c, err
}

func (f Filter) joints(q *bun.SelectQuery) error {
	f.common(q, "v", "joints", "v.tag || ' ' || coalesce(v.label, '') || ' ' || ")
	if f.SealKind != "" {
		q.Where("v.seal_kind = ?", f.SealKind)
	}
	if f.WorstState > 0 {
		q.Where("v.worst_state >= ?", f.WorstState)
	}
	switch f.Sort {
	case "", "travel":
		q.OrderExpr("v.route IS NULL, v.route, v.milepost, v.structure_number, v.sequence, v.id")
	case "number":
		q.OrderExpr("v.state, v.structure_number, v.sequence, v.id")
	case "length":
		q.OrderExpr("v.length_ft DESC, v.id")
	case "condition":
		q.OrderExpr("v.worst_state DESC, v.cs4_ft DESC, v.cs3_ft DESC, v.id")
	case "year":
		q.OrderExpr("v.installed_on IS NULL, v.installed_on, v.id")
	case "record":
		q.OrderExpr("v.id")
	default:
		return f.unknownSort()
	}
	return nil
}

func (f Filter) bridges(q *bun.SelectQuery) error {
	f.common(q, "b", "bridges", "coalesce(b.name, '') || ' ' || ")
	switch f.Sort {
	case "", "travel":
		q.OrderExpr("b.route IS NULL, b.route, b.milepost, b.structure_number, b.id")
	case "number":
		q.OrderExpr("b.state, b.structure_number")
	case "length":
		q.OrderExpr("b.length_ft DESC, b.id")
	case "condition":
		q.OrderExpr("min(b.deck_rating, b.superstructure_rating, b.substructure_rating) IS NULL, min(b.deck_rating, b.superstructure_rating, b.substructure_rating), b.id")
	case "year":
		q.OrderExpr("b.year_built IS NULL, b.year_built, b.id")
	case "record":
		q.OrderExpr("b.id")
	default:
		return f.unknownSort()
	}
	return nil
}

func (f Filter) unknownSort() error {
	return store.Invalid("", "there is no order %q; it is one of %s", f.Sort, strings.Join(Sorts, ", "))
}

// common narrows by what bridges and joints share. v is the alias, layer the
// feature table whose spatial index serves, words the text columns of its own.
func (f Filter) common(q *bun.SelectQuery, v, layer, words string) {
	where := func(set bool, condition string, args ...any) {
		if set {
			q.Where(strings.ReplaceAll(condition, "@", v+"."), args...)
		}
	}
	status := f.Status
	if status == "" {
		status = InService
	}
	where(status != "any", "@status = ?", status)
	where(f.District != "", "@district = ?", f.District)
	where(f.County != "", "@county = ?", f.County)
	where(f.Route != "", "@route = ?", f.Route)
	where(f.Unplaced, "@geom IS NULL")
	where(f.ID != 0, "@id = ?", f.ID)
	where(f.SharedWith != 0, "@id IN (SELECT id FROM joints WHERE second_bridge_id = ?)", f.SharedWith)
	state, number := SplitStructure(f.Structure)
	where(number != "", "@structure_number = ?", number)
	where(state != "", "@state = ?", state)
	for i, op := range []string{">=", "<="} {
		where(f.MilepostAt[i] != nil, "@milepost "+op+" ?", f.MilepostAt[i])
	}
	text := words + "@structure_number || ' ' || coalesce(@facility_carried, '') || ' ' || coalesce(@feature_intersected, '')"
	where(f.Text != "", "instr(lower("+text+"), lower(?)) > 0", f.Text)
	box := f.Box
	if f.Near != nil {
		b := around(*f.Near, f.WithinFt)
		box = &b
	}
	if f.Area != nil {
		b := f.Area.Bound()
		box = &b
	}
	// The index holds 32-bit numbers rounded outwards: it may take in a
	// feature that just misses the box, never the other way.
	where(box != nil, "@id IN (SELECT id FROM rtree_"+layer+"_geom WHERE minx <= ? AND maxx >= ? AND miny <= ? AND maxy >= ?)",
		corner(box, 2), corner(box, 0), corner(box, 3), corner(box, 1))
	if !f.cutHere() {
		switch {
		case f.Limit > 0:
			q.Limit(int64(f.Limit)).Offset(int64(f.Offset))
		case f.Offset > 0:
			q.Limit(math.MaxInt32).Offset(int64(f.Offset))
		}
	}
}

func corner(b *orb.Bound, i int) float64 {
	if b == nil {
		return 0
	}
	return [...]float64{b.Min[0], b.Min[1], b.Max[0], b.Max[1]}[i]
}

func around(p orb.Point, ft float64) orb.Bound {
	b := orb.Bound{Min: p, Max: p}
	for _, bearing := range []float64{0, 90, 180, 270} {
		b = b.Extend(geo.Destination(p, bearing, ft))
	}
	return b
}

// cutHere tells whether the database cannot say all of what is wanted: a
// distance and an area are only known here, so the page is cut after them.
func (f Filter) cutHere() bool { return f.Near != nil || f.Area != nil }

// page tells of each row in turn whether it is wanted, and when there is no
// more to come.
func (f Filter) page() func(geo.Geometry) (take, end bool) {
	if !f.cutHere() {
		return func(geo.Geometry) (bool, bool) { return true, false }
	}
	found := 0
	return func(g geo.Geometry) (take, end bool) {
		if g.Geometry == nil || !f.holds(g.Bound().Center()) {
			return false, false
		}
		found++
		return found > f.Offset, f.Limit > 0 && found > f.Offset+f.Limit
	}
}

func (f Filter) holds(p orb.Point) bool {
	return (f.Near == nil || geo.DistanceFt(*f.Near, p) <= f.WithinFt) && (f.Area == nil || planar.RingContains(*f.Area, p))
}

// CountJoints returns how many joints f chooses, whatever its limit and offset.
func CountJoints(ctx context.Context, db bun.IDB, f Filter) (int, error) {
	f.Sort, f.Limit, f.Offset = "record", 0, 0
	if f.cutHere() {
		n := 0
		err := EachJoint(ctx, db, f, func(*JointRow) error { n++; return nil })
		return n, err
	}
	from := "joint_condition AS v"
	if f.plain() {
		from = f.plainJoints()
	}
	q := db.NewSelect().TableExpr(from)
	if err := f.joints(q); err != nil {
		return 0, err
	}
	n, err := q.Count(ctx)
	return int(n), err
}

// CountBridges returns how many bridges f chooses, whatever its limit and
// offset.
func CountBridges(ctx context.Context, db bun.IDB, f Filter) (int, error) {
	f.Sort, f.Limit, f.Offset = "record", 0, 0
	if f.cutHere() {
		n := 0
		err := EachBridge(ctx, db, f, func(*Bridge) error { n++; return nil })
		return n, err
	}
	q := db.NewSelect().Model((*Bridge)(nil))
	if err := f.bridges(q); err != nil {
		return 0, err
	}
	n, err := q.Count(ctx)
	return int(n), err
}
