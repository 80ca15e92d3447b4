package store

import (
	"context"
	"fmt"
	"reflect"
	"strings"

	"github.com/uptrace/bun"
)

// Rows writes many rows of one table from the struct that describes them to
// bun: new rows under the keys that NewID gives out, and, in a table that
// keeps history, rows on record as they are now. It is Bulk for whole structs.
type Rows[T any] struct {
	bulk   *Bulk
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
	r.bulk = tx.Bulk(ctx, table, columns...)
	if strings.Contains(r.bulk.head, "changed_by") {
		r.bulk.tail = " ON CONFLICT (id) DO UPDATE SET " + strings.Join(set, ", ")
	}
	for _, p := range parents {
		r.bulk.After(p.waiting())
	}
	var err error
	r.next, err = tx.NextID(ctx, table)
	return r, err
}

func (r *Rows[T]) waiting() *Bulk { return r.bulk }

// NewID gives out the key of the next new row. While Rows is in use, rows of
// its table are made with its keys only.
func (r *Rows[T]) NewID() int64 {
	r.next++
	return r.next - 1
}

// Add writes a row, now or with those that follow. A row on record needs a new
// mark of Changed.
func (r *Rows[T]) Add(row *T) error {
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
	return r.bulk.Add(r.args...)
}

// Flush writes what is waiting, so that queries see it.
func (r *Rows[T]) Flush() error { return r.bulk.Flush() }

// Close flushes and ends.
func (r *Rows[T]) Close() error { return r.bulk.Close() }
