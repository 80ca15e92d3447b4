package table

import (
	"archive/zip"
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
)

// styled is a cell with a number format; a code begins with no digit.
type styled struct {
	value  any
	format int
	code   string
}

// book makes a workbook with a sheet of the given rows.
func book(t *testing.T, sheets []string, rows [][]any) []byte {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	for i, name := range sheets {
		if i == 0 {
			if err := f.SetSheetName("Sheet1", name); err != nil {
				t.Fatal(err)
			}
		} else if _, err := f.NewSheet(name); err != nil {
			t.Fatal(err)
		}
	}
	for y, row := range rows {
		for x, v := range row {
			at, err := excelize.CoordinatesToCellName(x+1, y+1)
			if err != nil {
				t.Fatal(err)
			}
			if s, ok := v.(styled); ok {
				style := &excelize.Style{NumFmt: s.format}
				if s.code != "" {
					style.CustomNumFmt = &s.code
				}
				id, err := f.NewStyle(style)
				if err != nil {
					t.Fatal(err)
				}
				if err := f.SetCellStyle(sheets[0], at, at, id); err != nil {
					t.Fatal(err)
				}
				v = s.value
			}
			if err := f.SetCellValue(sheets[0], at, v); err != nil {
				t.Fatal(err)
			}
		}
	}
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func openBook(t *testing.T, data []byte, opts Options) *Reader {
	t.Helper()
	r, err := NewReader(bytes.NewReader(data), "joints.xlsx", testColumns, opts)
	if err != nil {
		t.Fatalf("NewReader: %v", err)
	}
	t.Cleanup(func() {
		if err := r.Close(); err != nil {
			t.Errorf("Close: %v", err)
		}
	})
	return r
}

func TestSheetValues(t *testing.T) {
	// 44197 is 1 January 2021: ECMA-376 part 1, 18.17.4.1, counts days with
	// 1 for 1 January 1900 and a 29 February 1900 that never was.
	day := 44197
	tests := []struct {
		name, header string
		cell         any
		want         string
	}{
		{"date by built-in format", "installed", styled{day, 14, ""}, "installed=2021-01-01"},
		{"date and time", "installed", styled{float64(day) + 0.6, 22, ""}, "installed=2021-01-01"},
		{"last second of a day", "installed", styled{float64(day) + 86399.0/86400, 22, ""}, "installed=2021-01-01"},
		{"date by US format", "installed", styled{day, 0, `m/d/yy`}, "installed=2021-01-01"},
		{"date by long format", "installed", styled{day, 0, `[$-409]dddd, mmmm dd, yyyy`}, "installed=2021-01-01"},
		{"month format", "installed", styled{day, 17, ""}, "installed=2021-01-01"},
		{"date as a text", "installed", "2021-03-04", "installed=2021-03-04"},
		{"date of Go", "installed", time.Date(2021, 3, 4, 0, 0, 0, 0, time.UTC), "installed=2021-03-04"},
		{"serial without format", "installed", day, "installed=2021-01-01"},
		{"year", "installed", 2021, "installed=2021"},
		{"date in a text column", "note", styled{day, 0, `d mmm yyyy`}, "note=2021-01-01"},
		{"long label", "tag2", 123456789012345, "note=123456789012345"},
		{"small number", "note", 0.0000012, "note=0.0000012"},
		{"rounded by format", "length_ft", styled{12.3456789, 2, ""}, "length_ft=12.3456789"},
		{"all digits by format", "cost_usd", styled{1234567890.12, 4, ""}, "cost_usd=123456789012"},
		{"thousands by format", "lanes", styled{12345, 3, ""}, "lanes=12345"},
		{"red negative by format", "lanes", styled{-12, 0, `#,##0;[Red](#,##0)`}, "lanes=-12"},
		{"d in quotes is no date", "lanes", styled{12, 0, `0" days"`}, "lanes=12"},
		{"scientific by format", "length_ft", styled{123.0, 11, ""}, "length_ft=123"},
		{"money by format", "cost_usd", styled{1234.5, 0, `"$"#,##0.00`}, "cost_usd=123450"},
		{"percent by format", "truck_pct", styled{0.125, 10, ""}, "truck_pct=12.5"},
		{"percent without decimals", "truck_pct", styled{0.12, 9, ""}, "truck_pct=12"},
		{"percent as a number", "truck_pct", 12.5, "truck_pct=12.5"},
		{"yes", "leaking", true, "leaking=true"},
		{"text that looks like a formula", "note", "=1+1", "note==1+1"},
		{"text with an apostrophe", "note", "'=1+1", "note='=1+1"},
		{"text with zeros", "note", "00123", "note=00123"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			header := tt.header
			if header == "tag2" {
				header = "note"
			}
			data := book(t, []string{"Joints"}, [][]any{{"tag", header}, {"A", tt.cell}})
			rows, faults := read(t, openBook(t, data, Options{}))
			if want := []string{"2 tag=A " + tt.want}; !cmp.Equal(rows, want) {
				t.Errorf("got %q, faults %q, want %q", rows, faults, want)
			}
		})
	}
}

// TestDaysFrom1904 reads a workbook that counts its days as old Macintosh
// programs do: 1 is 2 January 1904 (ECMA-376 part 1, 18.17.4.1).
func TestDaysFrom1904(t *testing.T) {
	f := excelize.NewFile()
	defer f.Close()
	yes := true
	if err := f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &yes}); err != nil {
		t.Fatal(err)
	}
	style, err := f.NewStyle(&excelize.Style{NumFmt: 14})
	if err != nil {
		t.Fatal(err)
	}
	const day = 44197 - 1462 // 1 January 2021; the two systems are 1462 days apart
	var b bytes.Buffer
	err = errors.Join(
		f.SetSheetRow("Sheet1", "A1", &[]any{"tag", "installed"}),
		f.SetSheetRow("Sheet1", "A2", &[]any{"A", day}),
		f.SetCellStyle("Sheet1", "B2", "B2", style),
		f.SetSheetRow("Sheet1", "A3", &[]any{"B", day}),
		f.Write(&b))
	if err != nil {
		t.Fatal(err)
	}
	rows, _ := read(t, openBook(t, b.Bytes(), Options{}))
	if want := []string{"2 tag=A installed=2021-01-01", "3 tag=B installed=2021-01-01"}; !cmp.Equal(rows, want) {
		t.Errorf("got %q, want %q", rows, want)
	}
}

func TestSheetRows(t *testing.T) {
	data := book(t, []string{"Joints"}, [][]any{{}, {nil, "tag", "installed"}, {}, {"", "A", 2021}, {}, {}, {nil, "B", "soon"}})
	r := openBook(t, data, Options{})
	rows, faults := read(t, r)
	if want := []string{"4 tag=A installed=2021", "7 tag=B"}; !cmp.Equal(rows, want) {
		t.Errorf("got %q, want %q", rows, want)
	}
	if want := []string{`joints.xlsx sheet Joints row 7, column installed: "soon" is not a date (YYYY-MM-DD)`}; !cmp.Equal(faults, want) {
		t.Errorf("got %q, want %q", faults, want)
	}
}

func TestSheetChoice(t *testing.T) {
	data := book(t, []string{"Joints", "Seals", "Empty"}, [][]any{{"tag"}, {"A"}})
	r := openBook(t, data, Options{})
	if want := []string{"joints.xlsx: sheet Joints is read, the first of Joints, Seals, Empty"}; !cmp.Equal(r.Notices(), want) {
		t.Errorf("got notices %q, want %q", r.Notices(), want)
	}
	if r := openBook(t, data, Options{Sheet: "joints"}); len(r.Notices()) != 0 {
		t.Errorf("got notices %q, want none", r.Notices())
	}
	for _, tt := range []struct {
		sheet, want string
		is          error
	}{
		{"Joint", `joints.xlsx: no such sheet: "Joint" (its sheets: Joints, Seals, Empty)`, ErrSheet},
		{"Empty", `joints.xlsx: nothing to read: sheet Empty has no rows (the first must name the columns)`, ErrEmpty},
	} {
		_, err := NewReader(bytes.NewReader(data), "joints.xlsx", testColumns, Options{Sheet: tt.sheet})
		if err == nil || err.Error() != tt.want || !errors.Is(err, tt.is) {
			t.Errorf("sheet %s: got %v, want %s", tt.sheet, err, tt.want)
		}
	}
}

func TestSheetFromPath(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "joints.xlsx")
	if err := os.WriteFile(path, book(t, []string{"Joints"}, [][]any{{"tag"}, {"A"}}), 0o600); err != nil {
		t.Fatal(err)
	}
	t.Setenv("TMPDIR", filepath.Join(dir, "none")) // a file of its own needs no copy
	r, err := Open(path, testColumns, Options{})
	if err != nil {
		t.Fatal(err)
	}
	rows, _ := read(t, r)
	if want := []string{"2 tag=A"}; !cmp.Equal(rows, want) {
		t.Errorf("got %q, want %q", rows, want)
	}
	if err := r.Close(); err != nil {
		t.Errorf("Close: %v", err)
	}
}

func TestTemporaryCopyIsRemoved(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("TMPDIR", dir)
	data := book(t, []string{"Joints"}, [][]any{{"tag"}, {"A"}})
	for _, name := range []string{"Joints", "Wrong"} {
		if r, err := NewReader(bytes.NewReader(data), "joints.xlsx", testColumns, Options{Sheet: name}); err == nil {
			if err := r.Close(); err != nil {
				t.Errorf("Close: %v", err)
			}
		}
		if left, err := os.ReadDir(dir); err != nil || len(left) > 0 {
			t.Errorf("sheet %s: got %d files left, error %v, want none", name, len(left), err)
		}
	}
}

func TestDamagedSheet(t *testing.T) {
	data := book(t, []string{"Joints"}, [][]any{{"tag"}, {"A"}, {"B"}, {"C"}})
	const at = `<row r="3">`
	tests := []struct {
		name, part string
		damage     func(string) string
		want       string
	}{
		{
			"control character", "xl/worksheets/sheet1.xml", func(s string) string { return strings.Replace(s, at, at+"\x02", 1) },
			"xl/worksheets/sheet1.xml: XML syntax error on line 2: illegal character code U+0002",
		},
		{
			"cut off", "xl/worksheets/sheet1.xml", func(s string) string { return s[:strings.Index(s, at)] },
			"xl/worksheets/sheet1.xml: unexpected EOF",
		},
		{
			"shared texts", "xl/sharedStrings.xml", func(s string) string { return strings.Replace(s, ">B<", ">&B<", 1) },
			"xl/sharedStrings.xml: XML syntax error on line 2: invalid character entity &B (no semicolon)",
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := NewReader(bytes.NewReader(changed(t, data, tt.part, tt.damage)), "joints.xlsx", testColumns, Options{})
			want := "joints.xlsx: not a CSV or XLSX table: the workbook is damaged: " + tt.want + " (open it and save it again as .xlsx)"
			if err == nil || err.Error() != want || !errors.Is(err, ErrFormat) {
				t.Errorf("got  %v\nwant %s", err, want)
			}
		})
	}
}

// changed is a zip archive with the text of one part changed.
func changed(t *testing.T, data []byte, part string, change func(string) string) []byte {
	t.Helper()
	in, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	out := zip.NewWriter(&b)
	for _, f := range in.File {
		rc, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		content, err := io.ReadAll(rc)
		if err != nil {
			t.Fatal(err)
		}
		if f.Name == part {
			content = []byte(change(string(content)))
		}
		w, err := out.Create(f.Name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write(content); err != nil {
			t.Fatal(err)
		}
	}
	if err := out.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
