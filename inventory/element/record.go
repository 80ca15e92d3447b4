package element

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
)

// Record is one element of one bridge as submitted. It shares no memory with
// the reader and may be kept.
type Record struct {
	Line     int // of the file, where the record starts
	Problems []Problem

	State           string     // two-digit FIPS code, "41"
	StructureNumber string     // trimmed at both ends only; unique within the state only
	Element         int        // EN
	Parent          int        // EPN, the element that this one belongs to; 0 for none
	TotalQty        float64    // in the Unit of the element, of the whole bridge
	StateQty        [4]float64 // CS1 to CS4: the parts of TotalQty in good, fair, poor and severe condition
}

// Refused reports whether a problem keeps the record from being taken.
func (r *Record) Refused() bool {
	for _, p := range r.Problems {
		if p.Refuse {
			return true
		}
	}
	return false
}

// Problem is one thing wrong with a record.
type Problem struct {
	Line, Column int    // of the value, or of the record where a value is missing; columns count bytes
	Tag          string // "" for the record as a whole
	Value        string // as given
	Problem      string // what is wrong with it, for a person
	Refuse       bool   // the record cannot be taken; without it, it can
}

// field is a tag that is read, as an index.
type field int

const (
	fieldState field = iota
	fieldStructure
	fieldElement
	fieldParent
	fieldTotal
	fieldCS1
	fieldCS2
	fieldCS3
	fieldCS4
	numFields
	noField field = -1
)

var tags = [numFields]string{"STATE", "STRUCNUM", "EN", "EPN", "TOTALQTY", "CS1", "CS2", "CS3", "CS4"}

func fieldNamed(name []byte) field {
	for i := range tags {
		if string(name) == tags[i] {
			return field(i)
		}
	}
	return noField
}

// maxQty bounds a quantity, far above any bridge's square feet.
const maxQty = 1e12

// builder puts records together from the values of their tags.
type builder struct {
	rec          Record
	seen         [numFields]bool
	line, column int // of the value at hand
	// The last texts: neighbours share them, so a structure costs one
	// allocation and not each of its records.
	state, structure string
}

func (b *builder) start(line, column int) {
	b.rec = Record{Line: line}
	b.seen = [numFields]bool{}
	b.line, b.column = line, column
}

// set takes the value of a tag.
func (b *builder) set(f field, value []byte) {
	value = bytes.TrimSpace(value)
	if b.seen[f] {
		b.refuse(f, value, "is given twice")
		return
	}
	b.seen[f] = true
	switch f {
	case fieldState:
		b.setState(value)
	case fieldStructure:
		if len(value) == 0 {
			b.refuse(f, value, "is empty")
		}
		b.structure = reuse(b.structure, value)
		b.rec.StructureNumber = b.structure
	case fieldElement, fieldParent:
		if f == fieldParent && len(value) == 0 {
			return
		}
		n, ok := wholeNumber(value)
		if !ok || n == 0 && f == fieldElement {
			b.refuse(f, value, "is not an element number")
		}
		if f == fieldElement {
			b.rec.Element = n
		} else {
			b.rec.Parent = n
		}
	default:
		qty := b.quantity(f, value)
		if f == fieldTotal {
			b.rec.TotalQty = qty
		} else {
			b.rec.StateQty[f-fieldCS1] = qty
		}
	}
}

func (b *builder) setState(value []byte) {
	n, ok := wholeNumber(value)
	switch {
	case !ok || len(value) > 2 || n == 0:
		b.refuse(fieldState, value, "is not the two-digit FIPS code of a state")
	case len(value) == 1:
		b.rec.State = "0" + string(value)
	default:
		b.state = reuse(b.state, value)
		b.rec.State = b.state
	}
}

// quantity reads a number of zero or more; an empty condition state is zero.
func (b *builder) quantity(f field, value []byte) float64 {
	if n, ok := wholeNumber(value); ok {
		return float64(n)
	}
	if len(value) == 0 && f != fieldTotal {
		return 0
	}
	for _, c := range value {
		if (c < '0' || c > '9') && c != '.' && c != '-' && c != '+' {
			b.refuse(f, value, "is not a number")
			return 0
		}
	}
	qty, err := strconv.ParseFloat(string(value), 64)
	switch {
	case err != nil:
		b.refuse(f, value, "is not a number")
		return 0
	case qty < 0:
		b.refuse(f, value, "is below zero")
		return 0
	case qty > maxQty:
		b.refuse(f, value, "is more than any bridge has")
		return 0
	case qty != math.Trunc(qty):
		b.problem(f, value, "is not a whole number")
	}
	return qty
}

// finish checks the record as a whole and returns it.
func (b *builder) finish(line, column int) Record {
	b.line, b.column = line, column
	for f, seen := range b.seen {
		if !seen && field(f) != fieldParent && field(f) < fieldCS1 {
			b.refuse(field(f), nil, "is missing")
		}
	}
	r := &b.rec
	sum := r.StateQty[0] + r.StateQty[1] + r.StateQty[2] + r.StateQty[3]
	// A hundredth, for quantities with decimals.
	if math.Abs(sum-r.TotalQty) > 0.01 && !r.Refused() {
		r.Problems = append(r.Problems, Problem{
			Line: line, Column: column,
			Problem: fmt.Sprintf("CS1 to CS4 add up to %s, but TOTALQTY is %s", number(sum), number(r.TotalQty)),
		})
	}
	return *r
}

func (b *builder) problem(f field, value []byte, what string) {
	b.rec.Problems = append(b.rec.Problems, Problem{
		Line: b.line, Column: b.column, Tag: tags[f], Value: text(value), Problem: what,
	})
}

func (b *builder) refuse(f field, value []byte, what string) {
	b.problem(f, value, what)
	b.rec.Problems[len(b.rec.Problems)-1].Refuse = true
}

// wholeNumber reads one to nine digits.
func wholeNumber(b []byte) (n int, ok bool) {
	if len(b) == 0 || len(b) > 9 {
		return 0, false
	}
	for _, c := range b {
		if c < '0' || c > '9' {
			return 0, false
		}
		n = 10*n + int(c-'0')
	}
	return n, true
}

func number(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// reuse returns the last text again where it is the same.
func reuse(last string, b []byte) string {
	if string(b) == last {
		return last
	}
	return text(b)
}

// text returns b as UTF-8; bytes that are not are taken as Windows-1252.
func text(b []byte) string {
	if utf8.Valid(b) {
		return string(b)
	}
	s, err := charmap.Windows1252.NewDecoder().Bytes(b)
	if err != nil {
		return string(bytes.ToValidUTF8(b, []byte("\uFFFD")))
	}
	return string(s)
}
