package table

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"
	"github.com/xuri/nfp"
)

// xlsxSource reads one sheet of a workbook, a row at a time.
type xlsxSource struct {
	book  *excelize.File
	sheet string
	rows  *excelize.Rows
	row   int // of the sheet, from 1
	// from1904 is set when the workbook counts its days from 1904.
	from1904 bool
}

// largestBook is how many bytes a workbook may unpack to: a small file can be
// made to unpack to a disk full.
const largestBook = 2 << 30

// openXLSX opens the sheet of that name, or the first. It returns a notice
// when it chose among several.
func openXLSX(path, name, sheet string) (*xlsxSource, string, error) {
	book, err := excelize.OpenFile(path, excelize.Options{UnzipSizeLimit: largestBook})
	if err != nil {
		return nil, "", fmt.Errorf("%s: %w: the workbook cannot be opened: %v (save it again as .xlsx)", name, ErrFormat, err)
	}
	if err := checkParts(path, book.CharsetReader); err != nil {
		err = fmt.Errorf("%s: %w: the workbook is damaged: %v (open it and save it again as .xlsx)", name, ErrFormat, err)
		return nil, "", errors.Join(err, book.Close())
	}
	s, notice, err := openSheet(book, name, sheet)
	if err != nil {
		return nil, "", errors.Join(err, book.Close())
	}
	return s, notice, nil
}

func openSheet(book *excelize.File, name, sheet string) (*xlsxSource, string, error) {
	sheets := book.GetSheetList()
	if len(sheets) == 0 {
		return nil, "", fmt.Errorf("%s: %w: it is a zip archive without a sheet (save the table as .xlsx or CSV)", name, ErrFormat)
	}
	notice := ""
	if sheet == "" {
		sheet = sheets[0]
		if len(sheets) > 1 {
			notice = fmt.Sprintf("sheet %s is read, the first of %s", sheet, strings.Join(sheets, ", "))
		}
	} else if i := slices.IndexFunc(sheets, func(s string) bool { return strings.EqualFold(s, sheet) }); i >= 0 {
		sheet = sheets[i]
	} else {
		return nil, "", fmt.Errorf("%s: %w: %q (its sheets: %s)", name, ErrSheet, sheet, strings.Join(sheets, ", "))
	}
	if err := plainStyles(book); err != nil {
		return nil, "", fmt.Errorf("%s: %w: its styles cannot be read: %v (save it again as .xlsx)", name, ErrFormat, err)
	}
	rows, err := book.Rows(sheet)
	if err != nil {
		return nil, "", fmt.Errorf("%s: %w: sheet %s cannot be read: %v (save it again as .xlsx)", name, ErrFormat, sheet, err)
	}
	s := &xlsxSource{book: book, sheet: sheet, rows: rows}
	if props, err := book.GetWorkbookProps(); err == nil && props.Date1904 != nil {
		s.from1904 = *props.Date1904
	}
	return s, notice, nil
}

// plainStyles changes the number formats of an open workbook, in memory only,
// so that the streaming reader, which does not tell how a cell is styled,
// gives dates as day numbers with a mark, percentages with their sign and all
// other numbers as they are stored.
func plainStyles(book *excelize.File) error {
	if book.Styles == nil || book.Styles.CellXfs == nil {
		return nil
	}
	ids := make([]int, len(book.Styles.CellXfs.Xf))
	for i := range ids {
		style, err := book.GetStyle(i)
		if err != nil {
			return err
		}
		ids[i] = asStored
		if code := plainFormat(style); code != "" {
			added, err := book.NewStyle(&excelize.Style{CustomNumFmt: &code})
			if err != nil {
				return err
			}
			ids[i] = *book.Styles.CellXfs.Xf[added].NumFmtID
		}
	}
	for i := range ids {
		book.Styles.CellXfs.Xf[i].NumFmtID = &ids[i]
	}
	return nil
}

// asStored is the number of no format. With it the library gives a number in
// full, where the format General would round it to eleven digits.
const asStored = 1 << 20

// dayMark ends the number of a day, until next writes the date. The library's
// own date formats take as long as reading the whole rest of a row. The
// character is one of Unicode's private use area.
const dayMark = "\uE000"

// plainFormat is the format that a style is replaced by; empty is asStored.
func plainFormat(style *excelize.Style) string {
	const day, percent = `0.0000000000"` + dayMark + `"`, "0.0##########%"
	switch id := style.NumFmt; { // built-in formats: ECMA-376 part 1, 18.8.30 numFmt
	case style.CustomNumFmt != nil:
	case id >= 14 && id <= 17, id == 22, id >= 27 && id <= 31, id == 36, id >= 50 && id <= 54, id == 57, id == 58:
		return day
	case id == 9, id == 10:
		return percent
	}
	if style.CustomNumFmt == nil {
		return ""
	}
	parser := nfp.NumberFormatParser()
	sections := parser.Parse(*style.CustomNumFmt)
	if len(sections) == 0 {
		return ""
	}
	for _, token := range sections[0].Items { // that of positive numbers
		switch {
		case token.TType == nfp.TokenTypeDateTimes && strings.ContainsAny(token.TValue, "yYdDeE"):
			return day
		case token.TType == nfp.TokenTypePercent:
			return percent
		}
	}
	return ""
}

func (s *xlsxSource) next() (record, error) {
	for s.rows.Next() {
		s.row++
		cells, err := s.rows.Columns()
		if err != nil {
			return record{}, fmt.Errorf("sheet %s row %d cannot be read: %w (save the workbook again as .xlsx)", s.sheet, s.row, err)
		}
		for i, c := range cells {
			if strings.HasSuffix(c, dayMark) {
				cells[i] = s.date(strings.TrimSuffix(c, dayMark))
			}
		}
		if !blank(cells) {
			return record{cells: cells, line: s.row}, nil
		}
	}
	if err := s.rows.Error(); err != nil {
		return record{}, fmt.Errorf("sheet %s after row %d cannot be read: %w (save the workbook again as .xlsx)", s.sheet, s.row, err)
	}
	return record{}, io.EOF
}

func (s *xlsxSource) close() error { return errors.Join(s.rows.Close(), s.book.Close()) }

// date writes the number of a day as ISO 8601, and leaves what is none.
func (s *xlsxSource) date(serial string) string {
	v, err := strconv.ParseFloat(serial, 64)
	if err != nil {
		return serial
	}
	t, err := excelize.ExcelDateToTime(math.Floor(v), s.from1904)
	if err != nil {
		return serial
	}
	return DateOf(t).String()
}

// unmarkedDate reads the number of a day in a date column whose cell has no
// date format: 43831 is 2020-01-01. Numbers of fewer than five digits are not
// taken for days: they are years or slips.
func (s *xlsxSource) unmarkedDate(serial string) (CivilDate, bool) {
	if v, err := strconv.ParseFloat(serial, 64); err != nil || v < 10000 || v >= 100000 {
		return CivilDate{}, false
	}
	d, bad := parseDate(s.date(serial))
	return d, bad.what == ""
}
