package setting

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/uptrace/bun"

	"reseal/inventory/store"
	"reseal/inventory/table"
)

// Table is a table that the agency fills: its columns in a file, and where
// they are kept. The first column names the row.
type Table struct {
	Name    string
	Help    string
	Columns []table.Column
	Stored  []string // the columns in the database, in the same order; nil: of the same names
	// BlankText lists the text columns in which a blank is stored as no letters
	// rather than as nothing known.
	BlankText []string
	// Check says what is wrong with the first cell of a row that is otherwise good;
	// it may be nil.
	Check func(cells []any) error
}

// FindTable returns the table of that name.
func FindTable(tables []Table, name string) (Table, error) {
	var names []string
	for _, t := range tables {
		if t.Name == name {
			return t, nil
		}
		names = append(names, t.Name)
	}
	return Table{}, store.NotFound("it is one of "+strings.Join(names, ", "), "there is no table %q", name)
}

// Source and Illustrative are the last two columns of most tables.
var (
	Source       = table.Column{Name: "source", Required: true, Help: "where the values come from, and their date"}
	Illustrative = table.Column{Name: "illustrative", Kind: table.Bool, Help: "yes: invented, marked on every output; blank is no"}
)

func (t Table) stored() []string {
	if t.Stored != nil {
		return t.Stored
	}
	names := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		names[i] = c.Name
	}
	return names
}

// Each calls fn with the values of each row in the order of entry: string,
// float64, int, bool, and int64 for cents; a blank is nil.
func (t Table) Each(ctx context.Context, db bun.IDB, fn func([]any) error) error {
	rows, err := db.QueryContext(ctx, "SELECT "+strings.Join(t.stored(), ", ")+" FROM "+t.Name+" ORDER BY id")
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
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
		if err := fn(cells); err != nil {
			return err
		}
	}
	return rows.Err()
}

// Export writes the table as CSV.
func (t Table) Export(ctx context.Context, db bun.IDB, w *table.Writer) error {
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

// Texts returns the rows as the cells of a file hold them.
func (t Table) Texts(ctx context.Context, db bun.IDB) (rows [][]string, err error) {
	err = t.Each(ctx, db, func(cells []any) error {
		row := make([]string, len(cells))
		for i, v := range cells {
			switch v := v.(type) {
			case string:
				row[i] = v
			case float64:
				row[i] = strconv.FormatFloat(v, 'f', -1, 64)
			case int:
				row[i] = strconv.Itoa(v)
			case int64:
				row[i] = fmt.Sprintf("%d.%02d", v/100, v%100)
			case bool:
				row[i] = map[bool]string{true: "yes", false: "no"}[v]
			}
		}
		rows = append(rows, row)
		return nil
	})
	return rows, err
}

// SetRow writes one row, given as the cells of a file hold them. What is wrong
// with a cell is a *table.Faults.
func (t Table) SetRow(ctx context.Context, tx *store.Tx, cells []string) (changed bool, err error) {
	if len(cells) != len(t.Columns) {
		return false, store.Invalid("", "%s has %d columns, not %d", t.Name, len(t.Columns), len(cells))
	}
	names := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		names[i] = c.Name
	}
	var file bytes.Buffer
	w := csv.NewWriter(&file)
	if err := w.WriteAll([][]string{names, cells}); err != nil {
		return false, err
	}
	r, err := table.NewReader(&file, t.Name, t.Columns, table.Options{})
	if err != nil {
		return false, err
	}
	defer r.Close()
	n, err := t.Import(ctx, tx, r)
	return n > 0, err
}

// Import writes the rows of a file. A row that the table has is changed, and
// history keeps what it was; rows that the file does not name stay. Every
// fault of the file is in the error, and then nothing is to be kept. It
// returns how many rows are new or changed.
func (t Table) Import(ctx context.Context, tx *store.Tx, r *table.Reader) (changed int, err error) {
	seen := map[any]int{}
	stored := t.stored()
	for row := range r.Rows() {
		cells := make([]any, len(t.Columns))
		for i := range cells {
			cells[i] = t.read(row, i)
		}
		if first, again := seen[cells[0]]; again && cells[0] != nil {
			row.Refuse(0, fmt.Sprintf("stands on line %d already", first), t.once())
		}
		seen[cells[0]] = row.Line()
		if t.Check != nil && !row.Bad() {
			if err := t.Check(cells); err != nil {
				row.Refuse(0, err.Error(), "see: reseal settings table list "+t.Name)
			}
		}
		if row.Bad() {
			continue
		}
		did, err := upsert(ctx, tx, t.Name, stored, cells)
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

// once is what to do where a row stands in a file again.
func (t Table) once() string {
	if first := t.Columns[0]; first.Name == "name" && first.Example != "" {
		return "give each row a name of its own, for example " + first.Example
	}
	return "give each row once"
}

func (t Table) read(row *table.Row, i int) any {
	var v any
	var ok bool
	switch c := t.Columns[i]; c.Kind {
	case table.Int:
		v, ok = row.Int(i)
	case table.Money:
		if v, ok = row.Cents(i); !ok {
			v, ok = int64(0), true
		}
	case table.Bool:
		v, _ = row.Bool(i)
		ok = true
	case table.Text:
		v, ok = row.Text(i)
		for _, blank := range t.BlankText {
			if !ok && c.Name == blank {
				v, ok = "", true
			}
		}
	default:
		v, ok = row.Float(i)
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
		case table.Bool:
			return v != 0
		case table.Money, table.Text:
			return v
		default:
			return float64(v)
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
	same := make([]string, len(columns))
	for i, c := range columns {
		same[i] = c + " IS ?"
		if _, number := values[i].(float64); number { // a workbook holds 15 digits
			same[i] = fmt.Sprintf("coalesce(abs(%s - ?) <= 1e-14 * abs(%[1]s), 0)", c)
		}
	}
	var id int64
	var equal bool
	var stamp store.Stamp
	row := tx.QueryRowContext(ctx, "SELECT id, "+strings.Join(same, " AND ")+", changed_at FROM "+name+" WHERE "+columns[0]+" = ?", append(slices.Clone(values), values[0])...)
	err := row.Scan(&id, &equal, &stamp.ChangedAt)
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
