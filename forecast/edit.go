package forecast

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/uptrace/bun"

	"reseal/inventory/store"
	"reseal/inventory/table"
)

// AgencyTable is a table that the agency fills: its columns in a file, and
// where they are kept. The first column names the row.
type AgencyTable struct {
	Name    string
	Help    string
	Columns []table.Column
	stored  []string // the columns in the database, in the same order
}

// AgencyTables lists them.
func AgencyTables() []AgencyTable {
	source := table.Column{Name: "source", Required: true, Help: "where the values come from, and their date"}
	illustrative := table.Column{Name: "illustrative", Kind: table.Bool, Help: "yes: invented, marked on every output; blank is no"}
	kind := table.Column{Name: "kind", Required: true, Help: "seal kind", Example: "strip seal"}
	years := func(state string) table.Column {
		return table.Column{
			Name: state + "_years", Kind: table.Float, Required: true, Min: 0.05, Max: 200,
			Help: "years within which half of the feet leave this state", Example: "6",
		}
	}
	dollars := func(name, help string) table.Column {
		return table.Column{Name: name, Kind: table.Money, Min: 0, Max: 1e9, Help: help}
	}
	return []AgencyTable{
		{
			Name: "life_table", Help: "median years in each state by seal kind",
			Columns: []table.Column{kind, years("cs1"), years("cs2"), years("cs3"), source, illustrative},
			stored:  []string{"kind", "cs1_years", "cs2_years", "cs3_years", "source", "illustrative"},
		},
		{
			Name: "treatments", Help: "ways to renew a seal, and what they cost",
			Columns: []table.Column{
				{Name: "name", Required: true, Example: "reseal"},
				{Name: "for_kinds", Help: "seal kinds, separated by semicolons; blank is any", Example: "strip seal; modular joint"},
				dollars("cost_per_ft_usd", "per foot along the joint"), dollars("fixed_usd", "per joint"),
				dollars("visit_usd", "mobilisation and traffic control, once a bridge visit"),
				{Name: "price_year", Kind: table.Int, Required: true, Min: 1990, Max: 2100, Help: "fiscal year of these prices"},
				source, illustrative,
			},
			stored: []string{"name", "for_kinds", "cost_per_ft_cents", "fixed_cents", "visit_cents", "price_year", "source", "illustrative"},
		},
		{
			Name: "consequences", Help: "what a failed seal costs a year",
			Columns: []table.Column{
				{Name: "cause", Required: true, Example: "water on what is below, heavy deicing"},
				{Name: "dollars_a_year", Kind: table.Float, Required: true, Min: 0, Max: 1e9},
				{Name: "per", Required: true, Enum: []string{"joint", "ft", "1000 vehicles a day"}},
				{Name: "deicing", Enum: []string{"none", "light", "moderate", "heavy"}, Help: "of the bridge; blank is any"},
				source, illustrative,
			},
			stored: []string{"cause", "dollars_a_year", "per", "deicing", "source", "illustrative"},
		},
		{
			Name: "seal_kinds", Help: "the seal kind of each element number",
			Columns: []table.Column{{Name: "element", Kind: table.Int, Required: true, Min: 1, Max: 99999, Help: "300-306, or the agency's own"}, kind},
			stored:  []string{"element", "kind"},
		},
	}
}

// FindAgencyTable returns the table of that name.
func FindAgencyTable(name string) (AgencyTable, error) {
	var names []string
	for _, t := range AgencyTables() {
		if t.Name == name {
			return t, nil
		}
		names = append(names, t.Name)
	}
	return AgencyTable{}, store.NotFound("it is one of "+strings.Join(names, ", "), "there is no table %q", name)
}

// Each calls fn with the values of each row in the order of entry: string,
// float64, int, bool, and int64 for cents; a blank is nil.
func (t AgencyTable) Each(ctx context.Context, db bun.IDB, fn func([]any) error) error {
	rows, err := db.QueryContext(ctx, "SELECT "+strings.Join(t.stored, ", ")+" FROM "+t.Name+" ORDER BY id")
	if err != nil {
		return err
	}
	return scanAll(rows, func() error {
		cells := make([]any, len(t.Columns))
		to := make([]any, len(t.Columns))
		for i := range cells {
			to[i] = &cells[i]
		}
		if err := rows.Scan(to...); err != nil {
			return err
		}
		for i, v := range cells {
			cells[i] = typed(t.Columns[i].Kind, v)
		}
		return fn(cells)
	})
}

// Export writes the table as CSV.
func (t AgencyTable) Export(ctx context.Context, db bun.IDB, w *table.Writer) error {
	return t.Each(ctx, db, func(cells []any) error {
		for i, v := range cells {
			switch v := v.(type) {
			case string:
				w.Text(i, v)
			case float64:
				w.Float(i, v)
			case int:
				w.Int(i, v)
			case int64:
				w.Cents(i, v)
			case bool:
				w.Bool(i, v)
			}
		}
		return w.EndRow()
	})
}

// Import writes the rows of a file. A row that the table has is changed, and
// history keeps what it was; rows that the file does not name stay. Every
// fault of the file is in the error, and then nothing is to be kept. It
// returns how many rows are new or changed.
func (t AgencyTable) Import(ctx context.Context, tx *store.Tx, r *table.Reader) (changed int, err error) {
	seen := map[any]int{}
	for row := range r.Rows() {
		cells := make([]any, len(t.Columns))
		for i := range cells {
			cells[i] = t.read(row, i)
		}
		if first, again := seen[cells[0]]; again && cells[0] != nil {
			row.Refuse(0, fmt.Sprintf("stands on line %d already", first), "give each row once")
		}
		seen[cells[0]] = row.Line()
		if row.Bad() {
			continue
		}
		did, err := upsert(ctx, tx, t.Name, t.stored, cells)
		if err != nil {
			return changed, err
		}
		if did {
			changed++
		}
	}
	if err := r.Err(); err != nil {
		return changed, err
	}
	return changed, r.Faults().Err()
}

func (t AgencyTable) read(row *table.Row, i int) any {
	var v any
	var ok bool
	switch c := t.Columns[i]; c.Kind {
	case table.Float:
		v, ok = row.Float(i)
	case table.Int:
		v, ok = row.Int(i)
	case table.Money:
		if v, ok = row.Cents(i); !ok {
			v, ok = int64(0), true
		}
	case table.Bool:
		v, _ = row.Bool(i)
		ok = true
	default:
		v, ok = row.Text(i)
		if !ok && c.Name == "for_kinds" {
			v, ok = "", true
		}
	}
	if !ok {
		return nil
	}
	return v
}

// typed turns what the driver gave into the type of the column.
func typed(kind table.Kind, v any) any {
	switch v := v.(type) {
	case []byte:
		return string(v)
	case int64:
		switch kind {
		case table.Int:
			return int(v)
		case table.Float:
			return float64(v)
		case table.Bool:
			return v != 0
		}
	}
	return v
}

// upsert writes a row known by its first column and tells whether that
// changed anything.
func upsert(ctx context.Context, tx *store.Tx, name string, columns []string, values []any) (bool, error) {
	for _, v := range values {
		if f, ok := v.(float64); ok && (math.IsNaN(f) || math.IsInf(f, 0)) {
			return false, store.Invalid("", "%v is no value for %s", f, name)
		}
	}
	same := strings.Join(columns, " IS ? AND ") + " IS ?"
	var id int64
	var equal bool
	var at sql.NullString
	row := tx.QueryRowContext(ctx, "SELECT id, "+same+", changed_at FROM "+name+" WHERE "+columns[0]+" = ?", append(append([]any{}, values...), values[0])...)
	err := row.Scan(&id, &equal, &at)
	stamp := store.Stamp{ChangedAt: at.String}
	switch {
	case errors.Is(err, sql.ErrNoRows):
		tx.Changed(&stamp)
		marks := strings.Repeat("?, ", len(columns)+1) + "?"
		_, err = tx.ExecContext(ctx, "INSERT INTO "+name+" ("+strings.Join(columns, ", ")+", changed_at, changed_by) VALUES ("+marks+")",
			append(append([]any{}, values...), stamp.ChangedAt, stamp.ChangedBy)...)
		return err == nil, err
	case err != nil || equal:
		return false, err
	}
	tx.Changed(&stamp)
	_, err = tx.ExecContext(ctx, "UPDATE "+name+" SET "+strings.Join(columns, " = ?, ")+" = ?, changed_at = ?, changed_by = ? WHERE id = ?",
		append(append([]any{}, values...), stamp.ChangedAt, stamp.ChangedBy, id)...)
	return err == nil, err
}
