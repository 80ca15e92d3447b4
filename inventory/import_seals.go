package inventory

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/uptrace/bun"

	"reseal/inventory/store"
	"reseal/inventory/table"
)

// What a row sets of a seal by columns that are named as its fields.
var sealFields = []string{
	"size", "min_open_in", "max_open_in", "header", "installed_by", "contract", "installed_gap_in", "installed_deck_temp_f",
	"product", "lot", "recess_in", "cost_usd", "accepted", "warranty_until",
}

// sealColumns describe a seal and how it went in.
func sealColumns() []table.Column {
	return []table.Column{
		{Name: "kind", Synonyms: []string{"seal_kind", "seal_type", "seal"}, Help: "kind of seal, one of the agency's table; given by element where blank", Example: "strip seal"},
		{Name: "element", Kind: table.Int, Min: 1, Max: 99999, Synonyms: []string{"element_number"}, Help: "element number 300 to 306, or the agency's own in its table of seal kinds", Example: "300"},
		{Name: "size", Synonyms: []string{"seal_size"}, Help: "the seal's size as the agency names it", Example: "4 in"},
		{Name: "min_open_in", Kind: table.Length, Max: 40, Synonyms: []string{"min_opening"}, Help: "smallest opening it works at", Example: "0.5"},
		{Name: "max_open_in", Kind: table.Length, Max: 40, Synonyms: []string{"max_opening"}, Help: "largest opening it works at", Example: "4"},
		{Name: "header", Synonyms: []string{"header_material", "nosing"}, Help: "header or nosing material", Example: "elastomeric concrete"},
		{Name: "installed", Kind: table.Date, Synonyms: []string{"installed_on", "installation_date", "date_installed"}, Help: "when it went in: a day, a month (YYYY-MM) or a year (YYYY)", Example: "2017-05"},
		{Name: "installed_precision", Enum: []string{"day", "month", "year"}, Help: "how well that is known, where the first day of a month or year stands for it", Example: "month"},
		{Name: "installed_by", Enum: []string{"in-house", "contract"}, Example: "contract"},
		{Name: "contract", Synonyms: []string{"contract_number"}, Help: "number of the contract"},
		{Name: "installed_gap_in", Kind: table.Length, Max: 40, Help: "gap on the day it went in, square to the joint", Example: "2.25"},
		{Name: "installed_deck_temp_f", Kind: table.Temperature, Min: -60, Max: 180, Help: "deck temperature when that gap was measured", Example: "61"},
		{Name: "product", Help: "as the agency records it"},
		{Name: "lot"},
		{Name: "recess_in", Kind: table.Length, Min: -2, Max: 12, Help: "depth of the seal's top below the riding surface", Example: "0.5"},
		{Name: "cost_usd", Kind: table.Money, Max: 1e9, Help: "what it cost to install", Example: "6400"},
		{Name: "accepted", Kind: table.Date, Synonyms: []string{"accepted_on"}, Help: "day of acceptance"},
		{Name: "warranty_until", Kind: table.Date, Synonyms: []string{"warranty_end"}, Help: "last day of the warranty"},
	}
}

// sealReader reads the columns of a seal.
type sealReader struct {
	fill                     Fill[Seal]
	kind, element, installed int
	precision                int            // the column beside installed
	kinds                    []string       // that the agency knows
	elements                 map[int]string // the kind of each element number
}

func (s *sealReader) begin(ctx context.Context, tx *store.Tx, sheet *Sheet) error {
	s.fill = FillOf[Seal](sheet, sealFields...)
	s.kind, s.element, s.installed = sheet.At("kind"), sheet.At("element"), sheet.find("installed")
	s.precision = sheet.find("installed_precision")
	var err error
	if s.kinds, err = SealKinds(ctx, tx); err != nil {
		return err
	}
	var rows []struct {
		Element int
		Kind    string
	}
	if err := tx.NewRaw("SELECT element, kind FROM seal_kinds").Scan(ctx, &rows); err != nil {
		return err
	}
	s.elements = make(map[int]string, len(rows))
	for _, r := range rows {
		s.elements[r.Element] = r.Kind
	}
	return nil
}

// from takes over what the row says of a seal.
func (s *sealReader) from(row *table.Row, seal *Seal, today Date) (changed bool) {
	was := *seal
	changed = s.fill.From(row, seal, today)
	element, hasElement := row.Int(s.element)
	kind, hasKind := row.Text(s.kind)
	if hasElement {
		ofElement, known := s.elements[element]
		if !known {
			row.Refuse(s.element, "is not in the agency's table of seal kinds", "300 to 306, or one added by reseal settings")
		}
		seal.Element = element
		if !hasKind {
			seal.Kind = ofElement
		}
	}
	if hasKind {
		seal.Kind = s.known(row, kind)
	}
	if s.installed < 0 { // the row is about work, whose date it is
	} else if on, precision, ok := DayOrLess(row, s.installed, today); ok {
		seal.InstalledOn, seal.InstalledPrecision = on, s.precise(row, on, precision)
		if was.InstalledOn == on && was.InstalledPrecision == "" && precision == "day" {
			seal.InstalledPrecision = ""
		}
	}
	switch {
	case seal.MinOpenIn != nil && seal.MaxOpenIn != nil && *seal.MaxOpenIn <= *seal.MinOpenIn:
		row.RefuseRow(fmt.Sprintf("the largest opening, %g in, is not over the smallest, %g in", *seal.MaxOpenIn, *seal.MinOpenIn), "correct one of them")
	case !seal.AcceptedOn.IsZero() && seal.AcceptedOn.Before(seal.InstalledOn):
		row.RefuseRow(fmt.Sprintf("the seal was accepted on %s, before it went in", seal.AcceptedOn), "correct one of the two dates")
	}
	return changed || seal.Kind != was.Kind || seal.Element != was.Element || seal.InstalledOn != was.InstalledOn || seal.InstalledPrecision != was.InstalledPrecision
}

// precise is how well a date is known: as it is written, or less where the column
// beside it says so and the date is the first day of that month or year.
func (s *sealReader) precise(row *table.Row, on Date, written string) string {
	said, _ := row.Text(s.precision)
	if said == "year" && on.Month == 1 && on.Day == 1 || said == "month" && written == "day" && on.Day == 1 {
		return said
	}
	return written
}

// known is the agency's spelling of a kind of seal.
func (s *sealReader) known(row *table.Row, kind string) string {
	for _, k := range s.kinds {
		if strings.EqualFold(k, kind) {
			return k
		}
	}
	row.Refuse(s.kind, "is not a kind of seal in the agency's table", strings.Join(s.kinds, ", "))
	return kind
}

// SealSheet is the spreadsheet that ImportSeals reads.
func SealSheet() *Sheet {
	columns := append(WhichJoint(),
		table.Column{Name: "from_ft", Kind: table.Length, Max: 99999, Help: "the stretch of the joint that it closes, from the left curb facing increasing milepost; blank for the whole joint", Example: "0"},
		table.Column{Name: "to_ft", Kind: table.Length, Max: 99999, Example: "21"},
		table.Column{Name: "stage", Help: "the stage of the work that made the stretch", Example: "left lane"},
	)
	columns = append(columns, sealColumns()...)
	columns = append(columns,
		table.Column{Name: "removed", Kind: table.Date, Synonyms: []string{"removed_on"}, Help: "when it came out: a day, month or year; blank for the seal in place", Example: "2017-05-03"},
		table.Column{Name: "removed_why", Synonyms: []string{"reason_removed"}, Help: "wear, plough, installation fault, overlay, movement, bridge work", Example: "wear"},
		table.Column{Name: "notes", Synonyms: []string{"remarks", "comments"}},
	)
	return &Sheet{What: "seals", Columns: columns, AnyOf: whichJointBy}
}

// ImportSeals reads the history of seals from a spreadsheet: a row for each
// seal that a stretch of a joint has had. A row is about the seal of its
// stretch that went in when it says, and else adds one. The seals of a stretch
// may not overlap in time. A seal of part of a joint that has one stretch
// divides it, and the rest keeps the seal that it has.
func ImportSeals(ctx context.Context, tx *store.Tx, r io.Reader, name string, opt IntakeOptions) (Intake, error) {
	sheet := SealSheet()
	im := &sealImport{ctx: ctx, tx: tx, sheet: sheet, opt: opt, seen: map[int64]int{}, carried: map[int64]bool{}}
	err := im.begin()
	if err != nil {
		return Intake{File: name}, err
	}
	in, err := sheet.Read(r, name, opt, im.take)
	return in, errors.Join(err, im.stretches.Close(), im.seals.Close())
}

// sealImport is one run of ImportSeals.
type sealImport struct {
	ctx       context.Context
	tx        *store.Tx
	sheet     *Sheet
	opt       IntakeOptions
	sealing   sealReader
	more      Fill[Seal]
	stretches *store.Rows[Stretch]
	seals     *store.Rows[Seal]
	seen      map[int64]int  // the line of each seal
	carried   map[int64]bool // seals that a division of this run carried over
}

func (im *sealImport) begin() (err error) {
	im.more = FillOf[Seal](im.sheet, "removed_why", "notes")
	if err = im.sealing.begin(im.ctx, im.tx, im.sheet); err != nil {
		return err
	}
	if im.stretches, err = store.RowsOf[Stretch](im.ctx, im.tx); err != nil {
		return err
	}
	im.seals, err = store.RowsOf[Seal](im.ctx, im.tx, im.stretches)
	return err
}

func (im *sealImport) take(in *Intake, rows []*table.Row) error {
	located, err := LocateJoints(im.ctx, im.tx, rows)
	if err != nil {
		return err
	}
	ids := jointIDs(located)
	stretches, err := StretchesOf(im.ctx, im.tx, ids)
	if err != nil {
		return err
	}
	inspected, err := inspectedAlready(im.ctx, im.tx, ids)
	if err != nil {
		return err
	}
	for _, i := range oldestFirst(rows, im.sealing.installed) {
		if j := located[i].Joint; j != nil && !rows[i].Bad() {
			if stretches[j.ID], err = im.row(in, rows[i], j, stretches[j.ID], inspected[j.ID]); err != nil {
				return err
			}
		}
	}
	return errors.Join(im.stretches.Flush(), im.seals.Flush())
}

// oldestFirst orders the rows of a batch by a date, so that a seal is taken out
// before the next one goes in.
func oldestFirst(rows []*table.Row, date int) []int {
	order := make([]int, len(rows))
	on := make([]string, len(rows))
	for i, row := range rows {
		order[i] = i
		if d, ok := row.Date(date); ok {
			on[i] = d.String()
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return strings.Compare(on[a], on[b]) })
	return order
}

// inspectedAlready tells which joints have feet on record, so that their
// stretches can no longer be redrawn.
func inspectedAlready(ctx context.Context, tx *store.Tx, ids []int64) (map[int64]bool, error) {
	if len(ids) == 0 {
		return nil, nil
	}
	var with []int64
	err := tx.NewSelect().ColumnExpr("DISTINCT i.joint_id").TableExpr("inspections i").Where("i.joint_id IN (?)", bun.List(ids)).
		Where("EXISTS (SELECT 1 FROM inspection_feet f WHERE f.inspection_id = i.id)").Scan(ctx, &with)
	out := make(map[int64]bool, len(with))
	for _, id := range with {
		out[id] = true
	}
	return out, err
}

// row puts one row on record, and returns the joint's stretches as they are then.
func (im *sealImport) row(in *Intake, row *table.Row, j *Joint, stretches []SealedStretch, inspected bool) ([]SealedStretch, error) {
	var given Seal
	im.sealing.from(row, &given, im.opt.Today)
	if on, _, ok := DayOrLess(row, im.sheet.At("removed"), im.opt.Today); ok {
		given.RemovedOn = on
	}
	switch {
	case row.Bad():
		return stretches, nil
	case !given.RemovedOn.IsZero() && given.RemovedOn.Before(given.InstalledOn):
		row.RefuseRow(fmt.Sprintf("the seal came out on %s, before it went in on %s", given.RemovedOn, given.InstalledOn), "correct one of the two dates")
		return stretches, nil
	}
	at, stretches, err := im.stretch(row, j, &given, stretches, inspected)
	if err != nil || row.Bad() {
		return stretches, err
	}
	t := &stretches[at]
	seal := im.theSeal(t, &given)
	isNew := seal == nil
	if isNew {
		seal = &Seal{StretchID: t.ID, Kind: KindOther}
	} else if line := im.seen[seal.ID]; line > 0 {
		row.RefuseRow(fmt.Sprintf("line %d is about the same seal", line), "keep one of the two rows")
		return stretches, nil
	}
	now := *seal
	changed := im.sealing.from(row, &now, im.opt.Today)
	changed = im.more.From(row, &now, im.opt.Today) || changed
	if !given.RemovedOn.IsZero() && given.RemovedOn != now.RemovedOn {
		now.RemovedOn, changed = given.RemovedOn, true
	}
	if err := overlap(t, &now); err != nil {
		RefuseRow(row, err)
	}
	switch {
	case row.Bad():
		return stretches, nil
	case isNew:
		now.ID, now.UID, now.Stamp = im.seals.NewID(), im.tx.NewUID(), im.tx.Created()
		t.Seals = append([]Seal{now}, t.Seals...)
		in.Added++
		err = im.add(&now)
	case changed:
		im.tx.Changed(&now.Stamp)
		*seal = now
		in.Changed++
		err = im.seals.Update(&now)
	default:
		in.Unchanged++
	}
	im.seen[now.ID] = row.Line()
	return stretches, err
}

// add writes a new seal after the changes of those before it: at most one of a
// stretch is in place at any moment.
func (im *sealImport) add(s *Seal) error {
	if err := im.seals.FlushUpdates(); err != nil {
		return err
	}
	return im.seals.Add(s)
}

// theSeal is the seal on record that a row is about: the one that went in when
// the row says. A row with the seal in place completes the one in place of
// which no date is known, or one that a division carried over in this run.
func (im *sealImport) theSeal(t *SealedStretch, given *Seal) *Seal {
	for i := range t.Seals {
		s := &t.Seals[i]
		if !given.InstalledOn.IsZero() && s.InstalledOn == given.InstalledOn ||
			given.InstalledOn.IsZero() && !given.RemovedOn.IsZero() && s.RemovedOn == given.RemovedOn {
			return s
		}
	}
	if now := t.Current(); now != nil && given.RemovedOn.IsZero() && (now.InstalledOn.IsZero() || given.InstalledOn.IsZero() || im.carried[now.ID] && sameWork(now, given)) {
		return now
	}
	return nil
}

// overlap refuses a seal that lies in the stretch while another does.
func overlap(t *SealedStretch, now *Seal) error {
	for i := range t.Seals {
		s := &t.Seals[i]
		if s.ID == now.ID && now.ID != 0 {
			continue
		}
		a, b := s, now
		if b.InstalledOn.Before(a.InstalledOn) {
			a, b = b, a
		}
		switch {
		case a.RemovedOn.IsZero() && b.RemovedOn.IsZero():
			return store.Invalid("give the day on which the earlier one was removed", "two seals of the stretch would be in place: those of %s and %s", dayWord(a.InstalledOn), dayWord(b.InstalledOn))
		case a.InstalledOn.IsZero(): // nothing to compare
		case a.RemovedOn.IsZero() || latest(b).Before(a.RemovedOn):
			return store.Invalid("correct the dates, or give from_ft and to_ft if they lie in different stretches",
				"the seal of %s is in place until %s, when that of %s is there already", a.InstalledOn, orToday(a.RemovedOn), b.InstalledOn)
		}
	}
	return nil
}

func dayWord(d Date) string {
	if d.IsZero() {
		return "unknown date"
	}
	return d.String()
}

func orToday(d Date) string {
	if d.IsZero() {
		return "today"
	}
	return d.String()
}

// latest is the last day on which a seal can have gone in.
func latest(s *Seal) Date {
	switch s.InstalledPrecision {
	case "year":
		return s.InstalledOn.AddMonths(12).AddDays(-1)
	case "month":
		return s.InstalledOn.AddMonths(1).AddDays(-1)
	}
	return s.InstalledOn
}

// stretch finds the stretch that a row is about, or makes it.
func (im *sealImport) stretch(row *table.Row, j *Joint, given *Seal, stretches []SealedStretch, inspected bool) (at int, now []SealedStretch, err error) {
	from, hasFrom := row.Float(im.sheet.At("from_ft"))
	to, hasTo := row.Float(im.sheet.At("to_ft"))
	stage, _ := row.Text(im.sheet.At("stage"))
	switch {
	case row.Bad():
		return 0, stretches, nil
	case !hasFrom && !hasTo && len(stretches) == 1:
		return 0, stretches, nil
	case !hasTo:
		row.RefuseRow(fmt.Sprintf("joint %s has the stretches %s", j.Tag, spell(stretches)), "say which with from_ft and to_ft")
		return 0, stretches, nil
	case to <= from:
		row.Refuse(im.sheet.At("to_ft"), fmt.Sprintf("is not over from_ft, %g", from), "from the left curb facing increasing milepost")
		return 0, stretches, nil
	case j.LengthFt != nil && to > *j.LengthFt+1:
		row.Refuse(im.sheet.At("to_ft"), fmt.Sprintf("is beyond the joint's length of %.4g ft", *j.LengthFt), "correct one of them")
		return 0, stretches, nil
	}
	at = slices.IndexFunc(stretches, func(t SealedStretch) bool {
		return math.Abs(t.FromFt-from) <= nearFt && math.Abs(t.ToFt-to) <= nearFt
	})
	if at >= 0 {
		return at, stretches, nil
	}
	if len(stretches) == 1 && given.RemovedOn.IsZero() && from >= stretches[0].FromFt-nearFt && to <= stretches[0].ToFt+nearFt && divisible(&stretches[0], given) {
		parts, err := im.divide(&stretches[0], from, to, stage, given.InstalledOn, inspected)
		at := slices.IndexFunc(parts, func(t SealedStretch) bool { return t.FromFt == from && t.ToFt == to })
		return max(at, 0), parts, err
	}
	for _, t := range stretches {
		if from < t.ToFt-nearFt && to > t.FromFt+nearFt {
			row.RefuseRow(fmt.Sprintf("the stretch from %.4g to %.4g ft overlaps that from %.4g to %.4g ft", from, to, t.FromFt, t.ToFt),
				"use the feet of the stretches on record: "+spell(stretches))
			return 0, stretches, nil
		}
	}
	t := Stretch{ID: im.stretches.NewID(), UID: im.tx.NewUID(), JointID: j.ID, FromFt: from, ToFt: to, Stage: stage, Stamp: im.tx.Created()}
	return len(stretches), append(stretches, SealedStretch{Stretch: t}), im.stretches.Add(&t)
}

// divisible tells whether a seal that went into part of a stretch can have
// divided it: the seal of the whole did not go in later.
func divisible(t *SealedStretch, given *Seal) bool {
	now := t.Current()
	return now == nil || now.InstalledOn.IsZero() || !given.InstalledOn.IsZero() && (!given.InstalledOn.Before(now.InstalledOn) || sameWork(given, now))
}

// nearFt is how far the ends of one stretch may be apart in two tables.
const nearFt = 0.5

func spell(stretches []SealedStretch) string {
	var parts []string
	for _, t := range stretches {
		parts = append(parts, fmt.Sprintf("%.4g to %.4g ft", t.FromFt, t.ToFt))
	}
	return strings.Join(parts, ", ")
}
