package layer

import (
	"context"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"reseal/condition"
	"reseal/forecast"
	"reseal/inventory"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

// Cells takes the values of one row by field; what is not set is not known.
// *table.Writer is one.
type Cells interface {
	Text(field int, s string)
	Int(field, v int)
	Float(field int, v float64)
	Bool(field int, v bool)
	Cents(field int, cents int64)
	Date(field int, d table.CivilDate)
}

// Sink is a file being written, whatever its format: Begin, the cells, End for
// each row, and Close.
type Sink interface {
	Cells
	Begin(id int64, g orb.Geometry)
	End() error
	Close() error
}

// Layer is something that can be shown on a map or exported.
type Layer interface {
	// Name is what its rows are.
	Name() string
	// Columns are the fields with the given names, in that order; all of them
	// for no names. An unknown name wraps store.ErrInvalid.
	Columns(names []string) ([]table.Column, error)
	// Write hands each row to the sink, which has the columns of Columns. It
	// does not close it.
	Write(ctx context.Context, s *store.Store, q Query, to Sink) error
}

// Query says which rows are wanted, which of their fields, and how a joint is
// drawn.
type Query struct {
	Filter inventory.Filter
	Fields []string            // none: all
	Keep   func(id int64) bool // by the feature's id; nil: all
	Points bool                // lines by their middle
	Today  inventory.Date
	Closed bool // findings that are closed too

	// Due and WorkList give the rows of the layers of that name, of all joints
	// or of those of the filter: who asks knows the day, the year and the money.
	Due      func(context.Context) ([]*condition.Due, error)
	WorkList func(context.Context) (*forecast.WorkList, error)

	Tick func(rows int64) // called now and then; may be nil
}

// field is one property of a layer's rows: the only place that says what it
// is called, what it holds and where it comes from.
type field[T any] struct {
	name string
	kind table.Kind
	put  func(to Cells, at int, row *T)
}

// rows is a layer of one kind of row.
type rows[T any] struct {
	title string // what its rows are

	caution   string // of rows that people go out by
	projected bool   // the rows rest on the agency's tables

	fields []field[T]
	at     func(*T) (id int64, g orb.Geometry)
	each   func(ctx context.Context, s *store.Store, q Query, fn func(*T) error) error
}

// wants tells whether any of the fields is among those asked for.
func (q Query) wants(fields ...string) bool {
	return len(q.Fields) == 0 || slices.ContainsFunc(fields, func(f string) bool { return slices.Contains(q.Fields, f) })
}

// chosen returns the fields with the given names, in that order; all of them
// for no names.
func (l *rows[T]) chosen(names []string) ([]field[T], error) {
	if len(names) == 0 {
		return l.fields, nil
	}
	out := make([]field[T], 0, len(names))
	for _, name := range names {
		f := l.named(name)
		if f == nil {
			return nil, store.Invalid("", "%s have no field %q; the fields are: %s", l.title, name, strings.Join(l.names(), ", "))
		}
		out = append(out, *f)
	}
	return out, nil
}

func (l *rows[T]) Name() string { return l.title }

func (l *rows[T]) named(name string) *field[T] {
	for i := range l.fields {
		if l.fields[i].name == name {
			return &l.fields[i]
		}
	}
	return nil
}

func (l *rows[T]) names() []string {
	out := make([]string, len(l.fields))
	for i, f := range l.fields {
		out[i] = f.name
	}
	return out
}

func (l *rows[T]) Columns(names []string) ([]table.Column, error) {
	fields, err := l.chosen(names)
	out := make([]table.Column, len(fields))
	for i, f := range fields {
		out[i] = table.Column{Name: f.name, Kind: f.kind}
	}
	return out, err
}

// write hands each row to the Sink, which has the columns of l.columns.
func (l *rows[T]) Write(ctx context.Context, s *store.Store, q Query, to Sink) error {
	fields, err := l.chosen(q.Fields)
	if err != nil {
		return err
	}
	n := 0
	err = l.each(ctx, s, q, func(row *T) error {
		id, g := l.at(row)
		if q.Keep != nil && !q.Keep(id) {
			return nil
		}
		if q.Points && g != nil {
			g = Middle(g)
		}
		to.Begin(id, g)
		for i := range fields {
			fields[i].put(to, i, row)
		}
		if n++; n%1000 == 0 && q.Tick != nil {
			q.Tick(1000)
		}
		return to.End()
	})
	if err != nil {
		return err
	}
	return l.readFirst(ctx, s, to)
}

// Middle is the point halfway along a line, or the centre of anything else.
func Middle(g orb.Geometry) orb.Point {
	if line, ok := g.(orb.LineString); ok && len(line) == 2 {
		return orb.Point{(line[0][0] + line[1][0]) / 2, (line[0][1] + line[1][1]) / 2}
	}
	return g.Bound().Center()
}

// The makers of fields: each takes the name and how the value is had from a
// row. Empty text, 0 where it stands for none, no date and nil are not known.

func textField[T any](name string, of func(*T) string) field[T] {
	return field[T]{name, table.Text, func(to Cells, at int, row *T) {
		if s := of(row); s != "" {
			to.Text(at, s)
		}
	}}
}

func countField[T any](name string, of func(*T) int) field[T] {
	return field[T]{name, table.Int, func(to Cells, at int, row *T) {
		if n := of(row); n != 0 {
			to.Int(at, n)
		}
	}}
}

func wholeField[T any](name string, of func(*T) *int) field[T] {
	return field[T]{name, table.Int, func(to Cells, at int, row *T) {
		if n := of(row); n != nil {
			to.Int(at, *n)
		}
	}}
}

// numberField is a measured number; kind says of what.
func numberField[T any](name string, kind table.Kind, of func(*T) *float64) field[T] {
	return field[T]{name, kind, func(to Cells, at int, row *T) {
		if v := of(row); v != nil {
			to.Float(at, *v)
		}
	}}
}

func centsField[T any](name string, of func(*T) int64) field[T] {
	return field[T]{name, table.Money, func(to Cells, at int, row *T) { to.Cents(at, of(row)) }}
}

func dateField[T any](name string, of func(*T) inventory.Date) field[T] {
	return field[T]{name, table.Date, func(to Cells, at int, row *T) {
		if d := of(row); !d.IsZero() {
			to.Date(at, table.CivilDate(d))
		}
	}}
}

func boolField[T any](name string, of func(*T) *bool) field[T] {
	return field[T]{name, table.Bool, func(to Cells, at int, row *T) {
		if v := of(row); v != nil {
			to.Bool(at, *v)
		}
	}}
}
