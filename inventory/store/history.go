package store

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"sort"
	"strings"

	"github.com/uptrace/bun"
)

// OutsideEdit is the actor of a change that another program made.
const OutsideEdit = "outside edit"

func columnsOf(ctx context.Context, db bun.IDB, table string) ([]string, error) {
	var names []string
	err := db.NewRaw("SELECT name FROM pragma_table_info(?)", table).Scan(ctx, &names)
	return names, err
}

// keepSQL refuses the deletion of a row.
func keepSQL(table string) []string {
	return []string{
		"DROP TRIGGER IF EXISTS " + table + "_kept",
		fmt.Sprintf(`CREATE TRIGGER %[1]s_kept BEFORE DELETE ON %[1]s BEGIN
  SELECT RAISE(ABORT, 'rows of %[1]s are retired or corrected, never deleted');
END`, table),
	}
}

// historySQL keeps the row as it was before each update. An update that leaves
// changed_at alone was made outside reseal, in a GIS for instance, and is
// marked so. The table name goes with the before-image as JSON; a geometry
// is kept as hexadecimal.
func historySQL(table string, columns []string) []string {
	var pairs, differs []string
	uid := false
	for _, c := range columns {
		uid = uid || c == "uid"
		value := "OLD." + c
		if c == "geom" {
			value = "hex(OLD.geom)"
		}
		pairs = append(pairs, "'"+c+"', "+value)
		if c != "changed_at" && c != "changed_by" {
			differs = append(differs, "OLD."+c+" IS NOT NEW."+c)
		}
	}
	now := "strftime('%Y-%m-%dT%H:%M:%fZ', 'now')"
	first := "1"
	if uid {
		first = "OLD.uid IS NOT NULL" // giving a row its key is no change
	}
	return []string{
		"DROP TRIGGER IF EXISTS " + table + "_history",
		fmt.Sprintf(`CREATE TRIGGER %[1]s_history AFTER UPDATE ON %[1]s
WHEN %[5]s AND (%[3]s) BEGIN
  INSERT INTO history (table_name, row_id, at, by, before)
  SELECT '%[1]s', OLD.id,
         CASE WHEN NEW.changed_at IS OLD.changed_at THEN %[4]s ELSE NEW.changed_at END,
         CASE WHEN NEW.changed_at IS OLD.changed_at THEN '%[6]s' ELSE NEW.changed_by END,
         json_object(%[2]s);
  UPDATE %[1]s SET changed_at = %[4]s, changed_by = '%[6]s' WHERE id = OLD.id AND NEW.changed_at IS OLD.changed_at;
END`, table, strings.Join(pairs, ", "), strings.Join(differs, " OR "), now, first, OutsideEdit),
	}
}

// Change is one update of a row: who made it, when, and what it did.
type Change struct {
	At     string        `json:"at"`
	By     string        `json:"by"`
	Fields []FieldChange `json:"fields"`
}

// FieldChange is a column's value before and after; nil is no value.
type FieldChange struct {
	Column string `json:"column"`
	Before any    `json:"before"`
	After  any    `json:"after"`
}

// History returns the changes of one row of a versioned table, oldest first.
func History(ctx context.Context, db bun.IDB, table string, id int64) ([]Change, error) {
	columns, err := columnsOf(ctx, db, table)
	if err != nil {
		return nil, err
	}
	var rows []struct{ At, By, Before string }
	err = db.NewRaw("SELECT at, by, before FROM history WHERE table_name = ? AND row_id = ? ORDER BY id", table, id).Scan(ctx, &rows)
	if err != nil || len(rows) == 0 {
		return nil, err
	}
	var pairs []string
	for _, c := range columns {
		value := c
		if c == "geom" {
			value = "hex(geom)"
		}
		pairs = append(pairs, "'"+c+"', "+value)
	}
	var now string
	err = db.NewRaw("SELECT json_object("+strings.Join(pairs, ", ")+") FROM ? WHERE id = ?", bun.Ident(table), id).Scan(ctx, &now)
	if err != nil {
		return nil, err
	}
	changes := make([]Change, len(rows))
	for i, r := range rows {
		after := now
		if i+1 < len(rows) {
			after = rows[i+1].Before
		}
		changes[i] = Change{At: r.At, By: r.By}
		if changes[i].Fields, err = difference(r.Before, after); err != nil {
			return nil, err
		}
	}
	return changes, nil
}

func difference(before, after string) ([]FieldChange, error) {
	var a, b map[string]any
	if err := json.Unmarshal([]byte(before), &a); err != nil {
		return nil, fmt.Errorf("history: %w", err)
	}
	if err := json.Unmarshal([]byte(after), &b); err != nil {
		return nil, fmt.Errorf("history: %w", err)
	}
	var fields []FieldChange
	for c, v := range b {
		if c == "changed_at" || c == "changed_by" || same(a[c], v) {
			continue
		}
		fields = append(fields, FieldChange{Column: c, Before: a[c], After: v})
	}
	sort.Slice(fields, func(i, j int) bool { return fields[i].Column < fields[j].Column })
	return fields, nil
}

// same compares two values of JSON. Numbers may differ in the sixteenth digit:
// the program that made the edit writes the row before it, and older builds of
// SQLite write 15 digits.
func same(a, b any) bool {
	x, ok := a.(float64)
	y, number := b.(float64)
	if !ok || !number {
		return a == b
	}
	return math.Abs(x-y) <= 1e-14*math.Max(math.Abs(x), math.Abs(y))
}
