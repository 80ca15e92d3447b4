package forecast

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strconv"

	"github.com/uptrace/bun"

	"reseal/condition"
	"reseal/inventory"
)

// pageJoints is about how many joints are in memory at once for each
// processor. A page holds whole bridges.
const pageJoints = 400

// key is a joint and the bridge that pays for it.
type key struct{ bridge, joint int64 }

// eachPage calls fn with the ids of the joints that f chooses, bridge by
// bridge and in pages that hold whole bridges. Without a filter its memory does
// not grow with the network; with one it holds the chosen ids.
func eachPage(ctx context.Context, db bun.IDB, f inventory.Filter, fn func([]int64) error) error {
	f.Sort = ""
	if f.Near == nil {
		f.WithinFt = 0
	}
	if f == (inventory.Filter{}) {
		return eachPageOfAll(ctx, db, fn)
	}
	var keys []key
	err := inventory.EachJoint(ctx, db, f, func(j *inventory.JointRow) error {
		keys = append(keys, key{j.BridgeID, j.ID})
		return nil
	})
	if err != nil {
		return err
	}
	slices.SortFunc(keys, func(a, b key) int { return cmp.Or(cmp.Compare(a.bridge, b.bridge), cmp.Compare(a.joint, b.joint)) })
	for len(keys) > 0 {
		n := wholeBridges(keys)
		if err := fn(ids(keys[:n])); err != nil {
			return err
		}
		keys = keys[n:]
	}
	return nil
}

// wholeBridges is the length of the first page.
func wholeBridges(keys []key) int {
	n := min(pageJoints, len(keys))
	for n < len(keys) && keys[n].bridge == keys[n-1].bridge {
		n++
	}
	return n
}

func ids(keys []key) []int64 {
	out := make([]int64, len(keys))
	for i, k := range keys {
		out[i] = k.joint
	}
	return out
}

// eachPageOfAll pages through all joints in service by bridge.
func eachPageOfAll(ctx context.Context, db bun.IDB, fn func([]int64) error) error {
	last := int64(0)
	for {
		// One page more than wanted, up to the end of its last bridge.
		rows, err := db.QueryContext(ctx, `SELECT bridge_id, id FROM joints WHERE status = ? AND bridge_id > ? AND bridge_id <= coalesce(
			(SELECT bridge_id FROM joints WHERE status = ? AND bridge_id > ? ORDER BY bridge_id LIMIT 1 OFFSET ?), 9223372036854775807)
			ORDER BY bridge_id, id`, inventory.InService, last, inventory.InService, last, pageJoints-1)
		if err != nil {
			return err
		}
		var keys []key
		err = scanAll(rows, func() error {
			var k key
			defer func() { keys = append(keys, k) }()
			return rows.Scan(&k.bridge, &k.joint)
		})
		if err != nil || len(keys) == 0 {
			return err
		}
		last = keys[len(keys)-1].bridge
		if err := fn(ids(keys)); err != nil {
			return err
		}
	}
}

// scanAll calls scan for each row and closes them.
func scanAll(rows *sql.Rows, scan func() error) error {
	defer rows.Close()
	for rows.Next() {
		if err := scan(); err != nil {
			return err
		}
	}
	return rows.Err()
}

// loader fills the records of one page, a query for each table.
type loader struct {
	ctx     context.Context
	db      bun.IDB
	asOf    inventory.Date
	records []Record
	at      map[int64][]int // records by joint, and by the quantity they were split from
	bridges map[int64][]int
}

// loadRecords returns the records of the joints, in the order of bridge and
// id, with what was on record for days up to asOf.
func loadRecords(ctx context.Context, db bun.IDB, ids []int64, asOf inventory.Date) ([]Record, error) {
	l := &loader{ctx: ctx, db: db, asOf: asOf, at: map[int64][]int{}, bridges: map[int64][]int{}}
	for _, step := range []struct {
		what string
		load func([]int64) error
	}{
		{"joints", l.joints},
		{"seals", l.seals},
		{"inspections", func([]int64) error { return l.looks() }},
		{"work", l.work},
		{"findings", l.findings},
		{"decisions", l.decisions},
		{"projects", func([]int64) error { return l.projects() }},
	} {
		if err := step.load(ids); err != nil {
			return nil, fmt.Errorf("read %s: %w", step.what, err)
		}
	}
	return l.records, nil
}

// each runs a query and calls scan for each row. Queries join a DATE with the
// empty text: the driver then hands it over as it is, and does not try it by a
// dozen formats of instants first, which took a third of the reading.
func (l *loader) each(scan func(*sql.Rows) error, query string, args ...any) error {
	rows, err := l.db.QueryContext(l.ctx, query, args...)
	if err != nil {
		return err
	}
	return scanAll(rows, func() error { return scan(rows) })
}

// list is ids for json_each in a query: in the text of a query SQLite takes as
// long to read them as to answer it.
func list(ids []int64) string {
	text := []byte{'['}
	for i, id := range ids {
		if i > 0 {
			text = append(text, ',')
		}
		text = strconv.AppendInt(text, id, 10)
	}
	return string(append(text, ']'))
}

func (l *loader) joints(ids []int64) error {
	return l.each(func(rows *sql.Rows) error {
		var r Record
		var length sql.NullFloat64
		var lanes, adt, parent sql.NullInt64
		var text [7]sql.NullString
		var scope string
		b := &r.Bridge
		err := rows.Scan(&r.ID, &r.Tag, &text[0], &length, &lanes, &r.Place, &scope, &parent, &r.Geom,
			&r.Bridge.ID, &r.Bridge.State, &r.Bridge.StructureNumber, &text[1], &text[2], &text[3], &r.Bridge.Milepost,
			&text[4], &text[5], &text[6], &adt, &b.Climate, &b.TrucksPct, &b.BuiltYear, &r.SkewDeg)
		if err != nil {
			return err
		}
		r.Label, r.LengthFt, r.Lanes = text[0].String, length.Float64, int(lanes.Int64)
		r.Quantity, r.ParentID = scope == inventory.ScopeQuantity, parent.Int64
		b.FacilityCarried, b.FeatureCrossed, b.Route = text[1].String, text[2].String, text[3].String
		b.District, b.County, b.Deicing, b.VehiclesADay = text[4].String, text[5].String, text[6].String, int(adt.Int64)
		i := len(l.records)
		l.records = append(l.records, r)
		l.at[r.ID] = append(l.at[r.ID], i)
		l.bridges[b.ID] = append(l.bridges[b.ID], i)
		return nil
	}, `SELECT j.id, coalesce(j.tag, ''), j.label, j.length_ft, coalesce(j.lanes, b.lanes), j.place, j.scope, j.split_from_id, j.geom,
		b.id, b.state, b.structure_number, b.facility_carried, b.feature_intersected, b.route, b.milepost, b.district, b.county, b.deicing, b.adt,
		coalesce(b.climate, ''), coalesce(b.truck_pct, -1), max(coalesce(b.year_built, 0), coalesce(b.year_reconstructed, 0)),
		coalesce(j.skew_deg, b.skew_deg, -1)
		FROM joints j JOIN bridges b ON b.id = j.bridge_id WHERE j.id IN (SELECT value FROM json_each(?)) ORDER BY j.bridge_id, j.id`, list(ids))
}

func (l *loader) seals(ids []int64) error {
	return l.each(func(rows *sql.Rows) error {
		var joint int64
		var t Stretch
		var s Seal
		var kind sql.NullString
		if err := rows.Scan(&joint, &t.ID, &t.FromFt, &t.ToFt, &kind, &s.Header, &s.Installed, &s.Precision, &s.Removed, &s.WarrantyUntil); err != nil {
			return err
		}
		r := &l.records[l.at[joint][0]]
		if n := len(r.Stretches); n == 0 || r.Stretches[n-1].ID != t.ID {
			r.Stretches = append(r.Stretches, t)
		}
		if s.Kind = kind.String; kind.Valid && !l.asOf.Before(s.Installed) {
			last := &r.Stretches[len(r.Stretches)-1]
			last.Seals = append(last.Seals, s)
		}
		return nil
	}, `SELECT t.joint_id, t.id, t.from_ft, t.to_ft, s.kind, coalesce(s.header, ''), s.installed_on || '',
		coalesce(s.installed_precision, ''), s.removed_on || '', s.warranty_until || ''
		FROM stretches t LEFT JOIN seals s ON s.stretch_id = t.id
		WHERE t.joint_id IN (SELECT value FROM json_each(?)) AND (t.ended_on IS NULL OR t.ended_on > ?)
		ORDER BY t.joint_id, t.from_ft, t.id, s.removed_on IS NULL, s.installed_on, s.id`, list(ids), l.asOf)
}

// looks reads the inspections of the joints. A joint split from a bridge's
// quantity that has none of its own falls back on the quantity's.
func (l *loader) looks() error {
	var parents []int64
	own := map[int64]bool{}
	read := func(from map[int64][]int, ofParent bool) error {
		which := make([]int64, 0, len(from))
		for id := range from {
			which = append(which, id)
		}
		slices.Sort(which)
		last := int64(0)
		return l.each(func(rows *sql.Rows) error {
			var joint, id int64
			var look Look
			var known string
			var f StretchFeet
			if err := rows.Scan(&joint, &id, &look.On, &known, &f.StretchID, &f.StateFt[0], &f.StateFt[1], &f.StateFt[2], &f.StateFt[3]); err != nil {
				return err
			}
			look.Latest = known == condition.NoLaterThan
			look.Observed = (&condition.Inspection{DateKnown: known}).Observed()
			look.OfParent = ofParent
			for _, i := range from[joint] {
				r := &l.records[i]
				if id != last {
					r.Looks = append(r.Looks, look)
				}
				newest := &r.Looks[len(r.Looks)-1]
				newest.Feet = append(newest.Feet, f)
			}
			own[joint], last = true, id
			return nil
		}, `SELECT i.joint_id, i.id, i.inspected_on || '', i.date_known, f.stretch_id, f.cs1_ft, f.cs2_ft, f.cs3_ft, f.cs4_ft
			FROM inspections i JOIN inspection_feet f ON f.inspection_id = i.id
			WHERE i.joint_id IN (SELECT value FROM json_each(?)) AND i.inspected_on <= ? AND NOT EXISTS (SELECT 1 FROM inspections n WHERE n.replaces_id = i.id)
			ORDER BY i.joint_id, i.inspected_on, i.id, f.stretch_id`, list(which), l.asOf)
	}
	if err := read(l.at, false); err != nil {
		return err
	}
	children := map[int64][]int{}
	for i, r := range l.records {
		if r.ParentID != 0 && !own[r.ID] {
			children[r.ParentID] = append(children[r.ParentID], i)
			parents = append(parents, r.ParentID)
		}
	}
	if len(parents) == 0 {
		return nil
	}
	return read(children, true)
}

func (l *loader) work(ids []int64) error {
	return l.each(func(rows *sql.Rows) error {
		var joint int64
		var w Work
		if err := rows.Scan(&joint, &w.On, &w.Treatment, &w.FromFt, &w.ToFt, &w.NewSeal); err != nil {
			return err
		}
		r := &l.records[l.at[joint][0]]
		r.Work = append(r.Work, w)
		return nil
	}, `SELECT w.joint_id, w.done_on || '', w.treatment, w.from_ft, coalesce(w.to_ft, 0), w.new_seal FROM work w
		WHERE w.joint_id IN (SELECT value FROM json_each(?)) AND w.done_on <= ? AND NOT EXISTS (SELECT 1 FROM work n WHERE n.replaces_id = w.id)
		ORDER BY w.joint_id, w.done_on, w.id`, list(ids), l.asOf)
}

// findings reads those open on the day.
func (l *loader) findings(ids []int64) error {
	return l.each(func(rows *sql.Rows) error {
		var joint int64
		var f Finding
		if err := rows.Scan(&joint, &f.Kind, &f.FoundOn, &f.Urgency); err != nil {
			return err
		}
		r := &l.records[l.at[joint][0]]
		r.Findings = append(r.Findings, f)
		return nil
	}, `SELECT joint_id, kind, found_on || '', urgency FROM findings
		WHERE joint_id IN (SELECT value FROM json_each(?)) AND found_on <= ? AND (closed_on IS NULL OR closed_on > ?)
		ORDER BY joint_id, found_on, id`, list(ids), l.asOf, l.asOf)
}

// projects reads the committed work on the joints' bridges.
func (l *loader) projects() error {
	which := make([]int64, 0, len(l.bridges))
	for id := range l.bridges {
		which = append(which, id)
	}
	slices.Sort(which)
	return l.each(func(rows *sql.Rows) error {
		var p inventory.Project
		if err := rows.Scan(&p.BridgeID, &p.Kind, &p.Year, &p.Certainty); err != nil {
			return err
		}
		for _, i := range l.bridges[p.BridgeID] {
			l.records[i].Projects = append(l.records[i].Projects, p)
		}
		return nil
	}, `SELECT bridge_id, kind, year, certainty FROM projects WHERE bridge_id IN (SELECT value FROM json_each(?)) AND certainty = 'committed'
		ORDER BY bridge_id, year, id`, list(which))
}
