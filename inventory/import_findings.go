package inventory

import (
	"context"
	"errors"
	"fmt"
	"io"

	"github.com/uptrace/bun"

	"reseal/inventory/store"
	"reseal/inventory/table"
)

// FindingSheet is the spreadsheet that ImportFindings reads.
func FindingSheet() *Sheet {
	return &Sheet{What: "findings", AnyOf: whichJointBy, Columns: append(WhichJoint(),
		table.Column{Name: "kind", Required: true, Enum: FindingKinds, Synonyms: []string{"finding"}, Example: "plough strike"},
		table.Column{Name: "found", Kind: table.Date, Required: true, Synonyms: []string{"found_on", "date"}, Help: "the day it was seen", Example: "2025-01-14"},
		table.Column{Name: "source", Help: "who reported it", Example: "maintenance patrol"},
		table.Column{Name: "from_ft", Kind: table.Length, Max: 99999}, table.Column{Name: "to_ft", Kind: table.Length, Max: 99999},
		table.Column{Name: "urgency", Enum: Urgencies, Help: "a severe one needs an engineer's review"},
		table.Column{Name: "action"}, table.Column{Name: "owner", Help: "whose it is to act"},
		table.Column{Name: "closed", Kind: table.Date, Synonyms: []string{"closed_on"}, Help: "blank while it is open"},
		table.Column{Name: "closed_note"}, table.Column{Name: "notes", Synonyms: []string{"remarks", "comments"}},
	)}
}

// findingKey tells findings apart.
type findingKey struct {
	joint  int64
	kind   string
	on     Date
	fromFt float64
}

func (f *Finding) key() findingKey {
	k := findingKey{f.JointID, f.Kind, f.FoundOn, -1}
	if f.FromFt != nil {
		k.fromFt = *f.FromFt
	}
	return k
}

// ImportFindings reads findings from a spreadsheet. A row is about the finding
// of its joint, kind, day and start if that is on record: what the row gives
// is brought up to date, and history keeps what it was.
func ImportFindings(ctx context.Context, tx *store.Tx, r io.Reader, name string, opt IntakeOptions) (Intake, error) {
	sheet := FindingSheet()
	fill := FillOf[Finding](sheet, "kind", "found", "source", "from_ft", "to_ft", "urgency", "action", "owner", "closed", "closed_note", "notes")
	rows, err := store.RowsOf[Finding](ctx, tx)
	if err != nil {
		return Intake{File: name}, err
	}
	seen := map[findingKey]int{}
	in, err := sheet.Read(r, name, opt, func(in *Intake, batch []*table.Row) error {
		located, err := LocateJoints(ctx, tx, batch)
		if err != nil {
			return err
		}
		known := map[findingKey]*Finding{}
		if ids := jointIDs(located); len(ids) > 0 {
			var all []*Finding
			if err := tx.NewSelect().Model(&all).Where("joint_id IN (?)", bun.List(ids)).Scan(ctx); err != nil {
				return err
			}
			for _, f := range all {
				known[f.key()] = f
			}
		}
		for i, row := range batch {
			if j := located[i].Joint; j != nil && !row.Bad() {
				if err := takeFinding(tx, in, row, j, &fill, rows, known, seen, opt.Today); err != nil {
					return err
				}
			}
		}
		return rows.Flush()
	})
	return in, errors.Join(err, rows.Close())
}

func takeFinding(tx *store.Tx, in *Intake, row *table.Row, j *Joint, fill *Fill[Finding], rows *store.Rows[Finding],
	known map[findingKey]*Finding, seen map[findingKey]int, today Date,
) error {
	given := Finding{JointID: j.ID, Urgency: "routine"}
	fill.From(row, &given, today)
	f, changed := &given, false
	if old := known[given.key()]; old != nil {
		now := *old
		changed = fill.From(row, &now, today)
		f = &now
	}
	switch {
	case row.Bad():
	case seen[f.key()] > 0:
		row.RefuseRow(fmt.Sprintf("line %d is about the same finding", seen[f.key()]), "keep one of the two rows")
	case !f.ClosedOn.IsZero() && f.ClosedOn.Before(f.FoundOn):
		row.RefuseRow(fmt.Sprintf("the finding was closed on %s, before it was found on %s", f.ClosedOn, f.FoundOn), "correct one of the two dates")
	case f.ToFt != nil && (f.FromFt == nil || *f.ToFt < *f.FromFt):
		row.RefuseRow("the feet do not run from from_ft to to_ft", "from the left curb facing increasing milepost, the smaller first")
	case f.ToFt != nil && j.LengthFt != nil && *f.ToFt > *j.LengthFt+1:
		row.RefuseRow(fmt.Sprintf("the finding runs to %.4g ft on a joint of %.4g ft", *f.ToFt, *j.LengthFt), "correct one of them")
	}
	if row.Bad() {
		return nil
	}
	seen[f.key()] = row.Line()
	switch {
	case f == &given:
		f.ID, f.UID, f.Stamp = rows.NewID(), tx.NewUID(), tx.Created()
		in.Added++
		return rows.Add(f)
	case changed:
		tx.Changed(&f.Stamp)
		in.Changed++
		return rows.Update(f)
	}
	in.Unchanged++
	return nil
}

// jointIDs are the keys of the joints that were found.
func jointIDs(located []Located) []int64 {
	var ids []int64
	for _, l := range located {
		if l.Joint != nil {
			ids = append(ids, l.Joint.ID)
		}
	}
	return ids
}
