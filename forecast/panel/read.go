package panel

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"reseal/forecast/markov"
	"reseal/inventory/table"
)

// Row is one subject seen at one time.
type Row struct {
	Time  float64   // in years, from any origin
	State int       // from 0, best first
	X     []float64 // covariates, in the order of the file's

	line int // of the file
}

// Subject is the rows of one subject in order of time.
type Subject struct {
	Name string
	Born float64 // the time at which it was new; NaN: not known
	Rows []Row
}

// File is a panel as read, its subjects in the order of their names, so that
// the order of the rows makes no difference.
type File struct {
	Covariates []string
	Subjects   []Subject
	Repeated   int // rows left out because another one says the same

	name string
}

// Columns name the columns of a file; the zero value is subject, time and
// state, without covariates. Born is when the subject was new, in the same
// years as the time.
type Columns struct {
	Subject, Time, State string
	Born                 string // empty: none
	Covariates           []string
}

// Observations is the number of rows.
func (f *File) Observations() int {
	n := 0
	for _, s := range f.Subjects {
		n += len(s.Rows)
	}
	return n
}

// States is the number of the last state in the file.
func (f *File) States() int {
	last := 0
	for _, s := range f.Subjects {
		for _, r := range s.Rows {
			last = max(last, r.State+1)
		}
	}
	return last
}

// Read reads a CSV or XLSX file; name stands for it in messages. States are
// whole numbers from 1, times are years as numbers. Faults come back as one
// *table.Faults that lists them with their lines.
func Read(r io.Reader, name string, columns Columns) (*File, error) {
	const subject, time, state, first = 0, 1, 2, 3
	declared := []table.Column{
		subject: {Name: cmp.Or(columns.Subject, "subject"), Required: true, Named: true},
		time:    {Name: cmp.Or(columns.Time, "time"), Kind: table.Float, Required: true, Named: true},
		state:   {Name: cmp.Or(columns.State, "state"), Kind: table.Int, Required: true, Named: true, Min: 1, Max: markov.MaxStates},
	}
	for _, c := range columns.Covariates {
		declared = append(declared, table.Column{Name: c, Kind: table.Float, Required: true, Named: true})
	}
	born := len(declared)
	if columns.Born != "" {
		declared = append(declared, table.Column{Name: columns.Born, Kind: table.Float, Named: true})
	}
	in, err := table.NewReader(r, name, declared, table.Options{})
	if err != nil {
		return nil, err
	}
	type seen struct {
		time float64
		who  string
	}
	f := &File{Covariates: columns.Covariates, name: name}
	at, times := map[string]int{}, map[seen]Row{}
	for row := range in.Rows() {
		who, _ := row.Text(subject)
		when, _ := row.Float(time)
		s, _ := row.Int(state)
		v := Row{Time: when, State: s - 1, line: row.Line()}
		for c := range columns.Covariates {
			x, _ := row.Float(first + c)
			v.X = append(v.X, x)
		}
		if row.Bad() {
			continue
		}
		if before, ok := times[seen{when, who}]; ok {
			if before.State == v.State && slices.Equal(before.X, v.X) {
				f.Repeated++
				continue
			}
			row.Refuse(time, "is the time of another row of the same subject, which says otherwise", "keep one of the two")
			continue
		}
		times[seen{when, who}] = v
		i, ok := at[who]
		if !ok {
			i = len(f.Subjects)
			at[who] = i
			f.Subjects = append(f.Subjects, Subject{Name: who, Born: math.NaN()})
			if columns.Born != "" {
				if b, ok := row.Float(born); ok {
					f.Subjects[i].Born = b
				}
			}
		}
		f.Subjects[i].Rows = append(f.Subjects[i].Rows, v)
	}
	if err := errors.Join(in.Err(), in.Faults().Err(), in.Close()); err != nil {
		return nil, err
	}
	if len(f.Subjects) == 0 {
		return nil, fmt.Errorf("%w: %s has no rows", ErrInvalid, name)
	}
	slices.SortFunc(f.Subjects, func(a, b Subject) int { return cmp.Compare(a.Name, b.Name) })
	for _, s := range f.Subjects {
		slices.SortFunc(s.Rows, func(a, b Row) int { return cmp.Compare(a.Time, b.Time) })
	}
	return f, nil
}

// Until returns the part of the file up to a time, that time included.
func (f *File) Until(time float64) *File {
	out := &File{Covariates: f.Covariates, name: f.name}
	for _, s := range f.Subjects {
		n := 0
		for n < len(s.Rows) && s.Rows[n].Time <= time {
			n++
		}
		if n > 0 {
			out.Subjects = append(out.Subjects, Subject{s.Name, s.Born, s.Rows[:n:n]})
		}
	}
	return out
}

// Span is the first and the last time in the file.
func (f *File) Span() (first, last float64) {
	first, last = math.Inf(1), math.Inf(-1)
	for _, s := range f.Subjects {
		first, last = min(first, s.Rows[0].Time), max(last, s.Rows[len(s.Rows)-1].Time)
	}
	return first, last
}
