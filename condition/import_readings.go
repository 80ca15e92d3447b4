package condition

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"reseal/inventory"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

// ReadingSheet is the spreadsheet that ImportReadings reads.
func ReadingSheet() *inventory.Sheet {
	return &inventory.Sheet{What: "readings", AnyOf: inventory.WhichJointBy(), Columns: append(inventory.WhichJoint(),
		table.Column{Name: "date", Kind: table.Date, Required: true, Synonyms: []string{"read_on"}, Help: "the day of the reading", Example: "2025-01-14"},
		table.Column{Name: "gap_in", Kind: table.Length, Required: true, Max: MaxGapIn, Synonyms: []string{"opening_in"}, Help: "gap, square to the joint", Example: "2.25"},
		table.Column{Name: "position", Help: "where along the joint", Example: "left curb"},
		table.Column{Name: "deck_temp_f", Kind: table.Temperature, Min: MinDeckTempF, Max: MaxDeckTempF, Example: "34"},
		table.Column{Name: "air_temp_f", Kind: table.Temperature, Min: MinDeckTempF, Max: MaxDeckTempF},
		table.Column{Name: "faces", Help: "what the tape was held against", Example: "steel to steel"},
		table.Column{Name: "depth_in", Kind: table.Length, Max: 48, Help: "depth below the riding surface at which it was read"},
		table.Column{Name: "at_install", Kind: table.Bool, Help: "whether it was read when the seal went in"},
		table.Column{Name: "notes", Synonyms: []string{"remarks", "comments"}},
	)}
}

// ImportReadings reads gap readings taken apart from inspections from a
// spreadsheet. A reading that is on record just so is left alone; several of
// one day and position are several readings, as the deck warms.
func ImportReadings(ctx context.Context, tx *store.Tx, r io.Reader, name string, opt inventory.IntakeOptions) (inventory.Intake, error) {
	sheet := ReadingSheet()
	im := &readingImport{tx: tx, sheet: sheet, opt: opt, seen: map[string]int{}}
	im.fill = inventory.FillOf[Reading](sheet, "gap_in", "position", "deck_temp_f", "air_temp_f", "faces", "depth_in", "at_install", "notes")
	var err error
	if im.rows, err = store.RowsOf[Reading](ctx, tx); err != nil {
		return inventory.Intake{File: name}, err
	}
	in, err := sheet.Read(r, name, opt, func(in *inventory.Intake, batch []*table.Row) error {
		located, err := inventory.LocateJoints(ctx, tx, batch)
		if err != nil {
			return err
		}
		dossiers, err := loadDossiers(ctx, tx, located, opt.Today)
		if err != nil {
			return err
		}
		for i, row := range batch {
			if j := located[i].Joint; j != nil && !row.Bad() {
				if err := im.row(in, row, dossiers[j.ID]); err != nil {
					return err
				}
			}
		}
		return im.rows.Flush()
	})
	in.Note(im.odd, "readings are odd and were kept with a mark")
	return in, errors.Join(err, im.rows.Close())
}

// readingImport is one run of ImportReadings.
type readingImport struct {
	tx    *store.Tx
	sheet *inventory.Sheet
	opt   inventory.IntakeOptions
	fill  inventory.Fill[Reading]
	rows  *store.Rows[Reading]
	seen  map[string]int // the line of each
	odd   int
}

// words is all that a reading says, as one text.
func words(r Reading) string {
	deck, air, depth := "", "", ""
	if r.DeckTempF != nil {
		deck = fmt.Sprint(*r.DeckTempF)
	}
	if r.AirTempF != nil {
		air = fmt.Sprint(*r.AirTempF)
	}
	if r.DepthIn != nil {
		depth = fmt.Sprint(*r.DepthIn)
	}
	return strings.Join([]string{
		fmt.Sprint(r.JointID), r.ReadOn.String(), r.Position, fmt.Sprint(r.GapIn), deck, air, depth, r.Faces, r.Notes, fmt.Sprint(r.AtInstall),
	}, "\x00")
}

func (im *readingImport) row(in *inventory.Intake, row *table.Row, d *dossier) error {
	r := Reading{JointID: d.joint.ID}
	im.fill.From(row, &r, im.opt.Today)
	r.ReadOn, _ = inventory.Day(row, im.sheet.At("date"), im.opt.Today)
	if row.Bad() {
		return nil
	}
	said := words(r)
	if line := im.seen[said]; line > 0 {
		row.RefuseRow(fmt.Sprintf("line %d is the same reading", line), "keep one of the two rows")
		return nil
	}
	im.seen[said] = row.Line()
	for _, o := range d.readings {
		if o.ReadOn == r.ReadOn && words(o) == said {
			in.Unchanged++
			return nil
		}
	}
	k := d.before(r.ReadOn)
	if err := errors.Join(impossibleDate(r.ReadOn, k), ImpossibleReading(&r)); err != nil {
		inventory.RefuseRow(row, err)
		return nil
	}
	odd := OddReading(&r, k)
	if len(odd) > 0 && !im.opt.AcceptOdd {
		row.RefuseOdd(-1, "odd: "+strings.Join(odd, "; "), "measure again; if it is right, --accept-odd keeps it with a mark")
		return nil
	}
	if len(odd) > 0 {
		im.odd++
	}
	r.ID, r.UID, r.CreatedAt, r.CreatedBy = im.rows.NewID(), im.tx.NewUID(), im.tx.At, im.tx.Actor
	r.Odd = strings.Join(odd, "\n")
	in.Added++
	d.addReading(r)
	return im.rows.Add(&r)
}
