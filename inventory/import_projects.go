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

// ProjectSheet is the spreadsheet that ImportProjects reads.
func ProjectSheet() *Sheet {
	return &Sheet{What: "projects", AnyOf: whichBridgeBy, Columns: append(WhichBridge(),
		table.Column{Name: "kind", Required: true, Enum: ProjectKinds, Synonyms: []string{"project"}, Example: "overlay"},
		table.Column{Name: "year", Kind: table.Int, Required: true, Min: firstProjectYear, Max: lastProjectYear, Synonyms: []string{"letting_year"}, Example: "2029"},
		table.Column{Name: "certainty", Enum: Certainties, Help: "likely where blank"},
		table.Column{Name: "notes", Synonyms: []string{"remarks", "comments"}},
	)}
}

// projectKey tells projects apart.
type projectKey struct {
	bridge int64
	kind   string
	year   int
}

// ImportProjects reads bridge projects to come from a spreadsheet. One of the
// same bridge, kind and year is brought up to date, and history keeps what it
// was. One that was withdrawn is odd, and stands again where that is accepted.
func ImportProjects(ctx context.Context, tx *store.Tx, r io.Reader, name string, opt IntakeOptions) (Intake, error) {
	sheet := ProjectSheet()
	fill := FillOf[Project](sheet, ProjectColumns()...)
	rows, err := store.RowsOf[Project](ctx, tx)
	if err != nil {
		return Intake{File: name}, err
	}
	seen := map[projectKey]int{}
	in, err := sheet.Read(r, name, opt, func(in *Intake, batch []*table.Row) error {
		found, err := locateBridges(ctx, tx, batch)
		if err != nil {
			return err
		}
		known, err := projectsOn(ctx, tx, found)
		if err != nil {
			return err
		}
		for i, row := range batch {
			given := NewProject(0)
			fill.From(row, &given, opt.Today)
			if row.Bad() {
				continue
			}
			given.BridgeID = found[i].ID
			key := projectKey{given.BridgeID, given.Kind, given.Year}
			if line := seen[key]; line > 0 {
				row.RefuseRow(fmt.Sprintf("line %d is about the same project", line), "keep one of the two rows")
				continue
			}
			seen[key] = row.Line()
			if old := known[key]; old != nil && old.Withdrawn() && !opt.AcceptOdd {
				row.RefuseOdd(sheet.At("year"), fmt.Sprintf("the %s of %d was withdrawn on %s: %s", old.Kind, old.Year, old.WithdrawnOn, old.WithdrawnWhy),
					"leave the row out; if the project comes after all: --accept-odd")
				continue
			}
			if err := takeProject(tx, in, row, &given, known[key], &fill, rows); err != nil {
				return err
			}
		}
		return rows.Flush()
	})
	return in, errors.Join(err, rows.Close())
}

func takeProject(tx *store.Tx, in *Intake, row *table.Row, given, old *Project, fill *Fill[Project], rows *store.Rows[Project]) error {
	switch {
	case old == nil:
		given.ID, given.UID, given.Stamp = rows.NewID(), tx.NewUID(), tx.Created()
		in.Added++
		return rows.Add(given)
	case fill.From(row, old, Date{}), old.Withdrawn():
		old.WithdrawnOn, old.WithdrawnWhy = Date{}, ""
		tx.Changed(&old.Stamp)
		in.Changed++
		return rows.Update(old)
	}
	in.Unchanged++
	return nil
}

// locateBridges finds the bridge that each row of a batch names; a row whose
// bridge is not on record gets a fault.
func locateBridges(ctx context.Context, tx *store.Tx, rows []*table.Row) ([]*Bridge, error) {
	refs := make([]ref, len(rows))
	for i, row := range rows {
		refs[i] = bridgeRef(row, "")
	}
	at := newAtlas()
	if err := at.load(ctx, tx, refs); err != nil {
		return nil, err
	}
	out := make([]*Bridge, len(rows))
	for i, row := range rows {
		if refs[i].number == "" && !row.Bad() {
			row.RefuseRow("the row names no bridge", "give its structure number")
		} else if refs[i].number != "" {
			out[i] = at.bridge(row, refs[i])
		}
	}
	return out, nil
}

func projectsOn(ctx context.Context, tx *store.Tx, bridges []*Bridge) (map[projectKey]*Project, error) {
	var ids []int64
	for _, b := range bridges {
		if b != nil {
			ids = append(ids, b.ID)
		}
	}
	known := map[projectKey]*Project{}
	if len(ids) == 0 {
		return known, nil
	}
	var all []*Project
	err := tx.NewSelect().Model(&all).Where("bridge_id IN (?)", bun.List(ids)).Scan(ctx)
	for _, p := range all {
		known[projectKey{p.BridgeID, p.Kind, p.Year}] = p
	}
	return known, err
}
