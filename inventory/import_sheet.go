package inventory

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strings"

	"reseal/inventory/store"
	"reseal/inventory/table"
)

// sheetBatch is how many rows are looked up and judged together: enough to
// make a query for all of them cheap, few enough to keep memory flat.
const sheetBatch = 500

// Sheet describes the spreadsheet that an import reads.
type Sheet struct {
	What    string // what is counted: joints, seals, …
	Columns []table.Column
	// AnyOf names columns of which the header must have one group whole: what
	// identifies a row.
	AnyOf [][]string
	// Together tells of two neighbouring rows that they make up one thing, so
	// that they come in one batch; nil is never.
	Together func(above, below *table.Row) bool
}

// At is the index of a column of the sheet by its name.
func (s *Sheet) At(name string) int {
	i := s.find(name)
	if i < 0 {
		panic("no column " + name)
	}
	return i
}

func (s *Sheet) find(name string) int {
	return slices.IndexFunc(s.Columns, func(c table.Column) bool { return c.Name == name })
}

// Read reads a spreadsheet in batches, in memory that does not grow with it.
// take deals with a batch: it records the faults of each row at the row, and
// keeps the rows that have none. A file with faults returns a *table.Faults in
// the end, unless opt has a place for bad rows.
func (s *Sheet) Read(r io.Reader, name string, opt IntakeOptions, take func(in *Intake, batch []*table.Row) error) (Intake, error) {
	in := Intake{File: name, What: s.What}
	reader, err := table.NewReader(r, name, s.Columns, table.Options{Sheet: opt.Sheet})
	if err != nil {
		return in, notThis(s, err)
	}
	defer reader.Close()
	if err := s.checkHeader(reader, name); err != nil {
		return in, err
	}
	run := sheetRun{reader: reader, opt: opt, in: &in, take: take}
	for row := range reader.Rows() {
		in.Read++
		opt.Tell(in.Read)
		if n := len(run.batch); n >= sheetBatch && (s.Together == nil || !s.Together(run.batch[n-1], row)) {
			if err := run.flush(); err != nil {
				return in, err
			}
		}
		run.batch = append(run.batch, row.Clone())
	}
	if err := errors.Join(reader.Err(), run.flush(), run.close()); err != nil {
		return in, err
	}
	for _, n := range reader.Notices() {
		in.Notices = append(in.Notices, strings.TrimPrefix(n, name+": "))
	}
	faults := reader.Faults()
	slices.SortStableFunc(faults.Kept, func(a, b table.Fault) int { return cmp.Compare(a.Line, b.Line) })
	if in.Faults = *faults; opt.Bad == nil {
		return in, faults.Err()
	}
	return in, nil
}

// sheetRun is one pass over a spreadsheet.
type sheetRun struct {
	reader *table.Reader
	opt    IntakeOptions
	in     *Intake
	take   func(*Intake, []*table.Row) error
	batch  []*table.Row
	bad    *table.BadRows
}

func (run *sheetRun) flush() error {
	if len(run.batch) == 0 {
		return nil
	}
	if err := run.take(run.in, run.batch); err != nil {
		return err
	}
	for _, row := range run.batch {
		if row.Bad() {
			row.Check()
		}
		if row.Bad() && run.opt.Bad != nil {
			if err := run.reject(row); err != nil {
				return err
			}
		}
	}
	run.batch = run.batch[:0]
	return nil
}

func (run *sheetRun) reject(row *table.Row) (err error) {
	if run.bad == nil {
		if run.bad, err = table.NewBadRows(run.opt.Bad, run.reader); err != nil {
			return err
		}
	}
	run.in.Rejected++
	return run.bad.Write(row)
}

func (run *sheetRun) close() error {
	if run.bad == nil {
		return nil
	}
	return run.bad.Close()
}

// notThis explains a file that is given to the wrong import.
func notThis(s *Sheet, err error) error {
	var faults *table.Faults
	if errors.As(err, &faults) && slices.ContainsFunc(faults.Kept, func(f table.Fault) bool { return f.Problem == "is missing from the header" }) {
		return store.Hinted(err, "an empty table with the right columns: reseal import template "+s.What)
	}
	return err
}

func (s *Sheet) checkHeader(reader *table.Reader, name string) error {
	if slices.ContainsFunc(reader.Header(), isNBIHeader) && s.What != "bridges" {
		return store.Invalid("take it in with: reseal import bridges "+name, "%s: is a bridge inventory, not a table of %s", name, s.What)
	}
	if len(s.AnyOf) == 0 || s.names(reader.Has) {
		return nil
	}
	var ways []string
	for _, group := range s.AnyOf {
		if group[0] != "structure_number" { // which stands for bridge
			ways = append(ways, strings.Join(group, " and "))
		}
	}
	return store.Invalid("an empty table with the right columns: reseal import template "+s.What,
		"%s: is not a table of %s: no column says which one a row is about (%s); its columns are %s", name, s.What, strings.Join(ways, ", or "), strings.Join(reader.Header(), ", "))
}

// isNBIHeader tells the header of a National Bridge Inventory file by a column
// that nothing else has.
func isNBIHeader(name string) bool {
	return strings.EqualFold(strings.Trim(name, "' "), "STRUCTURE_NUMBER_008")
}

// Fits tells how many columns of the sheet a header has, and whether it has
// all that a row needs.
func (s *Sheet) Fits(header []string) (known int, whole bool) {
	has := table.Present(s.Columns, header)
	whole = true
	for i, c := range s.Columns {
		if has[i] {
			known++
		} else if c.Required {
			whole = false
		}
	}
	return known, whole && (len(s.AnyOf) == 0 || s.names(func(c int) bool { return has[c] }))
}

// names reports that one of the groups of columns that name a row is there.
func (s *Sheet) names(has func(column int) bool) bool {
	return slices.ContainsFunc(s.AnyOf, func(group []string) bool {
		return !slices.ContainsFunc(group, func(c string) bool { return !has(s.At(c)) })
	})
}

// Fill sets the fields of T that columns of a spreadsheet are named after: as
// bun names them, with _on after a date and _cents for _usd.
type Fill[T any] struct {
	pairs []fillPair
}

type fillPair struct {
	column int
	field  []int
	name   string
	kind   table.Kind
}

// FillOf pairs the named columns of a sheet with the fields of T.
func FillOf[T any](s *Sheet, columns ...string) Fill[T] {
	fields := map[string][]int{}
	for _, f := range reflect.VisibleFields(reflect.TypeFor[T]()) {
		name, _, _ := strings.Cut(f.Tag.Get("bun"), ",")
		fields[name] = f.Index
	}
	var fill Fill[T]
	for _, c := range columns {
		at := s.At(c)
		path := fields[c]
		for _, other := range []string{c + "_on", strings.Replace(c, "_usd", "_cents", 1)} {
			if path == nil {
				path = fields[other]
			}
		}
		if path == nil {
			panic("no field for column " + c)
		}
		fill.pairs = append(fill.pairs, fillPair{at, path, c, s.Columns[at].Kind})
	}
	return fill
}

// From sets the fields from a row; a blank cell leaves its field as it is. It
// tells whether one of them changed. A date after today is a fault, except the
// end of a warranty.
func (f *Fill[T]) From(row *table.Row, to *T, today Date) (changed bool) {
	v := reflect.ValueOf(to).Elem()
	for _, p := range f.pairs {
		value, ok := p.read(row, today)
		if !ok {
			continue
		}
		field := v.FieldByIndex(p.field)
		if field.Kind() != reflect.Pointer {
			if now := value.Convert(field.Type()); !now.Equal(field) {
				field.Set(now)
				changed = true
			}
			continue
		}
		now := value.Convert(field.Type().Elem())
		if field.IsNil() || !now.Equal(field.Elem()) {
			field.Set(reflect.New(field.Type().Elem()))
			field.Elem().Set(now)
			changed = true
		}
	}
	return changed
}

func (p *fillPair) read(row *table.Row, today Date) (value reflect.Value, ok bool) {
	var v any
	switch p.kind {
	case table.Text:
		v, ok = row.Text(p.column)
	case table.Int:
		v, ok = row.Int(p.column)
	case table.Money:
		v, ok = row.Cents(p.column)
	case table.Bool:
		v, ok = row.Bool(p.column)
	case table.Date:
		if p.name == "warranty_until" {
			today = Date{}
		}
		v, ok = Day(row, p.column, today)
	default:
		v, ok = row.Float(p.column)
	}
	return reflect.ValueOf(v), ok
}

// Day reads a civil day, no later than today unless that is no date.
func Day(row *table.Row, column int, today Date) (Date, bool) {
	d, precision, ok := DayOrLess(row, column, today)
	if ok && precision != "day" {
		row.Refuse(column, "is not a day", "YYYY-MM-DD")
		return Date{}, false
	}
	return d, ok
}

// DayOrLess reads a day, month or year, and says which; of a month or year it
// is the first day.
func DayOrLess(row *table.Row, column int, today Date) (d Date, precision string, ok bool) {
	c, ok := row.Date(column)
	if !ok {
		return d, "", false
	}
	d = DateOf(c.First())
	if !today.IsZero() && today.Before(d) {
		row.Refuse(column, "is in the future", fmt.Sprintf("today is %s", today))
		return d, "", false
	}
	switch {
	case c.Month == 0:
		return d, "year", true
	case c.Day == 0:
		return d, "month", true
	}
	return d, "day", true
}

// RefuseRow records at a row what is wrong with it as a whole.
func RefuseRow(row *table.Row, err error) {
	row.RefuseRow(err.Error(), store.Hint(err))
}
