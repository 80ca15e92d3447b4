package condition

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"

	"reseal/inventory"
	"reseal/inventory/element"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

// ImportElements reads a submission of FHWA bridge element data for a year.
// Elements 300 to 306 become joints known as a quantity of their bridge, the
// same joint year after year, with their condition; the parts that a leaking
// joint harms are kept as context; the rest is passed by.
//
// A submission is not an inspection. Where the bridge's inventory record dates
// an inspection in or before the year, and after the last one on record, that
// is the date. Otherwise a record that changed is kept with the year's end as
// its latest possible date, and one that did not change is marked as carried
// forward and is no observation.
//
// The file is streamed; only its joint records, about one in fifteen, are held
// until the end, since a joint that came in under another element number can
// be told only from all of a bridge's joints.
func ImportElements(ctx context.Context, tx *store.Tx, r io.Reader, name string, year int, opt inventory.IntakeOptions) (inventory.Intake, error) {
	im, err := newElementImport(ctx, tx, name, year, opt)
	if err != nil {
		return inventory.Intake{File: name}, err
	}
	defer im.find.Close()
	err = element.ForEach(ctx, r, im.take)
	if errors.Is(err, element.ErrSyntax) || errors.Is(err, element.ErrNoRecords) {
		err = fmt.Errorf("%s: %w", name, err)
	}
	if err != nil {
		return im.in, err
	}
	if err := im.bad.Close(); err != nil {
		return im.in, err
	}
	err = im.finish()
	im.in.Rejected, im.in.Faults = im.bad.Count, im.bad.Faults
	return im.in, err
}

// elementImport is one run of ImportElements.
type elementImport struct {
	ctx    context.Context
	tx     *store.Tx
	year   int
	opt    inventory.IntakeOptions
	in     inventory.Intake
	bad    *inventory.Rejects
	find   *sql.Stmt
	bridge *submitted // of the last record
	byKey  map[string]*submitted
	order  []*submitted // bridges with joints, in the order of the file
	known  map[int64][]*quantity
	out    elementTables
	stubs  int
}

// submitted is a bridge of the file with its joint records.
type submitted struct {
	key    string
	bridge inventory.Bridge
	joints []jointRecord
}

type jointRecord struct {
	element, parent int
	total           float64
	states          [4]float64
}

func (r jointRecord) same(q *quantity) bool { return r.total == q.total && r.states == q.states }

func newElementImport(ctx context.Context, tx *store.Tx, name string, year int, opt inventory.IntakeOptions) (*elementImport, error) {
	im := &elementImport{ctx: ctx, tx: tx, year: year, opt: opt, byKey: map[string]*submitted{}}
	im.in.File, im.in.What = name, "joints"
	im.bad = inventory.NewRejects(opt, "state", "structure_number", "element", "parent", "quantity")
	var err error
	// A file names each bridge in one run of records, so one look-up a bridge
	// costs less than holding every bridge of the network.
	im.find, err = tx.Tx.Tx.PrepareContext(ctx, `SELECT id, geom, length_ft, curb_width_ft, out_width_ft, skew_deg, bearing_deg, lanes,
		coalesce(last_inspection, '') FROM bridges WHERE state = ? AND structure_number = ?`)
	if err != nil {
		return nil, err
	}
	if im.known, err = knownQuantities(ctx, tx, year); err != nil {
		return nil, err
	}
	return im, im.out.begin(ctx, tx)
}

// take deals with one record of the file.
func (im *elementImport) take(rec element.Record) error {
	im.in.Read++
	im.opt.Tell(im.in.Read)
	if bad := elementFaults(im.in.File, &rec); len(bad) > 0 {
		im.bad.Add(rec.Line, bad, rec.State, rec.StructureNumber, strconv.Itoa(rec.Element), strconv.Itoa(rec.Parent), fmt.Sprint(rec.TotalQty))
		return nil
	}
	joint := element.IsJoint(rec.Element)
	if !joint && element.HarmedByLeak(rec.Element) == "" && !element.IsJoint(rec.Parent) {
		im.in.PassedBy++
		return nil
	}
	b, err := im.bridgeOf(&rec)
	if err != nil {
		return err
	}
	if joint {
		if len(b.joints) == 0 {
			im.order = append(im.order, b)
			im.byKey[b.key] = b
		}
		b.joints = append(b.joints, jointRecord{rec.Element, rec.Parent, rec.TotalQty, rec.StateQty})
		return nil
	}
	return im.out.context(b.bridge.ID, im.year, rec)
}

// bridgeOf finds the record's bridge, or makes a bridge of which nothing but
// its number is known.
func (im *elementImport) bridgeOf(rec *element.Record) (*submitted, error) {
	key := rec.State + "/" + rec.StructureNumber
	if im.bridge != nil && im.bridge.key == key {
		return im.bridge, nil
	}
	if b := im.byKey[key]; b != nil { // its records do not stand together
		im.bridge = b
		return b, nil
	}
	b := &submitted{key: key}
	br := &b.bridge
	err := im.find.QueryRowContext(im.ctx, rec.State, rec.StructureNumber).Scan(&br.ID, &br.Geom, &br.LengthFt, &br.CurbWidthFt,
		&br.OutWidthFt, &br.SkewDeg, &br.BearingDeg, &br.Lanes, &br.LastInspection)
	if err == sql.ErrNoRows {
		im.stubs++
		im.byKey[key] = b // not to be found until the bulk is written
		br.ID, err = im.out.stub(rec.State, rec.StructureNumber)
	}
	im.bridge = b
	return b, err
}

// finish puts the joints on record, bridge by bridge.
func (im *elementImport) finish() error {
	before, err := im.tx.NewSelect().Model((*inventory.Joint)(nil)).Count(im.ctx)
	if err != nil {
		return err
	}
	if before == 0 {
		if err := im.tx.DropIndex(im.ctx, "joints"); err != nil {
			return err
		}
	}
	recoded, missing, carried := 0, 0, 0
	for _, b := range im.order {
		pairs, gone := match(b.joints, im.known[b.bridge.ID], im.year)
		missing += gone
		for i, rec := range b.joints {
			outcome, err := im.joint(b, rec, pairs[i])
			if err != nil {
				return err
			}
			recoded += outcome.recoded
			carried += outcome.carried
		}
	}
	if err := im.out.close(); err != nil {
		return err
	}
	if before == 0 {
		if err := im.tx.CreateIndex(im.ctx, "joints"); err != nil {
			return err
		}
	}
	im.in.Note(im.out.contexts.Count(), "records of parts that a leaking joint harms are kept beside them")
	im.in.Note(im.in.PassedBy, "records are of elements that have nothing to do with joints and were passed by")
	im.in.Note(im.stubs, "bridges are known only from this file; import the bridge inventory to place them")
	im.in.Note(carried, "joint records are the last ones sent in again: carried forward, no new observation")
	im.in.Note(recoded, "joints came in under another element number; decide with reseal joint recode")
	im.in.Note(missing, "joints on record are not in this file; reseal check lists them")
	return nil
}

// tally is what became of one joint record.
type tally struct{ recoded, carried int }

// joint puts one record on its joint: q, or a new one where q is nil.
func (im *elementImport) joint(b *submitted, rec jointRecord, q *quantity) (tally, error) {
	var t tally
	if q != nil && q.year == im.year && rec.same(q) {
		im.in.Unchanged++
		return t, nil
	}
	if q == nil {
		q = &quantity{}
		j := &inventory.Joint{
			BridgeID: b.bridge.ID, LengthFt: positive(rec.total), SkewDeg: b.bridge.SkewDeg, Scope: inventory.ScopeQuantity,
			Element: rec.element, ParentElement: rec.parent, Origin: "element file", Status: inventory.InService,
		}
		j.Draw(&b.bridge)
		im.in.Added++
		if err := im.out.newJoint(j, q); err != nil {
			return t, err
		}
	} else {
		if q.element != rec.element {
			t.recoded++
			if err := im.recode(q, rec); err != nil {
				return t, err
			}
		}
		if err := im.relength(q, rec.total); err != nil {
			return t, err
		}
	}
	on, known := dateOf(b.bridge.LastInspection, im.year)
	isNew := q.year == 0
	repeat := !isNew && q.year < im.year && rec.same(q) && q.element == rec.element
	if known == InMonth && !q.inspectedOn.IsZero() && !q.inspectedOn.Before(on) && q.year < im.year {
		known, on = NoLaterThan, inventory.Date{Year: im.year, Month: 12, Day: 31} // the inventory's date is of an earlier look
	}
	if today := im.opt.Today; known == NoLaterThan && !today.IsZero() && today.Before(on) {
		on = today
	}
	if repeat && known == NoLaterThan {
		t.carried++
		im.in.Unchanged++
		return t, im.out.record(b.bridge.ID, q, rec, im.year, true, 0)
	}
	if !isNew {
		im.in.Changed++
	}
	var inspection int64
	if q.status == inventory.InService && rec.total > 0 {
		replaces := int64(0)
		if q.year == im.year {
			replaces = q.inspectionID // the year was sent in again with other figures
		}
		var err error
		if inspection, err = im.out.inspection(q, rec, on, known, replaces); err != nil {
			return t, err
		}
	}
	return t, im.out.record(b.bridge.ID, q, rec, im.year, false, inspection)
}

// recode keeps the joint under its new element number, with the question
// whether it is a recoding or a new seal open for people to decide.
func (im *elementImport) recode(q *quantity, rec jointRecord) error {
	change := &ElementChange{UID: im.tx.NewUID(), JointID: q.jointID, Year: im.year, FromElement: q.element, ToElement: rec.element, Stamp: im.tx.Created()}
	if q.year == 0 && q.laterYear > 0 { // the joint came in first under its later number
		change.Year, change.FromElement, change.ToElement = q.laterYear, rec.element, q.element
	}
	if _, err := im.tx.NewInsert().Model(change).Exec(im.ctx); err != nil || q.laterYear > 0 {
		return err
	}
	j := &inventory.Joint{ID: q.jointID}
	if err := im.tx.NewSelect().Model(j).WherePK().Scan(im.ctx); err != nil {
		return err
	}
	j.Element = rec.element
	return inventory.SaveJoint(im.ctx, im.tx, j)
}

// relength follows a changed quantity, unless a later year is on record.
func (im *elementImport) relength(q *quantity, total float64) error {
	if q.laterYear > 0 || total <= 0 || total == q.total || q.status != inventory.InService {
		return nil
	}
	j := &inventory.Joint{ID: q.jointID}
	if err := im.tx.NewSelect().Model(j).WherePK().Scan(im.ctx); err != nil {
		return err
	}
	j.LengthFt = &total
	return inventory.SaveJoint(im.ctx, im.tx, j)
}

// dateOf is the day of the inspection that a record of the year rests on: the
// month in the bridge's inventory record if that lies in the five years up to
// the year of submission, and else no later than the year's end.
func dateOf(lastInspection string, year int) (inventory.Date, string) {
	if len(lastInspection) >= 7 {
		if d, err := inventory.ParseDate(lastInspection[:7] + "-01"); err == nil && d.Year <= year && d.Year > year-5 {
			return d, InMonth
		}
	}
	return inventory.Date{Year: year, Month: 12, Day: 31}, NoLaterThan
}

// quantity is a joint on record that is known as feet of its bridge, with the
// last record of it up to the year of the import.
type quantity struct {
	jointID, stretchID int64
	element, parent    int // of the last record, or else of the joint
	status             string
	year               int // of the last record; 0 if none
	laterYear          int // of the first record after the year of the import; 0 if none
	total              float64
	states             [4]float64
	inspectionID       int64
	inspectedOn        inventory.Date // of the last inspection
}

// knownQuantities loads the quantities on record by bridge.
func knownQuantities(ctx context.Context, tx *store.Tx, year int) (map[int64][]*quantity, error) {
	rows, err := tx.Tx.Tx.QueryContext(ctx, `
		SELECT j.bridge_id, j.id, j.status, coalesce(e.element, j.element), coalesce(j.parent_element, 0), coalesce(j.length_ft, 0),
		       (SELECT t.id FROM stretches t WHERE t.joint_id = j.id ORDER BY t.id LIMIT 1),
		       e.submitted_year, e.quantity, e.cs1, e.cs2, e.cs3, e.cs4, e.inspection_id,
		       (SELECT max(i.inspected_on) FROM inspections i WHERE i.joint_id = j.id),
		       (SELECT coalesce(min(l.submitted_year), 0) FROM element_records l WHERE l.joint_id = j.id AND l.submitted_year > ?)
		  FROM joints j
		  LEFT JOIN element_records e ON e.id = (
		    SELECT x.id FROM element_records x WHERE x.joint_id = j.id AND x.submitted_year <= ?
		     ORDER BY x.submitted_year DESC LIMIT 1)
		 WHERE j.scope = ? AND j.status IN (?, ?)
		 ORDER BY j.id`, year, year, inventory.ScopeQuantity, inventory.InService, inventory.Split)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	out := map[int64][]*quantity{}
	for rows.Next() {
		q := &quantity{}
		var bridge int64
		var y, inspection sql.NullInt64
		var total sql.NullFloat64
		var s [4]sql.NullFloat64
		if err := rows.Scan(&bridge, &q.jointID, &q.status, &q.element, &q.parent, &q.total, &q.stretchID,
			&y, &total, &s[0], &s[1], &s[2], &s[3], &inspection, &q.inspectedOn, &q.laterYear); err != nil {
			return nil, err
		}
		q.year, q.inspectionID = int(y.Int64), inspection.Int64
		if total.Valid {
			q.total = total.Float64
		}
		for i := range s {
			q.states[i] = s[i].Float64
		}
		out[bridge] = append(out[bridge], q)
	}
	return out, rows.Err()
}

// match pairs a bridge's records with its joints on record: by element and
// parent, and where one of each is left over with the same parent and a length
// that is much the same, as one joint under another element number. It returns
// the joint of each record, nil for a new one, and how many joints in service
// have no record.
func match(records []jointRecord, known []*quantity, year int) (pairs []*quantity, missing int) {
	pairs = make([]*quantity, len(records))
	taken := map[*quantity]bool{}
	for i, r := range records {
		for _, q := range known {
			if !taken[q] && q.element == r.element && q.parent == r.parent {
				pairs[i], taken[q] = q, true
				break
			}
		}
	}
	for i, r := range records {
		if pairs[i] != nil {
			continue
		}
		for _, q := range known {
			if !taken[q] && q.year < year && q.parent == r.parent && alike(q.total, r.total) {
				pairs[i], taken[q] = q, true
				break
			}
		}
	}
	for _, q := range known {
		if !taken[q] && q.status == inventory.InService {
			missing++
		}
	}
	return pairs, missing
}

// alike tells whether two lengths may be of one joint counted twice.
func alike(a, b float64) bool { return math.Abs(a-b) <= math.Max(5, 0.05*math.Max(a, b)) }

func positive(v float64) *float64 {
	if v <= 0 {
		return nil
	}
	return &v
}

func elementFaults(file string, rec *element.Record) (bad []table.Fault) {
	for _, p := range rec.Problems {
		if p.Refuse {
			bad = append(bad, table.Fault{File: file, Line: p.Line, Column: p.Tag, Value: p.Value, Problem: p.Problem})
		}
	}
	return bad
}
