package store

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"github.com/uptrace/bun"
)

// Rows writes many rows of one table from the struct that describes them to
// bun: new rows under the keys that NewID gives out, and, in a table that
// keeps history, rows on record as they are now. It is Bulk for whole structs.
type Rows[T any] struct {
	insert *Bulk
	update *Bulk // nil in a table that is only added to
	fields []rowField
	next   int64
	args   []any
}

type rowField struct {
	path     []int
	nullzero bool
}

// RowsOf begins to write rows of T, whose rows refer to those of parents. Call
// Add for each, and Close in the end.
func RowsOf[T any](ctx context.Context, tx *Tx, parents ...interface{ waiting() *Bulk }) (*Rows[T], error) {
	r := &Rows[T]{}
	table := ""
	var columns, set []string
	var walk func(t reflect.Type, path []int)
	walk = func(t reflect.Type, path []int) {
		for i := range t.NumField() {
			f := t.Field(i)
			at := append(append([]int{}, path...), i)
			tag := strings.Split(f.Tag.Get("bun"), ",")
			switch {
			case f.Type == reflect.TypeFor[bun.BaseModel]():
				table = strings.TrimPrefix(tag[0], "table:")
			case f.Anonymous:
				walk(f.Type, at)
			case tag[0] == "" || strings.Contains(tag[0], ":"): // a relation
			case slices.Contains(tag, "scanonly"): // of another table
			default:
				columns = append(columns, tag[0])
				nullzero := tag[0] == "id"
				for _, option := range tag[1:] {
					nullzero = nullzero || option == "nullzero"
				}
				r.fields = append(r.fields, rowField{at, nullzero})
				switch tag[0] {
				case "id", "uid", "tag", "created_at", "created_by":
				default:
					set = append(set, fmt.Sprintf("%[1]s = excluded.%[1]s", tag[0]))
				}
			}
		}
	}
	walk(reflect.TypeFor[T](), nil)
	r.insert = tx.Bulk(ctx, table, columns...)
	if strings.Contains(r.insert.head, "changed_by") {
		r.update = tx.Bulk(ctx, table, columns...).After(r.insert) // a new row can change at once
		r.update.tail = " ON CONFLICT (id) DO UPDATE SET " + strings.Join(set, ", ")
	}
	for _, p := range parents {
		r.insert.After(p.waiting())
	}
	var err error
	r.next, err = tx.NextID(ctx, table)
	return r, err
}

func (r *Rows[T]) waiting() *Bulk { return r.insert }

// NewID gives out the key of the next new row. While Rows is in use, rows of
// its table are made with its keys only.
func (r *Rows[T]) NewID() int64 {
	r.next++
	return r.next - 1
}

// Add writes a new row, now or with those that follow.
func (r *Rows[T]) Add(row *T) error { return r.insert.Add(r.values(row)...) }

// Update writes a row on record as it is now, in a table that keeps history.
// The row needs a new mark of Changed.
func (r *Rows[T]) Update(row *T) error { return r.update.Add(r.values(row)...) }

func (r *Rows[T]) values(row *T) []any {
	v := reflect.ValueOf(row).Elem()
	r.args = r.args[:0]
	for _, f := range r.fields {
		field := v.FieldByIndex(f.path)
		if f.nullzero && field.IsZero() {
			r.args = append(r.args, nil)
			continue
		}
		r.args = append(r.args, field.Interface())
	}
	return r.args
}

// Flush writes what is waiting, so that queries see it.
func (r *Rows[T]) Flush() error { return errors.Join(r.insert.Flush(), r.FlushUpdates()) }

// FlushUpdates writes the rows of Update that are waiting.
func (r *Rows[T]) FlushUpdates() error {
	if r.update == nil {
		return nil
	}
	return r.update.Flush()
}

// Close flushes and ends.
func (r *Rows[T]) Close() error {
	err := r.insert.Close()
	if r.update != nil {
		err = errors.Join(err, r.update.Close())
	}
	return err
}
