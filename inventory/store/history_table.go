package store

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"github.com/uptrace/bun"
)

// Event is one change of a table's rows: which row, and what of it. A row that
// was added has New set, and its values as Fields with nothing before.
type Event struct {
	Row string
	New bool
	Change
}

// TableHistory returns what people changed in a small versioned table, such as
// the settings, the latest first. key is the column that names a row. Rows
// that came with the schema were added by nobody.
func TableHistory(ctx context.Context, db bun.IDB, table, key string) ([]Event, error) {
	columns, err := columnsOf(ctx, db, table)
	if err != nil {
		return nil, err
	}
	var pairs []string
	for _, c := range columns {
		pairs = append(pairs, "'"+c+"', t."+c)
	}
	var states []struct {
		Row  string
		ID   int64
		At   string
		By   string
		JSON string
	}
	// The states of each row in order: those kept, then the present one. at and
	// by of a state are those of the change that ended it.
	err = db.NewRaw("SELECT row, id, at, by, json FROM (SELECT CAST(t."+key+" AS TEXT) AS row, h.row_id AS id, h.at, h.by, h.before AS json, h.id AS n FROM history h JOIN "+table+
		" t ON t.id = h.row_id WHERE h.table_name = ? UNION ALL SELECT CAST(t."+key+" AS TEXT), t.id, '', '', json_object("+strings.Join(pairs, ", ")+"), NULL FROM "+table+
		" t) ORDER BY id, n NULLS LAST", table).Scan(ctx, &states)
	if err != nil {
		return nil, fmt.Errorf("history of %s: %w", table, err)
	}
	var events []Event
	for i, s := range states {
		var e Event
		if first := i == 0 || states[i-1].ID != s.ID; first {
			var born struct {
				At string `json:"changed_at"`
				By string `json:"changed_by"`
			}
			if err := json.Unmarshal([]byte(s.JSON), &born); err != nil {
				return nil, fmt.Errorf("history of %s: %w", table, err)
			}
			if born.By == "" {
				continue
			}
			e = Event{Row: s.Row, New: true, Change: Change{At: born.At, By: born.By}}
			e.Fields, err = difference("{}", s.JSON)
		} else {
			e = Event{Row: s.Row, Change: Change{At: states[i-1].At, By: states[i-1].By}}
			e.Fields, err = difference(states[i-1].JSON, s.JSON)
		}
		if err != nil {
			return nil, err
		}
		e.Fields = slices.DeleteFunc(e.Fields, func(f FieldChange) bool { return f.Column == "id" })
		events = append(events, e)
	}
	slices.SortStableFunc(events, func(a, b Event) int { return strings.Compare(b.At, a.At) })
	return events, nil
}
