package condition

import (
	"context"
	"errors"
	"fmt"
	"hash/maphash"
	"io"
	"strconv"
	"strings"

	"reseal/inventory"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

// InspectionSheet is the spreadsheet that ImportInspections reads.
func InspectionSheet() *inventory.Sheet {
	columns := append(inventory.WhichJoint(),
		table.Column{Name: "date", Kind: table.Date, Required: true, Synonyms: []string{"inspected_on", "inspection_date"}, Help: "day of the inspection, or its month (YYYY-MM)", Example: "2025-06-12"},
		table.Column{Name: "inspector", Synonyms: []string{"inspected_by"}},
		table.Column{Name: "seen_from", Enum: []string{"top", "below", "both"}},
		table.Column{Name: "access_limit", Help: "what could not be reached, and why"},
		table.Column{Name: "wet", Kind: table.Bool, Help: "whether the deck was wet"},
		table.Column{Name: "stretch", Kind: table.Int, Min: 1, Max: 99, Help: "number of the stretch from the left curb; 1 where blank", Example: "1"},
	)
	for s := 1; s <= 4; s++ {
		columns = append(columns, table.Column{
			Name: fmt.Sprintf("cs%d_ft", s), Kind: table.Length, Max: 99999, Synonyms: []string{fmt.Sprintf("cs%d", s)},
			Help: fmt.Sprintf("length in condition state %d", s),
		})
	}
	columns = append(columns,
		table.Column{Name: "not_seen_ft", Kind: table.Length, Max: 99999, Help: "length that could not be seen"},
		table.Column{Name: "worst", Kind: table.Int, Min: 1, Max: 4, Synonyms: []string{"worst_state"}, Help: "quick entry: the worst state, instead of feet"},
		table.Column{Name: "leaking", Kind: table.Bool},
		table.Column{Name: "defects", Help: "NUMBER:STATE, or NUMBER:STATE:FROM-TO in feet, with semicolons between", Example: "2330:3:0-12; 2350:2"},
		table.Column{Name: "gap_in", Kind: table.Length, Max: MaxGapIn, Synonyms: []string{"opening_in"}, Help: "gap, square to the joint; further readings of the inspection go in rows below", Example: "2.25"},
		table.Column{Name: "position", Help: "where the gap was read", Example: "left curb"},
		table.Column{Name: "deck_temp_f", Kind: table.Temperature, Min: MinDeckTempF, Max: MaxDeckTempF, Example: "61"},
		table.Column{Name: "air_temp_f", Kind: table.Temperature, Min: MinDeckTempF, Max: MaxDeckTempF},
		table.Column{Name: "photos", Help: "file names, with semicolons between"},
		table.Column{Name: "notes", Synonyms: []string{"remarks", "comments"}},
		table.Column{Name: "replaces", Kind: table.Date, Help: "of a correction: the day of the inspection on record that it replaces", Example: "2025-06-12"},
	)
	sheet := &inventory.Sheet{What: "inspections", Columns: columns, AnyOf: inventory.WhichJointBy()}
	date, inspector := sheet.At("date"), sheet.At("inspector")
	sheet.Together = func(above, below *table.Row) bool {
		return inventory.SameCells(above, below, inventory.WhichCount, date, inspector)
	}
	return sheet
}

// ImportInspections reads inspections from a spreadsheet: a row each, or
// several rows one below the other for the stretches and readings of one. What
// cannot be right is a fault of the row; what is odd is one too, unless
// opt.AcceptOdd keeps it with a mark. An inspection on record of the same
// joint, day and inspector is left as it is where the row says the same, and
// is a fault otherwise: corrections name the day that they replace.
func ImportInspections(ctx context.Context, tx *store.Tx, r io.Reader, name string, opt inventory.IntakeOptions) (inventory.Intake, error) {
	im := &inspectionImport{ctx: ctx, tx: tx, sheet: InspectionSheet(), opt: opt, seen: map[uint64]int{}, seed: maphash.MakeSeed()}
	if err := im.begin(); err != nil {
		return inventory.Intake{File: name}, err
	}
	in, err := im.sheet.Read(r, name, opt, im.take)
	in.Note(im.odd, "inspections are odd and were kept with a mark")
	in.Note(im.corrections, "inspections correct one on record")
	return in, errors.Join(err, im.close())
}

// inspectionImport is one run of ImportInspections.
type inspectionImport struct {
	ctx         context.Context
	tx          *store.Tx
	sheet       *inventory.Sheet
	opt         inventory.IntakeOptions
	head        inventory.Fill[Inspection]
	feet        inventory.Fill[Feet]
	reading     inventory.Fill[Reading]
	inspections *store.Rows[Inspection]
	feetRows    *store.Rows[Feet]
	defects     *store.Rows[Defect]
	readings    *store.Rows[Reading]
	seen        map[uint64]int // the line of each, by a hash of its key: a long file has many
	seed        maphash.Seed
	odd         int
	corrections int
}

// inspectionKey tells inspections apart.
type inspectionKey struct {
	joint     int64
	on        inventory.Date
	inspector string
}

func keyOf(in *Inspection) inspectionKey {
	return inspectionKey{in.JointID, in.InspectedOn, strings.ToLower(in.Inspector)}
}

func (im *inspectionImport) begin() (err error) {
	im.head = inventory.FillOf[Inspection](im.sheet, "inspector", "seen_from", "access_limit", "wet", "leaking", "notes")
	im.feet = inventory.FillOf[Feet](im.sheet, "cs1_ft", "cs2_ft", "cs3_ft", "cs4_ft", "not_seen_ft")
	im.reading = inventory.FillOf[Reading](im.sheet, "gap_in", "position", "deck_temp_f", "air_temp_f")
	if im.inspections, err = store.RowsOf[Inspection](im.ctx, im.tx); err != nil {
		return err
	}
	if im.feetRows, err = store.RowsOf[Feet](im.ctx, im.tx, im.inspections); err != nil {
		return err
	}
	if im.defects, err = store.RowsOf[Defect](im.ctx, im.tx, im.inspections); err != nil {
		return err
	}
	im.readings, err = store.RowsOf[Reading](im.ctx, im.tx, im.inspections)
	return err
}

func (im *inspectionImport) close() error {
	return errors.Join(im.inspections.Close(), im.feetRows.Close(), im.defects.Close(), im.readings.Close())
}

// group is the rows of one inspection.
type group struct {
	rows  []*table.Row
	entry Inspection
}

// take deals with a batch of rows.
func (im *inspectionImport) take(in *inventory.Intake, rows []*table.Row) error {
	located, err := inventory.LocateJoints(im.ctx, im.tx, rows)
	if err != nil {
		return err
	}
	dossiers, err := loadDossiers(im.ctx, im.tx, located, im.opt.Today)
	if err != nil {
		return err
	}
	var last *group
	end := func() error {
		if last == nil {
			return nil
		}
		g := last
		last = nil
		return im.group(in, g, dossiers[g.entry.JointID])
	}
	for i, row := range rows {
		on, known, ok := inspectedOn(row, im.sheet.At("date"), im.opt.Today)
		if located[i].Joint == nil || !ok || row.Bad() {
			if err := end(); err != nil {
				return err
			}
			continue
		}
		inspector, _ := row.Text(im.sheet.At("inspector"))
		head := Inspection{JointID: located[i].Joint.ID, InspectedOn: on, DateKnown: known, Inspector: inspector}
		if last != nil && keyOf(&last.entry) == keyOf(&head) {
			last.rows = append(last.rows, row)
			continue
		}
		if err := end(); err != nil {
			return err
		}
		last = &group{rows: []*table.Row{row}, entry: head}
	}
	if err := end(); err != nil {
		return err
	}
	return errors.Join(im.inspections.Flush(), im.feetRows.Flush(), im.defects.Flush(), im.readings.Flush())
}

// inspectedOn reads the date of an inspection: a day, or no more than a month.
func inspectedOn(row *table.Row, column int, today inventory.Date) (on inventory.Date, known string, ok bool) {
	on, precision, ok := inventory.DayOrLess(row, column, today)
	switch {
	case ok && precision == "year":
		row.Refuse(column, "is only a year", "give the day, YYYY-MM-DD, or the month, YYYY-MM")
		return on, "", false
	case precision == "month":
		return on, InMonth, ok
	}
	return on, OnDay, ok
}

// group judges the rows of one inspection and puts it on record.
func (im *inspectionImport) group(in *inventory.Intake, g *group, d *dossier) error {
	first := g.rows[0]
	key := maphash.Comparable(im.seed, keyOf(&g.entry))
	if line := im.seen[key]; line > 0 {
		im.refuse(g, fmt.Sprintf("line %d begins an inspection of the same joint, day and inspector", line), "put the rows of one inspection one below the other, or leave this one out")
		return nil
	}
	for i, row := range g.rows {
		im.read(row, &g.entry, d, i > 0)
	}
	for _, row := range g.rows {
		if row.Bad() {
			im.refuse(g, fmt.Sprintf("the row belongs to an inspection with a fault on line %d", row.Line()), "mend that row")
			return nil
		}
	}
	g.entry.seenFromBelow(d.before(g.entry.InspectedOn))
	im.seen[key] = first.Line()
	if done, err := im.compare(in, g, d); done || err != nil {
		return err
	}
	odd, err := Judge(&g.entry, d.before(g.entry.InspectedOn))
	switch {
	case err != nil:
		inventory.RefuseRow(first, err)
	case len(odd) > 0 && !im.opt.AcceptOdd:
		first.RefuseOdd(-1, "odd: "+strings.Join(odd, "; "), "look again; if it is right, --accept-odd keeps it with a mark")
	}
	if first.Bad() {
		delete(d.replaced, g.entry.ReplacesID)
		im.refuse(g, fmt.Sprintf("the row belongs to an inspection with a fault on line %d", first.Line()), "mend that row")
		return nil
	}
	if len(odd) > 0 {
		im.odd++
	}
	if g.entry.ReplacesID != 0 {
		im.corrections++
	}
	in.Added++
	d.add(&g.entry)
	return im.save(&g.entry, odd)
}

// refuse gives every row of a group that has no fault of its own the same one.
func (im *inspectionImport) refuse(g *group, what, remedy string) {
	for _, row := range g.rows {
		if !row.Bad() {
			row.RefuseRow(what, remedy)
		}
	}
}

// compare looks for the inspection on record that the group repeats, which
// settles it, or corrects.
func (im *inspectionImport) compare(in *inventory.Intake, g *group, d *dossier) (done bool, err error) {
	first := g.rows[0]
	var twin *Inspection // of the same key, and not replaced
	for _, o := range d.inspections {
		if o.Source != FromInspection || keyOf(o) != keyOf(&g.entry) {
			continue
		}
		if sameContent(o, &g.entry) {
			in.Unchanged++
			return true, nil
		}
		if !d.replaced[o.ID] {
			twin = o
		}
	}
	day, correction := inventory.Day(first, im.sheet.At("replaces"), im.opt.Today)
	if !correction {
		if twin != nil && !first.Bad() {
			im.refuse(g, fmt.Sprintf("an inspection of joint %s by the same inspector on %s is on record and says something else", d.joint.Tag, g.entry.InspectedOn),
				fmt.Sprintf("a correction gives %s in a column replaces; nothing on record is overwritten", g.entry.InspectedOn))
		}
		return first.Bad(), nil
	}
	old := twin
	for _, o := range d.inspections {
		if !d.replaced[o.ID] && o.InspectedOn == day && (old == nil || strings.EqualFold(o.Inspector, g.entry.Inspector)) {
			old = o
		}
	}
	if old == nil || old.InspectedOn != day {
		first.Refuse(im.sheet.At("replaces"), "is not the day of an inspection on record", "see them with: reseal joint show "+d.joint.Tag)
		im.refuse(g, "the row belongs to an inspection with a fault", "mend that row")
		return true, nil
	}
	g.entry.ReplacesID = old.ID
	d.replaced[old.ID] = true
	return false, nil
}

// read takes over one row of an inspection; further tells that others came
// before it.
func (im *inspectionImport) read(row *table.Row, in *Inspection, d *dossier, further bool) {
	im.readHead(row, in, further)
	if worst, ok := row.Int(im.sheet.At("worst")); ok {
		in.QuickWorst = max(in.QuickWorst, worst)
	}
	im.readFeet(row, in, d)
	if text, ok := row.Text(im.sheet.At("defects")); ok {
		defects, err := parseDefects(text)
		if err != nil {
			row.Refuse(im.sheet.At("defects"), err.Error(), "NUMBER:STATE or NUMBER:STATE:FROM-TO, for example 2330:3:0-12; 2350:2")
		}
		in.Defects = append(in.Defects, defects...)
	}
	var r Reading
	if im.reading.From(row, &r, im.opt.Today); !row.Bad() {
		if _, ok := row.Float(im.sheet.At("gap_in")); ok {
			in.Readings = append(in.Readings, r)
		} else if r.DeckTempF != nil || r.AirTempF != nil {
			row.Refuse(im.sheet.At("gap_in"), "is blank beside a temperature", "a temperature belongs to a gap that was read")
		}
	}
	in.Quick = len(in.Feet) == 0 && (in.QuickWorst > 0 || in.Leaking != nil)
	if len(in.Feet) > 0 && in.QuickWorst > 0 {
		row.Refuse(im.sheet.At("worst"), "stands beside feet by state", "leave it blank: it is for entries without feet")
	}
}

// readHead takes over what is said once of an inspection; rows below the first
// repeat it or leave it blank.
func (im *inspectionImport) readHead(row *table.Row, in *Inspection, further bool) {
	was := *in
	im.head.From(row, in, im.opt.Today)
	if photos, ok := row.Text(im.sheet.At("photos")); ok {
		in.Photos = lines(photos)
	}
	if !further {
		return
	}
	differs := was.SeenFrom != "" && was.SeenFrom != in.SeenFrom || was.Notes != "" && was.Notes != in.Notes ||
		was.AccessLimit != "" && was.AccessLimit != in.AccessLimit || was.Photos != "" && was.Photos != in.Photos ||
		was.Wet != nil && *was.Wet != *in.Wet || was.Leaking != nil && *was.Leaking != *in.Leaking
	if differs {
		row.RefuseRow("the row differs from the one above in seen_from, access_limit, wet, leaking, photos or notes", "say those once an inspection, in its first row")
	}
}

func (im *inspectionImport) readFeet(row *table.Row, in *Inspection, d *dossier) {
	var f Feet
	given := im.feet.From(row, &f, im.opt.Today)
	for _, c := range []string{"cs1_ft", "cs2_ft", "cs3_ft", "cs4_ft", "not_seen_ft"} {
		if v, ok := row.Float(im.sheet.At(c)); ok && v == 0 {
			given = true
		}
	}
	n, numbered := row.Int(im.sheet.At("stretch"))
	switch {
	case row.Bad() || !given:
		return
	case !numbered:
		n = 1
	}
	if n > len(d.stretches) {
		row.Refuse(im.sheet.At("stretch"), fmt.Sprintf("is more than the %d stretches of joint %s", len(d.stretches), d.joint.Tag), "see them with: reseal joint show "+d.joint.Tag)
		return
	}
	f.StretchID = d.stretches[n-1].ID
	for _, o := range in.Feet {
		if o.StretchID == f.StretchID {
			row.RefuseRow(fmt.Sprintf("a row above gives the feet of stretch %d already", n), "number the stretches from the left curb in a column stretch")
			return
		}
	}
	in.Feet = append(in.Feet, f)
}

// save writes an inspection in bulk.
func (im *inspectionImport) save(in *Inspection, odd []string) error {
	in.ID, in.UID, in.CreatedAt, in.CreatedBy = im.inspections.NewID(), im.tx.NewUID(), im.tx.At, im.tx.Actor
	in.Source, in.Odd = FromInspection, strings.Join(odd, "\n")
	if err := im.inspections.Add(in); err != nil {
		return err
	}
	for i := range in.Feet {
		in.Feet[i].InspectionID = in.ID
		if err := im.feetRows.Add(&in.Feet[i]); err != nil {
			return err
		}
	}
	for i := range in.Defects {
		in.Defects[i].InspectionID = in.ID
		if err := im.defects.Add(&in.Defects[i]); err != nil {
			return err
		}
	}
	for i := range in.Readings {
		r := &in.Readings[i]
		r.InspectionID, r.JointID, r.ReadOn = in.ID, in.JointID, in.InspectedOn
		r.UID, r.CreatedAt, r.CreatedBy = im.tx.NewUID(), im.tx.At, im.tx.Actor
		if err := im.readings.Add(r); err != nil {
			return err
		}
	}
	return nil
}

// lines puts a list with semicolons on lines of its own.
func lines(list string) string {
	var out []string
	for _, s := range strings.Split(list, ";") {
		if s = strings.TrimSpace(s); s != "" {
			out = append(out, s)
		}
	}
	return strings.Join(out, "\n")
}

// parseDefects reads "2330:3:0-12; 2350:2": number, state, and from and to in
// feet along the joint.
func parseDefects(text string) ([]Defect, error) {
	var out []Defect
	for _, item := range strings.Split(text, ";") {
		if item = strings.TrimSpace(item); item == "" {
			continue
		}
		parts := strings.Split(item, ":")
		if len(parts) < 2 || len(parts) > 3 {
			return nil, fmt.Errorf("cannot be read at %q", item)
		}
		number, errNumber := strconv.Atoi(strings.TrimSpace(parts[0]))
		state, errState := strconv.Atoi(strings.TrimPrefix(strings.ToUpper(strings.TrimSpace(parts[1])), "CS"))
		d := Defect{Number: number, State: state}
		if errNumber != nil || errState != nil {
			return nil, fmt.Errorf("cannot be read at %q", item)
		}
		if len(parts) == 3 {
			from, to, ok := strings.Cut(parts[2], "-")
			f, errFrom := strconv.ParseFloat(strings.TrimSpace(from), 64)
			t, errTo := strconv.ParseFloat(strings.TrimSpace(to), 64)
			if !ok || errFrom != nil || errTo != nil || !(f >= 0 && t >= f && t < 1e5) {
				return nil, fmt.Errorf("has no feet FROM-TO at %q", item)
			}
			d.FromFt, d.ToFt = &f, &t
		}
		out = append(out, d)
	}
	return out, nil
}
