package condition

import (
	"context"

	"reseal/inventory"
	"reseal/inventory/element"
	"reseal/inventory/store"
)

// elementTables writes what an element submission brings in bulk, with the
// keys of new rows given out here.
type elementTables struct {
	tx          *store.Tx
	kinds       map[int]string
	next        map[string]int64
	bridges     *store.Bulk
	joints      *store.Bulk
	stretches   *store.Bulk
	seals       *store.Bulk
	inspections *store.Bulk
	feet        *store.Bulk
	records     *store.Bulk // of joints
	contexts    *store.Bulk // of the other elements
	ctx         context.Context
}

func (o *elementTables) begin(ctx context.Context, tx *store.Tx) error {
	o.ctx, o.tx, o.next, o.kinds = ctx, tx, map[string]int64{}, map[int]string{}
	for _, t := range []string{"bridges", "joints", "stretches", "inspections"} {
		id, err := tx.NextID(ctx, t)
		if err != nil {
			return err
		}
		o.next[t] = id
	}
	for e := element.StripSeal; e <= element.OtherJoint; e++ {
		kind, err := inventory.SealKind(ctx, tx, e)
		if err != nil {
			return err
		}
		o.kinds[e] = kind
	}
	stamp := []string{"created_at", "created_by"}
	both := append(stamp, "changed_at", "changed_by")
	o.bridges = tx.Bulk(ctx, "bridges", append([]string{"id", "uid", "state", "structure_number", "source", "position_problem"}, both...)...)
	o.joints = tx.Bulk(ctx, "joints", append([]string{
		"id", "uid", "geom", "tag", "bridge_id", "length_ft", "skew_deg", "scope", "element", "parent_element", "origin", "geometry_source",
	}, both...)...).After(o.bridges)
	o.stretches = tx.Bulk(ctx, "stretches", append([]string{"id", "uid", "joint_id", "from_ft", "to_ft"}, both...)...).After(o.joints)
	o.seals = tx.Bulk(ctx, "seals", append([]string{"uid", "stretch_id", "kind", "element"}, both...)...).After(o.stretches)
	o.inspections = tx.Bulk(ctx, "inspections", append([]string{"id", "uid", "joint_id", "inspected_on", "date_known", "source", "replaces_id"}, stamp...)...).After(o.joints)
	o.feet = tx.Bulk(ctx, "inspection_feet", "inspection_id", "stretch_id", "cs1_ft", "cs2_ft", "cs3_ft", "cs4_ft").After(o.stretches, o.inspections)
	// The key of these records holds an expression, which Upsert cannot name.
	o.records = tx.Bulk(ctx, "element_records", append([]string{
		"bridge_id", "joint_id", "element", "parent_element", "submitted_year", "quantity", "cs1", "cs2", "cs3", "cs4", "carried_forward", "inspection_id",
	}, stamp...)...).OnConflict(elementKey, "joint_id", "quantity", "cs1", "cs2", "cs3", "cs4", "carried_forward", "inspection_id").After(o.joints, o.inspections)
	o.contexts = tx.Bulk(ctx, "element_records", append([]string{
		"bridge_id", "element", "parent_element", "submitted_year", "quantity", "cs1", "cs2", "cs3", "cs4",
	}, stamp...)...).OnConflict(elementKey, "quantity", "cs1", "cs2", "cs3", "cs4").After(o.bridges)
	return nil
}

const elementKey = "bridge_id, element, coalesce(parent_element, 0), submitted_year"

func (o *elementTables) id(table string) int64 {
	id := o.next[table]
	o.next[table]++
	return id
}

// stub puts a bridge on record of which nothing but its number is known.
func (o *elementTables) stub(state, number string) (int64, error) {
	id := o.id("bridges")
	at, by := o.tx.At, o.tx.Actor
	return id, o.bridges.Add(id, o.tx.NewUID(), state, number, "element file", "known only from element data", at, by, at, by)
}

// newJoint puts a quantity on record as a joint with one stretch and a seal of
// which only the kind is known, and tells q its keys.
func (o *elementTables) newJoint(j *inventory.Joint, q *quantity) error {
	at, by := o.tx.At, o.tx.Actor
	q.jointID, q.stretchID, q.status = o.id("joints"), o.id("stretches"), inventory.InService
	q.element, q.parent = j.Element, j.ParentElement
	to := 1.0
	if j.LengthFt != nil {
		to = *j.LengthFt
	}
	kind := o.kinds[j.Element]
	var source, parent any
	if j.GeometrySource != "" {
		source = j.GeometrySource
	}
	if j.ParentElement != 0 {
		parent = j.ParentElement
	}
	if err := o.joints.Add(q.jointID, o.tx.NewUID(), j.Geom, inventory.TagFor(q.jointID), j.BridgeID, j.LengthFt, j.SkewDeg, j.Scope,
		j.Element, parent, j.Origin, source, at, by, at, by); err != nil {
		return err
	}
	if err := o.stretches.Add(q.stretchID, o.tx.NewUID(), q.jointID, 0.0, to, at, by, at, by); err != nil {
		return err
	}
	return o.seals.Add(o.tx.NewUID(), q.stretchID, kind, j.Element, at, by, at, by)
}

func (o *elementTables) inspection(q *quantity, rec jointRecord, on inventory.Date, known string, replaces int64) (int64, error) {
	id := o.id("inspections")
	var replaced any
	if replaces != 0 {
		replaced = replaces
	}
	if err := o.inspections.Add(id, o.tx.NewUID(), q.jointID, on, known, FromElementFile, replaced, o.tx.At, o.tx.Actor); err != nil {
		return 0, err
	}
	s := rec.states
	return id, o.feet.Add(id, q.stretchID, s[0], s[1], s[2], s[3])
}

func (o *elementTables) record(bridge int64, q *quantity, rec jointRecord, year int, carried bool, inspection int64) error {
	var parent, inspected any
	if rec.parent != 0 {
		parent = rec.parent
	}
	if inspection != 0 {
		inspected = inspection
	}
	s := rec.states
	return o.records.Add(bridge, q.jointID, rec.element, parent, year, rec.total, s[0], s[1], s[2], s[3], carried, inspected, o.tx.At, o.tx.Actor)
}

func (o *elementTables) context(bridge int64, year int, rec element.Record) error {
	var parent any
	if rec.Parent != 0 {
		parent = rec.Parent
	}
	s := rec.StateQty
	return o.contexts.Add(bridge, rec.Element, parent, year, rec.TotalQty, s[0], s[1], s[2], s[3], o.tx.At, o.tx.Actor)
}

// close writes what is waiting.
func (o *elementTables) close() error {
	for _, b := range []*store.Bulk{o.bridges, o.joints, o.stretches, o.seals, o.inspections, o.feet, o.contexts, o.records} {
		if err := b.Close(); err != nil {
			return err
		}
	}
	return nil
}
