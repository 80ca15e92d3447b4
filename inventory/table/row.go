package table

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Row is one row of a table. Its getters take the index of a column in the
// declaration. They return ok false when the column is not in the file, the
// cell is blank or its value is refused; a refusal, and a blank in a required
// column, is recorded as a fault of the row, so that one pass finds them all.
type Row struct {
	reader *Reader
	cells  []string
	line   int
	faults []Fault
	broken bool // the row could not be split into cells
}

func (row *Row) reset(rec record) {
	row.cells, row.line, row.broken = rec.cells, rec.line, rec.fault != nil
	row.faults = row.faults[:0]
	if rec.fault != nil {
		row.record(*rec.fault)
	}
}

// Clone returns a copy of the row that outlasts the next one, for rows that
// are judged together.
func (row *Row) Clone() *Row {
	kept := *row
	kept.cells, kept.faults = slices.Clone(row.cells), slices.Clone(row.faults)
	return &kept
}

// Line returns the line of the file where the row begins, or the row of the
// sheet, from 1.
func (row *Row) Line() int { return row.line }

// Cells returns the cells as the file has them, in its order.
func (row *Row) Cells() []string { return row.cells }

// Raw returns the cell of a column as the file has it, without judging it;
// empty when there is none.
func (row *Row) Raw(column int) string {
	if cell := row.reader.places[column].cell; cell >= 0 && cell < len(row.cells) {
		return row.cells[cell]
	}
	return ""
}

// Bad reports whether the row has a fault.
func (row *Row) Bad() bool { return len(row.faults) > 0 }

// Faults returns the faults of this row.
func (row *Row) Faults() []Fault { return row.faults }

// Check reads every cell, so that the faults of a row that is refused anyway
// are all known.
func (row *Row) Check() {
	for i := range row.reader.columns {
		switch row.reader.columns[i].Kind {
		case Text:
			row.Text(i)
		case Int:
			row.Int(i)
		case Money:
			row.Cents(i)
		case Bool:
			row.Bool(i)
		case Date:
			row.Date(i)
		default:
			row.Float(i)
		}
	}
}

// Refuse records a fault of a cell that the caller found; what and remedy read
// like those of Fault.
func (row *Row) Refuse(column int, what, remedy string) {
	row.refuse(column, problem{what, remedy})
}

// RefuseRow records a fault of the row as a whole.
func (row *Row) RefuseRow(what, remedy string) {
	row.record(Fault{Problem: what, Remedy: remedy})
}

// RefuseOdd records what may be right although it is odd: of a cell, or of the
// row as a whole where column is below 0.
func (row *Row) RefuseOdd(column int, what, remedy string) {
	f := Fault{Problem: what, Remedy: remedy}
	if column >= 0 {
		f = row.cellFault(column, problem{what, remedy})
	}
	f.Odd = true
	row.record(f)
}

func (row *Row) refuse(column int, bad problem) { row.record(row.cellFault(column, bad)) }

func (row *Row) cellFault(column int, bad problem) Fault {
	p := row.reader.places[column]
	f := Fault{Column: row.reader.columns[column].Name, Problem: bad.what, Remedy: bad.remedy}
	if p.cell >= 0 {
		f.Column = p.header
		if p.cell < len(row.cells) {
			f.Value = strings.TrimSpace(row.cells[p.cell])
		}
	}
	return f
}

func (row *Row) record(f Fault) {
	f = row.reader.locate(f, row.line)
	for _, old := range row.faults { // a getter may be called twice
		if old == f {
			return
		}
	}
	row.faults = append(row.faults, f)
	row.reader.faults.Add(f)
}

// value returns the cleaned cell of a column; ok is false when there is none
// to read.
func (row *Row) value(column int) (s string, ok bool) {
	p := &row.reader.places[column]
	if p.cell < 0 || row.broken {
		return "", false
	}
	if p.cell < len(row.cells) {
		s = row.cells[p.cell]
	}
	if !simple(s) {
		s, ok = row.cleaned(column, s)
		if !ok {
			return "", false
		}
	}
	if s == "" {
		if row.reader.columns[column].Required {
			row.refuse(column, problem{"is blank", "a value is required"})
		}
		return "", false
	}
	return s, true
}

// cleaned mends a cell that is more than plain text, or refuses it.
func (row *Row) cleaned(column int, s string) (string, bool) {
	if !utf8.ValidString(s) {
		row.refuse(column, problem{"mixes text encodings", "save the file as UTF-8"})
		return "", false
	}
	text, dropped := clean(s, row.reader.columns[column].Kind == Text)
	if dropped {
		row.reader.note(fmt.Sprintf("control characters were left out, first on line %d", row.line))
	}
	if row.reader.sheet == "" {
		text = unguard(text)
	}
	return text, true
}

// simple reports a cell that needs no cleaning: printable ASCII without space
// or apostrophe at its ends.
func simple(s string) bool {
	for i := 0; i < len(s); i++ {
		if s[i] < ' ' || s[i] > '~' {
			return false
		}
	}
	return s == "" || s[0] != ' ' && s[0] != '\'' && s[len(s)-1] != ' '
}

// clean trims a cell, makes every kind of space a plain one, and drops control
// and invisible formatting characters; a text may keep its line ends and tabs.
func clean(s string, lines bool) (text string, dropped bool) {
	s = strings.ReplaceAll(s, "\r\n", "\n")
	s = strings.Map(func(r rune) rune {
		switch {
		case lines && (r == '\n' || r == '\t'), r == ' ':
			return r
		case r == '\n' || r == '\t' || r == '\r' || unicode.IsSpace(r):
			return ' '
		case r == '\uFEFF' || r == '\u200B':
			return -1
		case unicode.IsControl(r):
			dropped = true
			return -1
		}
		return r
	}, s)
	return strings.TrimSpace(s), dropped
}

// Text returns the text of a cell. With an Enum it is one of the list.
func (row *Row) Text(column int) (string, bool) {
	s, ok := row.value(column)
	if !ok {
		return "", false
	}
	c := &row.reader.columns[column]
	if len(c.Enum) > 0 {
		return row.enum(column, c, s)
	}
	if s[0] == '#' && sheetErrors[s] {
		row.refuse(column, problem{"is an error of the spreadsheet", "mend its formula"})
		return "", false
	}
	if scientific(s) {
		row.refuse(column, problem{"was made a number by a spreadsheet and has lost digits", "format the column as text and enter it again"})
		return "", false
	}
	return s, true
}

func (row *Row) enum(column int, c *Column, s string) (string, bool) {
	for _, e := range c.Enum {
		if e == s {
			return e, true
		}
	}
	key := plain(s)
	for _, e := range c.Enum {
		if plain(e) == key {
			return e, true
		}
	}
	row.refuse(column, problem{"is not one of the values", strings.Join(c.Enum, ", ")})
	return "", false
}

var sheetErrors = map[string]bool{
	"#N/A": true, "#REF!": true, "#DIV/0!": true, "#VALUE!": true, "#NAME?": true, "#NUM!": true, "#NULL!": true,
}

// scientific reports 1.23457E+14: what a spreadsheet makes of a long number.
func scientific(s string) bool {
	e := strings.Index(s, "E+")
	if e < 1 || len(s) != e+4 || s[0] < '0' || s[0] > '9' {
		return false
	}
	return strings.Trim(s[:e], "0123456789.") == "" && strings.Trim(s[e+2:], "0123456789") == ""
}

// Float returns a finite number; a length, temperature or percentage is in the
// unit of the column's name, whatever that of the file.
func (row *Row) Float(column int) (float64, bool) {
	s, ok := row.value(column)
	if !ok {
		return 0, false
	}
	c, p := &row.reader.columns[column], &row.reader.places[column]
	if c.Kind == Percent {
		s = strings.TrimRight(strings.TrimSuffix(s, "%"), " ")
	}
	v, bad := parseNumber(s, row.reader.decimalComma())
	if bad.what != "" {
		row.refuse(column, bad)
		return 0, false
	}
	if p.from != p.to {
		// Four decimals are finer than any tape, and spare the digits that the
		// conversion makes.
		if v = math.Round(convert(v, p.from, p.to)*1e4) / 1e4; math.IsInf(v, 0) {
			row.refuse(column, problem{"is too large", "check the number"})
			return 0, false
		}
	}
	if !row.within(column, v) {
		return 0, false
	}
	return v, true
}

// within refuses a number outside the bounds of its column.
func (row *Row) within(column int, v float64) bool {
	c := &row.reader.columns[column]
	if !c.bounded() || v >= c.Min && v <= c.Max {
		return true
	}
	what, limit := "is under", c.Min
	if v > c.Max {
		what, limit = "is over", c.Max
	}
	row.refuse(column, problem{fmt.Sprintf("%s %s", what, c.amount(limit)), "allowed: " + c.bounds()})
	return false
}

// Int returns a whole number; 12.0 is 12.
func (row *Row) Int(column int) (int, bool) {
	s, ok := row.value(column)
	if !ok {
		return 0, false
	}
	if n, ok := decimal(s); ok && len(s) <= 15 {
		return n, row.within(column, float64(n))
	}
	v, bad := parseNumber(s, row.reader.decimalComma())
	if bad.what == "" && (v != math.Trunc(v) || math.Abs(v) >= 1<<53) {
		bad = problem{"is not a whole number", "digits only"}
	}
	if bad.what != "" {
		row.refuse(column, bad)
		return 0, false
	}
	return int(v), row.within(column, v)
}

// Cents returns an amount of money given in dollars.
func (row *Row) Cents(column int) (int64, bool) {
	s, ok := row.value(column)
	if !ok {
		return 0, false
	}
	cents, bad := parseCents(s, row.reader.decimalComma())
	if bad.what != "" {
		row.refuse(column, bad)
		return 0, false
	}
	if !row.within(column, float64(cents)/100) {
		return 0, false
	}
	return cents, true
}

// Date returns a date at the precision that it was written with.
func (row *Row) Date(column int) (CivilDate, bool) {
	s, ok := row.value(column)
	if !ok {
		return CivilDate{}, false
	}
	d, bad := parseDate(s)
	if bad.what != "" {
		if sheet, ok := row.reader.source.(*xlsxSource); ok {
			if d, ok := sheet.unmarkedDate(s); ok {
				return d, true
			}
		}
		row.refuse(column, bad)
		return CivilDate{}, false
	}
	return d, true
}

// Bool returns yes or no: yes, y, true, t or 1, and no, n, false, f or 0.
func (row *Row) Bool(column int) (value, ok bool) {
	s, ok := row.value(column)
	if !ok {
		return false, false
	}
	switch strings.ToLower(s) {
	case "yes", "y", "true", "t", "1":
		return true, true
	case "no", "n", "false", "f", "0":
		return false, true
	}
	row.refuse(column, problem{"is neither yes nor no", "yes or no"})
	return false, false
}
