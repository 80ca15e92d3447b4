package inventory

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"

	"github.com/paulmach/orb"

	"reseal/geo"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

// What a row of joints sets of the joint itself.
var jointFields = []string{
	"label", "place", "sequence", "movement", "length_ft", "skew_deg", "expansion_length_ft", "station_ft", "below", "lanes",
	"direction", "sidewalk_ft", "upturn_ft", "notes",
}

// JointSheet is the spreadsheet that ImportJoints reads.
func JointSheet() *Sheet {
	columns := append(WhichJoint(),
		table.Column{Name: "second_bridge", Help: "the other bridge of a joint that two share; it is counted and paid for at the first", Example: "41/00576B"},
		table.Column{Name: "movement", Enum: Movements, Synonyms: []string{"fixity"}, Example: "expansion"},
		table.Column{Name: "length_ft", Kind: table.Length, Min: 1, Max: 99999, Synonyms: []string{"joint_length"}, Help: "along the joint, curb to curb", Example: "42"},
		table.Column{Name: "skew_deg", Kind: table.Float, Max: 84.9, Synonyms: []string{"skew", "skew_angle"}, Help: "degrees from the line square to the roadway", Example: "15"},
		table.Column{Name: "expansion_length_ft", Kind: table.Length, Max: 99999, Help: "the length of deck that moves at this joint", Example: "180"},
		table.Column{Name: "station_ft", Kind: table.Length, Max: 999999, Help: "along the bridge from its beginning", Example: "0"},
		table.Column{Name: "below", Help: "what lies below: bearings, a cap, a road, water", Example: "bearings"},
		table.Column{Name: "lanes", Kind: table.Int, Max: 30, Example: "2"},
		table.Column{Name: "direction", Help: "of traffic", Example: "NB"},
		table.Column{Name: "sidewalk_ft", Kind: table.Length, Max: 999, Help: "length through sidewalks, apart from length_ft"},
		table.Column{Name: "upturn_ft", Kind: table.Length, Max: 99, Help: "length turned up at the curbs, apart from length_ft"},
		table.Column{Name: "from_lat", Kind: table.Float, Min: -90, Max: 90, Help: "surveyed left end facing increasing milepost, WGS 84 degrees", Example: "44.05"},
		table.Column{Name: "from_lon", Kind: table.Float, Min: -180, Max: 180, Synonyms: []string{"from_lng"}, Example: "-123.09"},
		table.Column{Name: "to_lat", Kind: table.Float, Min: -90, Max: 90, Help: "surveyed right end"},
		table.Column{Name: "to_lon", Kind: table.Float, Min: -180, Max: 180, Synonyms: []string{"to_lng"}},
	)
	columns = append(columns, sealColumns()...)
	columns = append(columns, table.Column{Name: "notes", Synonyms: []string{"remarks", "comments"}})
	return &Sheet{What: "joints", Columns: columns, AnyOf: whichJointBy}
}

// ImportJoints reads joints with their present seals from a spreadsheet. A row
// is about the joint with its tag, or else the joint of its bridge with its
// label, or else with its place and sequence; one that is not on record is
// added. Of those on record what the row gives is brought up to date, and
// history keeps what it was; a blank cell says nothing. A proposed joint that
// the file has is confirmed.
func ImportJoints(ctx context.Context, tx *store.Tx, r io.Reader, name string, opt IntakeOptions) (Intake, error) {
	sheet := JointSheet()
	im := &jointImport{ctx: ctx, tx: tx, sheet: sheet, opt: opt, seen: map[int64]int{}}
	im.joint = FillOf[Joint](sheet, jointFields...)
	before, err := count(ctx, tx, "joints")
	if err == nil && before == 0 { // one pass over all is faster than a trigger a row
		err = tx.DropIndex(ctx, "joints")
	}
	if err == nil {
		err = im.begin()
	}
	if err != nil {
		return Intake{File: name}, err
	}
	in, err := sheet.Read(r, name, opt, im.take)
	err = errors.Join(err, im.close())
	if err == nil && before == 0 {
		err = tx.CreateIndex(ctx, "joints")
	}
	in.Note(im.confirmed, "proposed joints are in this file and are now confirmed")
	in.Note(im.corrected, "rows correct the installation date of a seal on record, as accepted")
	return in, err
}

// jointImport is one run of ImportJoints.
type jointImport struct {
	ctx       context.Context
	tx        *store.Tx
	sheet     *Sheet
	opt       IntakeOptions
	joint     Fill[Joint]
	sealing   sealReader
	joints    *store.Rows[Joint]
	stretches *store.Rows[Stretch]
	seals     *store.Rows[Seal]
	seen      map[int64]int // the line of each joint, 16 bytes a row
	confirmed int
	corrected int
}

func (im *jointImport) begin() (err error) {
	if err = im.sealing.begin(im.ctx, im.tx, im.sheet); err != nil {
		return err
	}
	if im.joints, err = store.RowsOf[Joint](im.ctx, im.tx); err != nil {
		return err
	}
	if im.stretches, err = store.RowsOf[Stretch](im.ctx, im.tx, im.joints); err != nil {
		return err
	}
	im.seals, err = store.RowsOf[Seal](im.ctx, im.tx, im.stretches)
	return err
}

func (im *jointImport) flush() error {
	return errors.Join(im.joints.Flush(), im.stretches.Flush(), im.seals.Flush())
}

func (im *jointImport) close() error {
	return errors.Join(im.joints.Close(), im.stretches.Close(), im.seals.Close())
}

// take deals with a batch of rows.
func (im *jointImport) take(in *Intake, rows []*table.Row) error {
	refs := make([]ref, 0, 2*len(rows))
	for _, row := range rows {
		refs = append(refs, jointRef(row))
	}
	seconds := make([]ref, len(rows))
	second := im.sheet.At("second_bridge")
	for i, row := range rows {
		if s, ok := row.Text(second); ok {
			seconds[i].bridgeColumn = second
			if seconds[i].state, seconds[i].number = SplitStructure(s); seconds[i].state == "" {
				seconds[i].state = refs[i].state
			}
		}
	}
	at := newAtlas()
	if err := at.load(im.ctx, im.tx, append(refs, seconds...)); err != nil {
		return err
	}
	found := make([]Located, len(rows))
	var known []int64
	for i, row := range rows {
		if found[i].Joint, found[i].Bridge = im.locate(at, row, refs[i]); found[i].Joint != nil {
			known = append(known, found[i].Joint.ID)
		}
	}
	stretches, err := StretchesOf(im.ctx, im.tx, known)
	if err != nil {
		return err
	}
	for i, row := range rows {
		if row.Bad() {
			continue
		}
		j := found[i].Joint
		if j == nil { // perhaps a row above has added it
			if j = at.find(row, found[i].Bridge, refs[i]); row.Bad() {
				continue
			}
		}
		var other *Bridge
		if seconds[i].number != "" {
			if other = at.bridge(row, seconds[i]); other == nil {
				continue
			}
		}
		if err := im.row(in, at, row, j, found[i].Bridge, other, stretches); err != nil {
			return err
		}
	}
	return im.flush()
}

// locate finds the joint of a row; it is nil, without a fault, for a new one.
func (im *jointImport) locate(at *atlas, row *table.Row, r ref) (*Joint, *Bridge) {
	if r.tag != "" {
		if j := at.tags[r.tag]; j != nil {
			return j, at.bridges[j.BridgeID]
		}
		row.Refuse(whichTag, "is not the tag of a joint on record", "leave it blank for a new joint, which gets its tag from reseal; the agency's own name of a joint goes under label")
		return nil, nil
	}
	if r.number == "" {
		row.RefuseRow("the row does not say on which bridge the joint is", "give its structure number")
		return nil, nil
	}
	b := at.bridge(row, r)
	if b == nil {
		return nil, nil
	}
	if r.label == "" && (r.place == "" || r.sequence == 0) {
		row.RefuseRow("the row does not say which joint it is", "give it a label, or its place and sequence")
		return nil, nil
	}
	return at.find(row, b, r), b
}

// row puts one row on record: for joint j, or a new one where j is nil.
func (im *jointImport) row(in *Intake, at *atlas, row *table.Row, j *Joint, b, other *Bridge, stretches map[int64][]SealedStretch) error {
	isNew := j == nil
	if isNew {
		j = &Joint{BridgeID: b.ID, Origin: "surveyed"}
		j.setDefaults()
	} else if line := im.seen[j.ID]; line > 0 {
		row.RefuseRow(fmt.Sprintf("line %d is about the same joint (%s)", line, j.Tag), "keep one of the two rows; the further seals of a joint go into import seals")
		return nil
	}
	confirm := !isNew && j.Status == Proposed
	if j.Status != InService && !confirm {
		row.RefuseRow(fmt.Sprintf("joint %s is %s", j.Tag, j.Status), "leave the row out, or give a new joint a label of its own")
		return nil
	}
	was := *j
	changed := im.fields(row, j, b, other)
	if row.Bad() {
		*j = was
		return nil
	}
	if isNew {
		return im.add(in, at, row, j)
	}
	im.seen[j.ID] = row.Line()
	sealed, err := im.seal(row, j, stretches[j.ID])
	switch {
	case err != nil || row.Bad():
		return err
	case confirm: // with what changed
		im.confirmed++
		if err := Decide(im.ctx, im.tx, j, true, im.opt.Today); err != nil {
			return err
		}
	case changed:
		im.tx.Changed(&j.Stamp)
		if err := errors.Join(im.joints.Update(j), im.relength(j, stretches[j.ID])); err != nil {
			return err
		}
	}
	if changed || sealed || confirm {
		in.Changed++
	} else {
		in.Unchanged++
	}
	return nil
}

// fields takes over what the row says of the joint itself.
func (im *jointImport) fields(row *table.Row, j *Joint, b, other *Bridge) (changed bool) {
	expansion := j.ExpansionLengthFt
	changed = im.joint.From(row, j, im.opt.Today)
	if j.ExpansionAssumed && j.ExpansionLengthFt != expansion {
		j.ExpansionAssumed = false
	}
	if other != nil && other.ID != j.SecondBridgeID && other.ID != b.ID {
		j.SecondBridgeID, changed = other.ID, true
	} else if other != nil && other.ID == b.ID {
		row.Refuse(im.sheet.At("second_bridge"), "is the joint's bridge itself", "name the other bridge, or leave the cell blank")
	}
	line, surveyed := im.line(row)
	if surveyed && (j.GeometrySource != Surveyed || !orb.Equal(j.Geom.Geometry, line)) {
		j.Geom, j.GeometrySource, changed = geo.Geometry{Geometry: line}, Surveyed, true
	}
	if err := j.Validate(); err != nil && !row.Bad() {
		RefuseRow(row, err)
	}
	if changed || j.ID == 0 {
		j.Draw(b)
	}
	return changed
}

// line is the surveyed line of a row, if it gives one.
func (im *jointImport) line(row *table.Row) (orb.LineString, bool) {
	var v [4]float64
	given := 0
	for i, name := range []string{"from_lon", "from_lat", "to_lon", "to_lat"} {
		var ok bool
		if v[i], ok = row.Float(im.sheet.At(name)); ok {
			given++
		}
	}
	if given == 0 || row.Bad() {
		return nil, false
	}
	line := orb.LineString{{v[0], v[1]}, {v[2], v[3]}}
	switch {
	case given < 4:
		row.RefuseRow("the surveyed line has only some of its four coordinates", "give from_lat, from_lon, to_lat and to_lon, or none")
	case line[0] == line[1]:
		row.RefuseRow("both ends of the surveyed line are one point", "correct from_ or to_")
	default:
		return line, true
	}
	return nil, false
}

// add puts a new joint on record, with one stretch and its seal.
func (im *jointImport) add(in *Intake, at *atlas, row *table.Row, j *Joint) error {
	seal := Seal{Kind: KindOther}
	im.sealing.from(row, &seal, im.opt.Today)
	if row.Bad() {
		return nil
	}
	j.ID, j.UID, j.Stamp = im.joints.NewID(), im.tx.NewUID(), im.tx.Created()
	j.Tag = TagFor(j.ID)
	t := Stretch{ID: im.stretches.NewID(), UID: im.tx.NewUID(), JointID: j.ID, ToFt: 1, Stamp: im.tx.Created()}
	if j.LengthFt != nil {
		t.ToFt = *j.LengthFt
	}
	seal.ID, seal.UID, seal.StretchID, seal.Stamp = im.seals.NewID(), im.tx.NewUID(), t.ID, im.tx.Created()
	at.add(j)
	im.seen[j.ID] = row.Line()
	in.Added++
	return errors.Join(im.joints.Add(j), im.stretches.Add(&t), im.seals.Add(&seal))
}

// relength carries a changed length over to the stretch of a joint that has
// only one, as SaveJoint does.
func (im *jointImport) relength(j *Joint, stretches []SealedStretch) error {
	if j.LengthFt == nil || len(stretches) != 1 || stretches[0].FromFt != 0 || stretches[0].ToFt == *j.LengthFt {
		return nil
	}
	t := &stretches[0].Stretch
	t.ToFt = *j.LengthFt
	im.tx.Changed(&t.Stamp)
	return im.stretches.Update(t)
}

// seal brings the present seal of a joint on record up to date. A seal that
// went in later than the one on record is another seal, not a correction.
func (im *jointImport) seal(row *table.Row, j *Joint, stretches []SealedStretch) (changed bool, err error) {
	var seal Seal
	isNew := true
	if len(stretches) > 0 {
		if now := stretches[0].Current(); now != nil {
			seal, isNew = *now, false
		} else {
			seal = Seal{StretchID: stretches[0].ID, Kind: KindOther}
		}
	}
	was := seal.InstalledOn
	changed = im.sealing.from(row, &seal, im.opt.Today)
	switch {
	case row.Bad() || !changed:
		return false, nil
	case len(stretches) != 1:
		row.RefuseRow(fmt.Sprintf("joint %s has %d stretches, each with a seal of its own", j.Tag, len(stretches)), "leave the seal's columns blank here and use import seals")
		return false, nil
	case !was.IsZero() && seal.InstalledOn.YearsSince(was) > 1 && !im.opt.AcceptOdd:
		row.RefuseOdd(im.sheet.At("installed"), fmt.Sprintf("is after %s, when the seal on record went in", was),
			"a new seal: import seals or import work; a wrong date on record: --accept-odd corrects it")
		return false, nil
	}
	if !was.IsZero() && math.Abs(seal.InstalledOn.YearsSince(was)) > 1 {
		im.corrected++
	}
	if isNew {
		seal.ID, seal.UID, seal.Stamp = im.seals.NewID(), im.tx.NewUID(), im.tx.Created()
		return true, im.seals.Add(&seal)
	}
	im.tx.Changed(&seal.Stamp)
	return true, im.seals.Update(&seal)
}
