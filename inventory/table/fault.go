package table

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Sentinels of the package, to be told apart with errors.Is.
var (
	// ErrFormat: the file is not a table that can be read.
	ErrFormat = errors.New("not a CSV or XLSX table")
	// ErrEmpty: the file or sheet holds no row at all.
	ErrEmpty = errors.New("nothing to read")
	// ErrSheet: the workbook has no sheet of that name.
	ErrSheet = errors.New("no such sheet")
	// ErrInvalid: the table has faults; the error is a *Faults.
	ErrInvalid = errors.New("faults in the table")
)

// Fault is one thing wrong at one place of a table.
type Fault struct {
	File    string
	Sheet   string // of a workbook, else empty
	Line    int    // line of a text file or row of a sheet, from 1
	Column  string // header as the file has it; empty for a whole row
	Value   string // the cell as the file has it; empty when not about a value
	Problem string // what is wrong, after the value: is not a date
	Remedy  string // what to do, or the form that is right: YYYY-MM-DD
	Odd     bool   // it may be right: kept where what is odd is accepted
}

// Error returns the fault as a sentence:
//
//	joints.csv line 214, column installed: "2017-13-02" is not a date (YYYY-MM-DD)
func (f Fault) Error() string {
	var b strings.Builder
	b.WriteString(f.File)
	if f.Sheet != "" {
		fmt.Fprintf(&b, " sheet %s row %d", f.Sheet, f.Line)
	} else {
		fmt.Fprintf(&b, " line %d", f.Line)
	}
	if f.Column != "" {
		fmt.Fprintf(&b, ", column %s", f.Column)
	}
	b.WriteString(": ")
	b.WriteString(f.reason())
	return b.String()
}

// reason is the fault without its place.
func (f Fault) reason() string {
	s := f.Problem
	if f.Value != "" {
		s = quote(f.Value) + " " + s
	}
	if f.Remedy != "" {
		s += " (" + f.Remedy + ")"
	}
	return s
}

// quote shows a value in one line of a message, cut to 60 characters.
func quote(s string) string {
	const longest = 60
	if utf8.RuneCountInString(s) > longest {
		s = string([]rune(s)[:longest]) + "…"
	}
	return strconv.Quote(s)
}

// MaxFaults is how many faults a Faults keeps; further ones are only counted.
const MaxFaults = 50

// Faults collects the faults of a table. The zero value is ready for use.
type Faults struct {
	Kept  []Fault // the first MaxFaults, in the order of the file
	Total int     // all of them
}

// Add records a fault.
func (f *Faults) Add(fault Fault) {
	f.Total++
	if len(f.Kept) < MaxFaults {
		f.Kept = append(f.Kept, fault)
	}
}

// Join adds the faults of another table.
func (f *Faults) Join(other *Faults) {
	f.Total += other.Total
	f.Kept = append(f.Kept, other.Kept[:min(len(other.Kept), MaxFaults-len(f.Kept))]...)
}

// Err returns f, or nil when there are no faults.
func (f *Faults) Err() error {
	if f.Total == 0 {
		return nil
	}
	return f
}

// Error lists the faults kept, one a line, and how many more there are.
func (f *Faults) Error() string {
	var b strings.Builder
	for i, fault := range f.Kept {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(fault.Error())
	}
	if more := f.Total - len(f.Kept); more > 0 {
		fmt.Fprintf(&b, "\nand %d more faults", more)
	}
	return b.String()
}

// Is makes errors.Is(err, ErrInvalid) true.
func (f *Faults) Is(target error) bool { return target == ErrInvalid }
