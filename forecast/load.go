package forecast

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"

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
	slices.SortFunc(keys, byBridge)
	for len(keys) > 0 {
		n := wholeBridges(keys)
		if err := fn(ids(keys[:n])); err != nil {
			return err
		}
		keys = keys[n:]
	}
	return nil
}

func byBridge(a, b key) int {
	return cmp.Or(cmp.Compare(a.bridge, b.bridge), cmp.Compare(a.joint, b.joint))
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
	last, limit := int64(0), pageJoints+1
	for {
		var keys []key
		err := eachRow(ctx, db, func(r *row) {
			keys = append(keys, key{r.int(0), r.int(1)})
		}, "SELECT bridge_id, id FROM joints WHERE status = ? AND bridge_id > ? ORDER BY bridge_id LIMIT ?", inventory.InService, last, limit)
		if err != nil || len(keys) == 0 {
			return err
		}
		if len(keys) == limit { // of the last bridge there may be more
			cut := keys[len(keys)-1].bridge
			keys = keys[:slices.IndexFunc(keys, func(k key) bool { return k.bridge == cut })]
			if len(keys) == 0 { // a page is not enough for one bridge
				limit *= 2
				continue
			}
		}
		last, limit = keys[len(keys)-1].bridge, pageJoints+1
		slices.SortFunc(keys, byBridge)
		if err := fn(ids(keys)); err != nil {
			return err
		}
	}
}

// loader fills the records of one page, a query for each table.
type loader struct {
	ctx     context.Context
	db      bun.IDB
	asOf    inventory.Date
	records []Record
	at      map[int64]int   // records by joint
	bridges map[int64][]int // records by bridge

	// Most joints have one stretch and one seal, and most inspections one row of
	// feet: they are cut from blocks of many.
	stretches []Stretch
	seals     []Seal
	feet      []StretchFeet
}

// loadRecords returns the records of the joints, in the order of bridge and
// id, with what was on record for days up to asOf.
func loadRecords(ctx context.Context, db bun.IDB, ids []int64, asOf inventory.Date) ([]Record, error) {
	l := &loader{ctx: ctx, db: db, asOf: asOf, at: make(map[int64]int, len(ids)), bridges: map[int64][]int{}}
	ids = slices.Sorted(slices.Values(ids))
	for _, step := range []struct {
		what string
		load func([]int64) error
	}{
		{"joints", l.joints},
		{"bridges", func([]int64) error { return l.sites() }},
		{"seals", l.readSeals},
		{"inspections", l.looks},
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

// of calls scan for each row of an answer whose first column is a joint of the
// page, with its record.
func (l *loader) of(scan func(*Record, *row), query string, args ...any) error {
	return eachRow(l.ctx, l.db, func(r *row) {
		if i, ok := l.at[r.int(0)]; ok {
			scan(&l.records[i], r)
		}
	}, query, args...)
}

func (l *loader) joints(ids []int64) error {
	l.records = make([]Record, 0, len(ids))
	err := eachRow(l.ctx, l.db, func(row *row) {
		r := Record{
			ID: row.int(0), Tag: row.text(1), Label: row.text(2), LengthFt: row.float(3), SkewDeg: -1, Lanes: -1, Place: row.text(5),
			Quantity: row.text(6) == inventory.ScopeQuantity, ParentID: row.int(7), geom: row.bytes(8), Bridge: Site{ID: row.int(9)},
		}
		if !row.null(10) {
			r.SkewDeg = row.float(10)
		}
		if !row.null(4) {
			r.Lanes = int(row.int(4))
		}
		if _, ok := slices.BinarySearch(ids, r.ID); ok {
			l.records = append(l.records, r)
		}
	}, `SELECT id, tag, label, length_ft, lanes, place, scope, split_from_id, geom, bridge_id, skew_deg FROM joints WHERE `+among("id", ids))
	slices.SortFunc(l.records, func(a, b Record) int {
		return byBridge(key{a.Bridge.ID, a.ID}, key{b.Bridge.ID, b.ID})
	})
	for i := range l.records {
		r := &l.records[i]
		l.at[r.ID] = i
		l.bridges[r.Bridge.ID] = append(l.bridges[r.Bridge.ID], i)
	}
	return err
}

// bridgeIDs are those of the page, rising.
func (l *loader) bridgeIDs() []int64 { return slices.Sorted(maps.Keys(l.bridges)) }

// sites reads the bridges of the joints, and what a joint has from its bridge.
func (l *loader) sites() error {
	return eachRow(l.ctx, l.db, func(row *row) {
		b := Site{
			ID: row.int(0), State: row.text(1), StructureNumber: row.text(2), FacilityCarried: row.text(3), FeatureCrossed: row.text(4),
			Route: row.text(5), District: row.text(7), County: row.text(8), Deicing: row.text(9), VehiclesADay: int(row.int(10)),
			Climate: row.text(11), TrucksPct: -1, BuiltYear: int(max(row.int(13), row.int(14))),
		}
		if !row.null(6) {
			milepost := row.float(6)
			b.Milepost = &milepost
		}
		if !row.null(12) {
			b.TrucksPct = row.float(12)
		}
		for _, i := range l.bridges[b.ID] {
			r := &l.records[i]
			r.Bridge = b
			if r.SkewDeg < 0 && !row.null(15) {
				r.SkewDeg = row.float(15)
			}
			if r.Lanes < 0 {
				r.Lanes = int(row.int(16))
			}
		}
	}, `SELECT id, state, structure_number, facility_carried, feature_intersected, route, milepost, district, county, deicing, adt, climate,
		truck_pct, year_built, year_reconstructed, skew_deg, lanes FROM bridges WHERE `+among("id", l.bridgeIDs()))
}

func (l *loader) readSeals(ids []int64) error {
	return l.of(func(r *Record, row *row) {
		r.gapNoted = r.gapNoted || row.truth(10)
		if !row.truth(11) { // ended
			return
		}
		t := Stretch{ID: row.int(1), FromFt: row.float(2), ToFt: row.float(3)}
		if n := len(r.Stretches); n == 0 || r.Stretches[n-1].ID != t.ID {
			r.Stretches = cut(&l.stretches, r.Stretches, t)
		}
		if row.null(4) {
			return
		}
		s := Seal{Kind: row.text(4), Header: row.text(5), Installed: row.date(6), Precision: row.text(7), Removed: row.date(8), WarrantyUntil: row.date(9), RemovedWhy: row.text(12)}
		if l.asOf.Before(s.Installed) {
			return
		}
		last := &r.Stretches[len(r.Stretches)-1]
		if n := len(last.Seals); n > 0 && last.Seals[n-1].Removed.IsZero() && !s.Removed.IsZero() { // the one in place comes last
			last.Seals = slices.Insert(last.Seals, n-1, s)
			return
		}
		last.Seals = cut(&l.seals, last.Seals, s)
	}, `SELECT t.joint_id, t.id, t.from_ft, t.to_ft, s.kind, s.header, s.installed_on || '', s.installed_precision, s.removed_on || '', s.warranty_until || '',
		s.installed_gap_in IS NOT NULL, t.ended_on IS NULL OR t.ended_on > ?, s.removed_why
		FROM stretches t LEFT JOIN seals s ON s.stretch_id = t.id
		WHERE `+among("t.joint_id", ids)+` ORDER BY t.joint_id, t.from_ft, t.id, s.installed_on, s.id`, l.asOf)
}

// looks reads the inspections of the joints. A joint split from a bridge's
// quantity that has none of its own falls back on the quantity's.
func (l *loader) looks(ids []int64) error {
	err := l.readLooks(ids, func(joint int64, add func(*Record)) {
		if i, ok := l.at[joint]; ok {
			add(&l.records[i])
		}
	})
	if err != nil {
		return err
	}
	children := map[int64][]int{}
	for i := range l.records {
		if r := &l.records[i]; r.ParentID != 0 && len(r.Looks) == 0 {
			children[r.ParentID] = append(children[r.ParentID], i)
		}
	}
	if len(children) == 0 {
		return nil
	}
	return l.readLooks(slices.Sorted(maps.Keys(children)), func(joint int64, add func(*Record)) {
		for _, i := range children[joint] {
			add(&l.records[i])
		}
	})
}

// readLooks reads the inspections of joints; to hands on the records that get
// those of one.
func (l *loader) readLooks(ids []int64, to func(joint int64, add func(*Record))) error {
	last := int64(0)
	return eachRow(l.ctx, l.db, func(row *row) {
		joint, id := row.int(0), row.int(1)
		f := StretchFeet{StretchID: row.int(4), StateFt: [4]float64{row.float(5), row.float(6), row.float(7), row.float(8)}}
		to(joint, func(r *Record) {
			if id != last {
				known := row.text(3)
				r.Looks = append(r.Looks, Look{
					On: row.date(2), Latest: known == condition.NoLaterThan, OfParent: joint != r.ID,
					Observed: (&condition.Inspection{DateKnown: known}).Observed(),
				})
			}
			newest := &r.Looks[len(r.Looks)-1]
			newest.Feet = cut(&l.feet, newest.Feet, f)
		})
		last = id
	}, `SELECT i.joint_id, i.id, i.inspected_on || '', i.date_known, f.stretch_id, f.cs1_ft, f.cs2_ft, f.cs3_ft, f.cs4_ft
		FROM inspections i JOIN inspection_feet f ON f.inspection_id = i.id
		WHERE `+among("i.joint_id", ids)+` AND i.inspected_on <= ? AND NOT EXISTS (SELECT 1 FROM inspections n WHERE n.replaces_id = i.id)
		ORDER BY i.joint_id, i.inspected_on, i.id, f.stretch_id`, l.asOf)
}

func (l *loader) work(ids []int64) error {
	return l.of(func(r *Record, row *row) {
		r.Work = append(r.Work, Work{On: row.date(1), Treatment: row.text(2), FromFt: row.float(3), ToFt: row.float(4), NewSeal: row.truth(5)})
	}, `SELECT w.joint_id, w.done_on || '', w.treatment, w.from_ft, w.to_ft, w.new_seal FROM work w
		WHERE `+among("w.joint_id", ids)+` AND w.done_on <= ? AND NOT EXISTS (SELECT 1 FROM work n WHERE n.replaces_id = w.id)
		ORDER BY w.joint_id, w.done_on, w.id`, l.asOf)
}

// findings reads those open on the day.
func (l *loader) findings(ids []int64) error {
	return l.of(func(r *Record, row *row) {
		r.Findings = append(r.Findings, Finding{Kind: row.text(1), FoundOn: row.date(2), Urgency: row.text(3)})
	}, `SELECT joint_id, kind, found_on || '', urgency FROM findings
		WHERE `+among("joint_id", ids)+` AND found_on <= ? AND (closed_on IS NULL OR closed_on > ?)
		ORDER BY joint_id, found_on, id`, l.asOf, l.asOf)
}

// projects reads the committed work on the joints' bridges that was not withdrawn.
func (l *loader) projects() error {
	return eachRow(l.ctx, l.db, func(row *row) {
		p := inventory.Project{BridgeID: row.int(0), Kind: row.text(1), Year: int(row.int(2)), Certainty: row.text(3)}
		for _, i := range l.bridges[p.BridgeID] {
			l.records[i].Projects = append(l.records[i].Projects, p)
		}
	}, `SELECT bridge_id, kind, year, certainty FROM projects WHERE `+among("bridge_id", l.bridgeIDs())+` AND certainty = 'committed' AND withdrawn_on IS NULL
		ORDER BY bridge_id, year, id`)
}
