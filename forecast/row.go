package forecast

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"time"

	"github.com/uptrace/bun"

	"reseal/inventory"
)

// row is one row of an answer. Values are taken as the driver gives them: to
// scan each into a variable of its own type takes as long as to read it.
type row struct {
	values []any
	err    error // of a value that is not what it should be
}

func (r *row) null(i int) bool { return r.values[i] == nil }

// int is a whole number, 0 for NULL.
func (r *row) int(i int) int64 {
	v, ok := r.values[i].(int64)
	r.check(ok, i)
	return v
}

// float is a number, 0 for NULL.
func (r *row) float(i int) float64 {
	if v, ok := r.values[i].(int64); ok {
		return float64(v)
	}
	v, ok := r.values[i].(float64)
	r.check(ok, i)
	return v
}

// text is "" for NULL.
func (r *row) text(i int) string {
	v, ok := r.values[i].(string)
	r.check(ok, i)
	return v
}

func (r *row) bytes(i int) []byte {
	v, ok := r.values[i].([]byte)
	r.check(ok, i)
	return v
}

// truth is a BOOLEAN, or a condition.
func (r *row) truth(i int) bool {
	if v, ok := r.values[i].(bool); ok {
		return v
	}
	return r.int(i) != 0
}

// date is no date for NULL. Queries join a DATE with the empty text: the driver
// then hands it over as it is, and does not try it by a dozen formats of instants
// first, which took a third of the reading.
func (r *row) date(i int) inventory.Date {
	text := r.text(i)
	d, err := inventory.ParseDate(text[:min(len(text), len(time.DateOnly))])
	if r.err == nil {
		r.err = err
	}
	return d
}

func (r *row) check(ok bool, i int) {
	if !ok && r.values[i] != nil && r.err == nil {
		r.err = fmt.Errorf("column %d holds a %T", i+1, r.values[i])
	}
}

// eachRow runs a query and calls fn for each row, which is good until fn returns.
func eachRow(ctx context.Context, db bun.IDB, fn func(*row), query string, args ...any) error {
	rows, err := db.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		return err
	}
	r := row{values: make([]any, len(columns))}
	to := make([]any, len(columns))
	for i := range to {
		to[i] = &r.values[i]
	}
	for rows.Next() && r.err == nil {
		if err := rows.Scan(to...); err != nil {
			return err
		}
		fn(&r)
	}
	if r.err != nil {
		return r.err
	}
	return rows.Err()
}

// among is the condition that a column is one of the ids, which rise: for most
// pages a range with few others in it, which the caller passes over; SQLite then
// goes along an index, in place of looking for each. In the text of a query a list
// takes as long to read as the query to answer, unless it is one of JSON.
func among(column string, ids []int64) string {
	if n := len(ids); n > 0 && ids[n-1]-ids[0] < 2*int64(n) {
		return fmt.Sprintf("%s BETWEEN %d AND %d", column, ids[0], ids[n-1])
	}
	text := []byte(column + " IN (SELECT value FROM json_each('[")
	for i, id := range ids {
		if i > 0 {
			text = append(text, ',')
		}
		text = strconv.AppendInt(text, id, 10)
	}
	return string(append(text, "]'))"...))
}

// cut appends a value to a list. The first is cut from a block: a page has
// thousands of lists, and most hold one.
func cut[T any](block *[]T, list []T, v T) []T {
	if len(list) > 0 {
		return append(list, v)
	}
	if len(*block) == cap(*block) {
		*block = make([]T, 0, pageJoints/4)
	}
	*block = append(*block, v)
	return slices.Clip((*block)[len(*block)-1:])
}
