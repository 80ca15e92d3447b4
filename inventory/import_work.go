package inventory

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/uptrace/bun"

	"reseal/inventory/store"
	"reseal/inventory/table"
)

// WorkSheet is the spreadsheet that ImportWork reads.
func WorkSheet() *Sheet {
	columns := append(WhichJoint(),
		table.Column{Name: "date", Kind: table.Date, Required: true, Synonyms: []string{"done_on", "work_date"}, Help: "the day it was done", Example: "2024-08-20"},
		table.Column{Name: "treatment", Required: true, Help: "what was done, as in the agency's table of treatments; a temporary plate never improves condition", Example: "reseal"},
		table.Column{Name: "from_ft", Kind: table.Length, Max: 99999, Help: "feet from the left curb; blank with to_ft for the whole length"},
		table.Column{Name: "to_ft", Kind: table.Length, Max: 99999},
		table.Column{Name: "new_seal", Kind: table.Bool, Help: "whether a new seal went in: the present one ends and that of the row begins", Example: "yes"},
		table.Column{Name: "by_whom", Synonyms: []string{"by", "crew"}, Help: "who did it"},
		table.Column{Name: "work_cost_usd", Kind: table.Money, Max: 1e9, Help: "what the whole job cost"},
		table.Column{Name: "replaces", Kind: table.Date, Help: "of a correction: the day of the same treatment on record that it replaces"},
	)
	for _, c := range sealColumns() {
		if c.Name != "installed" && c.Name != "installed_precision" { // that is the date of the work
			columns = append(columns, c)
		}
	}
	columns = append(columns, table.Column{Name: "notes", Synonyms: []string{"remarks", "comments"}})
	return &Sheet{What: "work", Columns: columns, AnyOf: whichJointBy}
}

// ImportWork reads work done from a spreadsheet. Work of the same joint, day,
// treatment and start on record is left as it is where the row says the same,
// and is a fault otherwise: corrections name the day that they replace. Work
// with a new seal ends the present one and begins the row's.
func ImportWork(ctx context.Context, tx *store.Tx, r io.Reader, name string, opt IntakeOptions) (Intake, error) {
	sheet := WorkSheet()
	im := &workImport{ctx: ctx, tx: tx, sheet: sheet, opt: opt, seen: map[workKey]int{}}
	im.fill = FillOf[Work](sheet, "treatment", "from_ft", "to_ft", "new_seal", "by_whom", "contract", "notes")
	err := im.sealing.begin(ctx, tx, sheet)
	if err == nil {
		im.work, err = store.RowsOf[Work](ctx, tx)
	}
	if err == nil {
		im.seals, err = store.RowsOf[Seal](ctx, tx)
	}
	if err != nil {
		return Intake{File: name}, err
	}
	in, err := sheet.Read(r, name, opt, im.take)
	in.Note(im.began, "new seals begin with this work")
	return in, errors.Join(err, im.work.Close(), im.seals.Close())
}

// workImport is one run of ImportWork.
type workImport struct {
	ctx     context.Context
	tx      *store.Tx
	sheet   *Sheet
	opt     IntakeOptions
	fill    Fill[Work]
	sealing sealReader
	work    *store.Rows[Work]
	seals   *store.Rows[Seal]
	seen    map[workKey]int // the line of each
	began   int
}

// workKey tells work on a joint apart.
type workKey struct {
	joint     int64
	on        Date
	treatment string
	fromFt    float64
}

func (w *Work) key() workKey {
	return workKey{w.JointID, w.DoneOn, strings.ToLower(w.Treatment), w.FromFt}
}

// same tells whether two rows of work say the same.
func (w *Work) same(o *Work) bool {
	return w.key() == o.key() && equal(w.ToFt, o.ToFt) && w.NewSeal == o.NewSeal && equal(w.CostCents, o.CostCents) &&
		w.ByWhom == o.ByWhom && w.Contract == o.Contract && w.Notes == o.Notes
}

func equal[T comparable](a, b *T) bool { return a == b || a != nil && b != nil && *a == *b }

func (im *workImport) take(in *Intake, rows []*table.Row) error {
	located, err := LocateJoints(im.ctx, im.tx, rows)
	if err != nil {
		return err
	}
	ids := jointIDs(located)
	stretches, err := StretchesOf(im.ctx, im.tx, ids)
	if err != nil {
		return err
	}
	known := map[int64][]*Work{}
	if len(ids) > 0 {
		var all []*Work
		if err := im.tx.NewSelect().Model(&all).Where("joint_id IN (?)", bun.List(ids)).Order("id").Scan(im.ctx); err != nil {
			return err
		}
		for _, w := range all {
			known[w.JointID] = append(known[w.JointID], w)
		}
	}
	for _, i := range oldestFirst(rows, im.sheet.At("date")) {
		j := located[i].Joint
		if j == nil || rows[i].Bad() {
			continue
		}
		w, err := im.row(in, rows[i], j, known[j.ID], stretches[j.ID])
		if err != nil {
			return err
		}
		if w != nil {
			known[j.ID] = append(known[j.ID], w)
		}
	}
	return errors.Join(im.work.Flush(), im.seals.Flush())
}

// row puts one row on record, and returns the work if it is new.
func (im *workImport) row(in *Intake, row *table.Row, j *Joint, known []*Work, stretches []SealedStretch) (*Work, error) {
	w := &Work{JointID: j.ID}
	w.DoneOn, _ = Day(row, im.sheet.At("date"), im.opt.Today)
	im.fill.From(row, w, im.opt.Today)
	if cents, ok := row.Cents(im.sheet.At("work_cost_usd")); ok {
		w.CostCents = &cents
	}
	im.judge(row, j, w)
	if !row.Bad() && im.seen[w.key()] > 0 {
		row.RefuseRow(fmt.Sprintf("line %d is about the same work", im.seen[w.key()]), "keep one of the two rows")
	}
	if row.Bad() {
		return nil, nil
	}
	im.seen[w.key()] = row.Line()
	if im.compare(row, w, known) {
		in.Unchanged++
		return nil, nil
	}
	if row.Bad() {
		return nil, nil
	}
	if w.NewSeal && w.ReplacesID == 0 {
		if err := im.reseal(row, j, w, stretches); err != nil || row.Bad() {
			return nil, err
		}
	}
	w.ID, w.UID, w.CreatedAt, w.CreatedBy = im.work.NewID(), im.tx.NewUID(), im.tx.At, im.tx.Actor
	in.Added++
	return w, im.work.Add(w)
}

func (im *workImport) judge(row *table.Row, j *Joint, w *Work) {
	switch {
	case row.Bad():
	case w.ToFt != nil && *w.ToFt <= w.FromFt:
		row.Refuse(im.sheet.At("to_ft"), fmt.Sprintf("is not over from_ft, %g", w.FromFt), "from the left curb facing increasing milepost")
	case w.ToFt != nil && j.LengthFt != nil && *w.ToFt > *j.LengthFt+1:
		row.Refuse(im.sheet.At("to_ft"), fmt.Sprintf("is beyond the joint's length of %.4g ft", *j.LengthFt), "correct one of them")
	case w.NewSeal && strings.EqualFold(w.Treatment, TemporaryPlate):
		row.Refuse(im.sheet.At("new_seal"), "cannot be of a temporary plate", "a plate is not a seal and never improves condition")
	}
	if strings.EqualFold(w.Treatment, TemporaryPlate) {
		w.Treatment = TemporaryPlate
	}
}

// compare tells whether the work is on record just so. Work that differs from
// it is a fault, unless the row is a correction.
func (im *workImport) compare(row *table.Row, w *Work, known []*Work) (unchanged bool) {
	gone := map[int64]bool{}
	var twin *Work
	for _, o := range known {
		gone[o.ReplacesID] = true
	}
	for _, o := range known {
		if w.same(o) {
			return true
		}
		if o.key() == w.key() && !gone[o.ID] {
			twin = o
		}
	}
	day, correction := Day(row, im.sheet.At("replaces"), im.opt.Today)
	if !correction {
		if twin != nil && !row.Bad() {
			row.RefuseRow(fmt.Sprintf("this work of %s is on record and says something else", w.DoneOn),
				fmt.Sprintf("a correction gives %s in a column replaces; nothing on record is overwritten", w.DoneOn))
		}
		return false
	}
	for _, o := range known {
		if o.DoneOn == day && !gone[o.ID] && strings.EqualFold(o.Treatment, w.Treatment) {
			w.ReplacesID = o.ID
		}
	}
	if w.ReplacesID == 0 {
		row.Refuse(im.sheet.At("replaces"), "is not the day of such work on record", "the day and treatment of the work that the row corrects")
	}
	return false
}

// reseal ends the seals of the stretches that the work took in, and begins the
// row's. A seal that is on record as of that day is completed instead.
func (im *workImport) reseal(row *table.Row, j *Joint, w *Work, stretches []SealedStretch) error {
	var within []*SealedStretch
	for i := range stretches {
		t := &stretches[i]
		if w.ToFt == nil || w.FromFt <= t.FromFt+nearFt && *w.ToFt >= t.ToFt-nearFt {
			within = append(within, t)
		}
	}
	if len(within) == 0 {
		row.RefuseRow("the new seal fills no stretch of the joint, whose stretches are "+spell(stretches), "correct the feet, or divide the joint with import seals")
		return nil
	}
	for _, t := range within {
		if old := t.Current(); old != nil && w.DoneOn.Before(old.InstalledOn) {
			row.RefuseRow(fmt.Sprintf("the seal in place went in later, on %s", old.InstalledOn), "record an earlier seal with import seals, and the work without new_seal")
			return nil
		}
	}
	for _, t := range within {
		if err := im.begin(row, w, t); err != nil || row.Bad() {
			return err
		}
	}
	return nil
}

func (im *workImport) begin(row *table.Row, w *Work, t *SealedStretch) error {
	seal := Seal{StretchID: t.ID, Kind: KindOther, InstalledOn: w.DoneOn, InstalledPrecision: "day"}
	old := t.Current()
	same := old != nil && old.InstalledOn == w.DoneOn
	if same {
		seal = *old
	}
	changed := im.sealing.from(row, &seal, im.opt.Today)
	switch {
	case row.Bad() || same && !changed:
		return nil
	case same:
		im.tx.Changed(&seal.Stamp)
		*old = seal
		return im.seals.Update(&seal)
	case old != nil:
		old.RemovedOn, old.RemovedWhy = w.DoneOn, w.Treatment
		im.tx.Changed(&old.Stamp)
		if err := errors.Join(im.seals.Update(old), im.seals.FlushUpdates()); err != nil {
			return err
		}
	}
	im.began++
	seal.ID, seal.UID, seal.Stamp = im.seals.NewID(), im.tx.NewUID(), im.tx.Created()
	t.Seals = append([]Seal{seal}, t.Seals...)
	return errors.Join(im.seals.Add(&seal), im.seals.Flush())
}
