package table

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Writer writes rows of typed columns as CSV or XLSX, one at a time. The
// setters take the index of a column; what is not set stays blank. A value
// that cannot be written makes EndRow fail.
type Writer struct {
	columns []Column
	cells   []cell
	sink    sink
	err     error
}

// cell is one value to be written, by the column's kind.
type cell struct {
	set    bool
	number float64 // Int, Float and the kinds with a unit; Bool as 0 or 1
	text   string
	date   CivilDate
	cents  int64
}

// sink takes the rows of one file format.
type sink interface {
	row(columns []Column, cells []cell) error
	readFirst(lines []string) error
	close() error
}

// NewCSV returns a writer of RFC 4180 text in UTF-8: comma-separated, numbers
// plain with a decimal point, dates as ISO 8601. Texts that a spreadsheet would
// run as formulas are given an apostrophe.
func NewCSV(w io.Writer, columns []Column) (*Writer, error) {
	checkColumns(columns)
	s := &csvSink{out: bufio.NewWriterSize(w, window)}
	if err := Template(s.out, columns); err != nil {
		return nil, err
	}
	return &Writer{columns: columns, cells: make([]cell, len(columns)), sink: s}, nil
}

// NewXLSX returns a writer of a workbook with one sheet of that name: a bold
// header that stays in view, texts as texts and never as formulas, dates as
// dates, money with two decimals. Rows go to a temporary file until Close
// writes the workbook to w.
func NewXLSX(w io.Writer, sheet string, columns []Column) (*Writer, error) {
	checkColumns(columns)
	s, err := newXLSXSink(w, sheet, columns)
	if err != nil {
		return nil, err
	}
	return &Writer{columns: columns, cells: make([]cell, len(columns)), sink: s}, nil
}

// Text sets a cell of a text column.
func (w *Writer) Text(column int, s string) {
	if s == "" {
		return
	}
	if !utf8.ValidString(s) {
		w.fail(column, "is not UTF-8 text")
		return
	}
	w.cells[column] = cell{set: true, text: s}
}

// Float sets a number in the unit of the column's name.
func (w *Writer) Float(column int, v float64) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		w.fail(column, "is not a finite number")
		return
	}
	w.cells[column] = cell{set: true, number: v}
}

// Int sets a whole number.
func (w *Writer) Int(column, v int) { w.cells[column] = cell{set: true, number: float64(v)} }

// Cents sets an amount of money.
func (w *Writer) Cents(column int, cents int64) { w.cells[column] = cell{set: true, cents: cents} }

// Date sets a date; no date leaves the cell blank.
func (w *Writer) Date(column int, d CivilDate) { w.cells[column] = cell{set: !d.IsZero(), date: d} }

// Bool sets yes or no.
func (w *Writer) Bool(column int, v bool) {
	c := cell{set: true}
	if v {
		c.number = 1
	}
	w.cells[column] = c
}

func (w *Writer) fail(column int, what string) {
	if w.err == nil {
		w.err = fmt.Errorf("column %s: the value %s", w.columns[column].Name, what)
	}
}

// EndRow writes the row and makes all cells blank again. After an error the
// table is not to be used.
func (w *Writer) EndRow() error {
	if w.err == nil {
		w.err = w.sink.row(w.columns, w.cells)
	}
	clear(w.cells)
	return w.err
}

// ReadFirst puts a sheet of that name before the others of a workbook, with a text in
// each line; other files have no place for one. Call it once, after the last row.
func (w *Writer) ReadFirst(lines []string) error {
	if w.err == nil {
		w.err = w.sink.readFirst(lines)
	}
	return w.err
}

// Close completes the table. It does not close the underlying writer.
func (w *Writer) Close() error {
	if err := w.sink.close(); w.err == nil {
		w.err = err
	}
	return w.err
}

// csvSink appends rows to a buffer that is used again, without an allocation a
// row; encoding/csv would need each cell as a string.
type csvSink struct {
	out *bufio.Writer
	buf []byte
}

func (s *csvSink) row(columns []Column, cells []cell) error {
	s.buf = s.buf[:0]
	for i := range cells {
		if i > 0 {
			s.buf = append(s.buf, ',')
		}
		if c := &cells[i]; c.set {
			s.buf = appendCell(s.buf, columns[i].Kind, c)
		} else if len(cells) == 1 {
			s.buf = append(s.buf, `""`...) // an empty line would be skipped
		}
	}
	s.buf = append(s.buf, '\n')
	_, err := s.out.Write(s.buf)
	return err
}

func appendCell(b []byte, kind Kind, c *cell) []byte {
	switch kind {
	case Text:
		return appendText(b, guard(c.text))
	case Date:
		return append(b, c.date.String()...)
	case Money:
		return appendCents(b, c.cents)
	case Bool:
		return append(b, yesNo(c.number != 0)...)
	}
	return strconv.AppendFloat(b, c.number, 'f', -1, 64)
}

func appendCents(b []byte, cents int64) []byte {
	if cents < 0 {
		b = append(b, '-')
	}
	u := uint64(max(cents, -cents))
	if cents == math.MinInt64 {
		u = 1 << 63
	}
	b = strconv.AppendUint(b, u/100, 10)
	return append(b, '.', byte('0'+u/10%10), byte('0'+u%10))
}

func yesNo(v bool) string {
	if v {
		return "yes"
	}
	return "no"
}

// appendText quotes where RFC 4180 section 2 asks for it, and where spaces at
// the ends would be lost by other readers.
func appendText(b []byte, s string) []byte {
	if !strings.ContainsAny(s, "\",;\t\r\n") && strings.TrimSpace(s) == s {
		return append(b, s...)
	}
	b = append(b, '"')
	for i := 0; i < len(s); i++ {
		if s[i] == '"' {
			b = append(b, '"')
		}
		b = append(b, s[i])
	}
	return append(b, '"')
}

func (s *csvSink) readFirst([]string) error { return nil }

func (s *csvSink) close() error { return s.out.Flush() }
