package table

import (
	"archive/zip"
	"errors"
	"fmt"
	"io"
	"unicode/utf16"

	"github.com/xuri/excelize/v2"
)

// longestText is how many UTF-16 units a cell of a workbook can hold; the
// library would cut longer ones without a word.
const longestText = excelize.TotalCellChars

// xlsxSink writes one sheet through a temporary file.
type xlsxSink struct {
	out    io.Writer
	book   *excelize.File
	stream *excelize.StreamWriter
	styles []int // of each column's cells
	values []any
	line   int // row of the sheet last written
}

func newXLSXSink(w io.Writer, sheet string, columns []Column) (*xlsxSink, error) {
	book := excelize.NewFile()
	s := &xlsxSink{out: w, book: book, values: make([]any, len(columns)), styles: make([]int, len(columns))}
	if err := s.start(sheet, columns); err != nil {
		return nil, errors.Join(err, book.Close())
	}
	return s, nil
}

func (s *xlsxSink) start(sheet string, columns []Column) (err error) {
	if err = s.book.SetSheetName("Sheet1", sheet); err != nil {
		return fmt.Errorf("sheet %q: %w", sheet, err)
	}
	if s.stream, err = s.book.NewStreamWriter(sheet); err != nil {
		return fmt.Errorf("sheet %q: %w", sheet, err)
	}
	bold, err := s.book.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}})
	if err != nil {
		return err
	}
	header := make([]any, len(columns))
	for i := range columns {
		if s.styles[i], err = s.style(columns[i].Kind); err != nil {
			return err
		}
		if err = s.stream.SetColWidth(i+1, i+1, float64(max(len(columns[i].Name)+2, 11))); err != nil {
			return err
		}
		header[i] = excelize.Cell{StyleID: bold, Value: columns[i].Name}
	}
	if err = s.stream.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return err
	}
	s.line = 1
	return s.stream.SetRow("A1", header)
}

// style returns the number format of a kind of column.
func (s *xlsxSink) style(kind Kind) (int, error) {
	code := ""
	switch kind {
	case Text:
		code = "@" // a label that is typed in later stays text as well
	case Date:
		code = "yyyy-mm-dd"
	case Money:
		code = "#,##0.00"
	default:
		return 0, nil
	}
	return s.book.NewStyle(&excelize.Style{CustomNumFmt: &code})
}

func (s *xlsxSink) row(columns []Column, cells []cell) error {
	if s.line++; s.line > excelize.TotalRows {
		return fmt.Errorf("a sheet holds at most %d rows (write CSV, or a part of the rows)", excelize.TotalRows)
	}
	for i := range cells {
		s.values[i] = nil
		if !cells[i].set {
			continue
		}
		if columns[i].Kind == Text && len(cells[i].text) > longestText {
			if n := len(utf16.Encode([]rune(cells[i].text))); n > longestText {
				return fmt.Errorf("column %s: a text of %d characters, where a sheet holds at most %d (write CSV)",
					columns[i].Name, n, longestText)
			}
		}
		s.values[i] = excelize.Cell{StyleID: s.styles[i], Value: sheetValue(columns[i].Kind, &cells[i])}
	}
	at, err := excelize.CoordinatesToCellName(1, s.line)
	if err != nil {
		return err
	}
	return s.stream.SetRow(at, s.values)
}

// sheetValue is a cell as the library takes it: never a formula.
func sheetValue(kind Kind, c *cell) any {
	switch kind {
	case Text:
		return c.text
	case Money:
		return float64(c.cents) / 100
	case Bool:
		return yesNo(c.number != 0)
	case Date:
		if c.date.Day > 0 && c.date.Year >= 1901 { // a sheet has no days before 1900
			return c.date.First()
		}
		return c.date.String()
	}
	return c.number
}

func (s *xlsxSink) readFirst(lines []string) error {
	const sheet = "Read first"
	rows := s.book.GetSheetName(0)
	at, err := s.book.NewSheet(sheet)
	if err != nil {
		return err
	}
	if err = s.book.SetColWidth(sheet, "A", "A", 100); err != nil {
		return err
	}
	wrapped, err := s.book.NewStyle(&excelize.Style{Alignment: &excelize.Alignment{WrapText: true, Vertical: "top"}})
	if err != nil {
		return err
	}
	for i, line := range lines {
		cell := fmt.Sprintf("A%d", i+1)
		if err = errors.Join(s.book.SetCellStr(sheet, cell, line), s.book.SetCellStyle(sheet, cell, cell, wrapped)); err != nil {
			return err
		}
	}
	s.book.SetActiveSheet(at)
	return s.book.MoveSheet(sheet, rows)
}

// close writes the workbook straight to its destination: the library's own
// WriteTo builds the whole archive in memory first.
func (s *xlsxSink) close() error {
	err := s.stream.Flush()
	if err == nil {
		s.book.ZipWriter = func(io.Writer) excelize.ZipWriter { return zip.NewWriter(s.out) }
		_, err = s.book.WriteToBuffer()
	}
	return errors.Join(err, s.book.Close())
}
