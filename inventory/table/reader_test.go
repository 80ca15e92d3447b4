package table

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"
	"unicode/utf16"

	"github.com/google/go-cmp/cmp"
)

// The columns of most tests.
const (
	colTag = iota
	colKind
	colLength
	colGap
	colTemp
	colLanes
	colInstalled
	colCost
	colTruck
	colLeaking
	colNote
)

var testColumns = []Column{
	colTag:       {Name: "tag", Required: true, Synonyms: []string{"joint", "joint label"}, Help: "The agency's own label.", Example: "A1"},
	colKind:      {Name: "kind", Enum: []string{"strip seal", "compression seal", "open"}},
	colLength:    {Name: "length_ft", Kind: Length, Min: 1, Max: 500, Help: "Along the joint, curb to curb.", Example: "42.5"},
	colGap:       {Name: "gap_in", Kind: Length, Min: 0, Max: 40},
	colTemp:      {Name: "deck_temp_f", Kind: Temperature, Min: -60, Max: 180},
	colLanes:     {Name: "lanes", Kind: Int},
	colInstalled: {Name: "installed", Kind: Date, Synonyms: []string{"install date"}},
	colCost:      {Name: "cost_usd", Kind: Money},
	colTruck:     {Name: "truck_pct", Kind: Percent},
	colLeaking:   {Name: "leaking", Kind: Bool},
	colNote:      {Name: "note"},
}

// read returns the getters' values of every row as text, the faults and the
// notices.
func read(t *testing.T, r *Reader) (rows, faults []string) {
	t.Helper()
	for row := range r.Rows() {
		rows = append(rows, values(row))
	}
	if err := r.Err(); err != nil {
		t.Fatalf("reading stopped: %v", err)
	}
	for _, f := range r.Faults().Kept {
		faults = append(faults, f.Error())
	}
	return rows, faults
}

// values calls every getter and shows what is not blank.
func values(row *Row) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%d", row.Line())
	for i, c := range row.reader.columns {
		var v any
		var ok bool
		switch c.Kind {
		case Text:
			v, ok = row.Text(i)
		case Int:
			v, ok = row.Int(i)
		case Money:
			v, ok = row.Cents(i)
		case Date:
			v, ok = row.Date(i)
		case Bool:
			v, ok = row.Bool(i)
		default:
			v, ok = row.Float(i)
		}
		if ok {
			fmt.Fprintf(&b, " %s=%v", c.Name, v)
		}
	}
	return b.String()
}

func openText(t *testing.T, text string) *Reader {
	t.Helper()
	r, err := NewReader(strings.NewReader(text), "joints.csv", testColumns, Options{})
	if err != nil {
		t.Fatalf("NewReader: %v", err)
	}
	return r
}

func TestReadForms(t *testing.T) {
	utf16le := func(s string) string {
		b := []byte{0xFF, 0xFE}
		for _, u := range utf16.Encode([]rune(s)) {
			b = append(b, byte(u), byte(u>>8))
		}
		return string(b)
	}
	utf16be := func(s string) string {
		b := []byte{0xFE, 0xFF}
		for _, u := range utf16.Encode([]rune(s)) {
			b = append(b, byte(u>>8), byte(u))
		}
		return string(b)
	}
	latin := "joints.csv: the text is not UTF-8 and is read as Windows-1252 (Latin-1); check names with accents"
	tests := []struct {
		name, text string
		rows       []string
		notices    []string
	}{
		{"commas", "tag,length_ft\nA,40\n", []string{"2 tag=A length_ft=40"}, nil},
		{"no line end", "tag,length_ft\nA,40", []string{"2 tag=A length_ft=40"}, nil},
		{"windows line ends", "tag,length_ft\r\nA,40\r\n", []string{"2 tag=A length_ft=40"}, nil},
		{"semicolons", "tag;length_ft\nA;40,5\n", []string{"2 tag=A length_ft=40.5"}, nil},
		{"semicolons with point", "tag;length_ft\nA;40.5\n", []string{"2 tag=A length_ft=40.5"}, nil},
		{"tabs", "tag\tlength_ft\nA, left\t40\n", []string{"2 tag=A, left length_ft=40"}, nil},
		{"declared separator", "sep=;\r\ntag;length_ft\r\nA;40\r\n", []string{"3 tag=A length_ft=40"}, nil},
		{"one column", "tag\nA\nB\n", []string{"2 tag=A", "3 tag=B"}, nil},
		{"separator inside quoted header", "\"tag\",\"a;b;c\"\nA,1\n", []string{"2 tag=A"}, []string{"joints.csv: columns not read: a;b;c"}},
		{"byte-order mark", "\xEF\xBB\xBFtag,length_ft\nÅ1,40\n", []string{"2 tag=Å1 length_ft=40"}, nil},
		{"utf-8", "tag,note\nA,señal\n", []string{"2 tag=A note=señal"}, nil},
		{"latin-1", "tag,note\nA,se\xF1al\n", []string{"2 tag=A note=señal"}, []string{latin}},
		{"windows-1252", "tag,note\nA,\x93quoted\x94 \x96 5\n", []string{"2 tag=A note=“quoted” – 5"}, []string{latin}},
		{"utf-16 little", utf16le("tag,note\r\nA,señal\r\n"), []string{"2 tag=A note=señal"}, nil},
		{"utf-16 big", utf16be("tag,note\nA,señal\n"), []string{"2 tag=A note=señal"}, nil},
		{"blank lines", "\n\n,\ntag,length_ft\n\n,\nA,40\n,\n", []string{"7 tag=A length_ft=40"}, nil},
		{
			"quoted lines", "tag,note\nA,\"one\ntwo, \"\"2\"\"\"\nB,x\n",
			[]string{"2 tag=A note=one\ntwo, \"2\"", "4 tag=B note=x"},
			nil,
		},
		{"trailing separators", "tag,length_ft,,\nA,40,,\n", []string{"2 tag=A length_ft=40"}, nil},
		{"column without name", "tag,,note\nA,9,x\n", []string{"2 tag=A note=x"}, []string{"joints.csv: column 2 has no name and is not read"}},
		{
			"control characters", "tag,note\nA\x01,x\x02y\n",
			[]string{"2 tag=A note=xy"},
			[]string{"joints.csv: control characters were left out, first on line 2"},
		},
		{"strange spaces", "tag,note\n\u00A0A\u200B ,a\u00A0b\n", []string{"2 tag=A note=a b"}, nil},
		{"no rows", "tag,note\n", nil, []string{"joints.csv: there are no rows below the header"}},
		{
			"units and words", "Joint Label;Length (m);Gap, mm;Deck temp. °C;Cost ($);Truck %\nA;12,192;25,4;20;1.234,50;12,5%\n",
			[]string{"2 tag=A length_ft=40 gap_in=1 deck_temp_f=68 cost_usd=123450 truck_pct=12.5"},
			nil,
		},
		{
			"no units", "TAG,Length,gap\nA,40,1.5\n",
			[]string{"2 tag=A length_ft=40 gap_in=1.5"},
			[]string{
				"joints.csv: column Length names no unit and is read in ft",
				"joints.csv: column gap names no unit and is read in in",
			},
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			for _, step := range []int{1, 1 << 20} { // bytes a call: any cut must do
				src := &stepReader{[]byte(tt.text), step}
				r, err := NewReader(src, "joints.csv", testColumns, Options{})
				if err != nil {
					t.Fatalf("NewReader: %v", err)
				}
				rows, faults := read(t, r)
				if diff := cmp.Diff(tt.rows, rows); diff != "" {
					t.Errorf("rows, want -, got +:\n%s", diff)
				}
				if len(faults) > 0 {
					t.Errorf("got faults %q, want none", faults)
				}
				if diff := cmp.Diff(tt.notices, r.Notices()); diff != "" {
					t.Errorf("notices, want -, got +:\n%s", diff)
				}
			}
		})
	}
}

// stepReader gives at most step bytes a call.
type stepReader struct {
	rest []byte
	step int
}

func (s *stepReader) Read(p []byte) (int, error) {
	if len(s.rest) == 0 {
		return 0, io.EOF
	}
	n := copy(p[:min(len(p), s.step)], s.rest)
	s.rest = s.rest[n:]
	return n, nil
}

func TestLateEncoding(t *testing.T) {
	plainRows := strings.Repeat("A,plain text of one row\n", 20_000)
	tests := []struct {
		name, tail, want string
		latin            bool
	}{
		{"utf-8 after 400 kB", "Z,señal\n", "20002 tag=Z note=señal", false},
		{"latin-1 after 400 kB", "Z,se\xF1al\n", "20002 tag=Z note=señal", true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := openText(t, "tag,note\n"+plainRows+tt.tail)
			rows, _ := read(t, r)
			if got := rows[len(rows)-1]; got != tt.want {
				t.Errorf("last row: got %q, want %q", got, tt.want)
			}
			if got := len(r.Notices()) > 0; got != tt.latin {
				t.Errorf("notice of Latin-1: got %v, want %v", got, tt.latin)
			}
		})
	}
}

func TestMixedEncoding(t *testing.T) {
	text := "tag,note\nA,señal\n" + strings.Repeat("B,x\n", 20_000) + "C,se\xF1al\n"
	_, faults := read(t, openText(t, text))
	want := []string{`joints.csv line 20003, column note: "se\xf1al" mixes text encodings (save the file as UTF-8)`}
	if diff := cmp.Diff(want, faults); diff != "" {
		t.Errorf("faults, want -, got +:\n%s", diff)
	}
}

func TestOpenErrors(t *testing.T) {
	tests := []struct {
		name, text, want string
		is               error
	}{
		{"empty", "", "joints.csv: nothing to read: the file is empty (its first line must name the columns)", ErrEmpty},
		{"only blanks", " \r\n\n", "joints.csv: nothing to read: the file is empty (its first line must name the columns)", ErrEmpty},
		{"only separators", ",,\n,,\n", "joints.csv: nothing to read: the file has no rows (the first must name the columns)", ErrEmpty},
		{"pdf", "%PDF-1.7\n", "joints.csv: not a CSV or XLSX table: it is a PDF document (export the table itself as CSV or XLSX)", ErrFormat},
		{"html", "\n<!DOCTYPE html><table>", "joints.csv: not a CSV or XLSX table: it is a web page or XML file (save the table as CSV or XLSX)", ErrFormat},
		{"xls", "\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1", "joints.csv: not a CSV or XLSX table: it is an old .xls workbook or one with a password (save it as .xlsx without a password, or as CSV)", ErrFormat},
		{"gzip", "\x1F\x8B\x08", "joints.csv: not a CSV or XLSX table: it is a gzip archive (unpack it first)", ErrFormat},
		{"json", "{\"type\":", "joints.csv: not a CSV or XLSX table: it is a JSON file (convert it to CSV)", ErrFormat},
		{"database", "SQLite format 3\x00\x10", "joints.csv: not a CSV or XLSX table: it is a database (export the table as CSV)", ErrFormat},
		{"binary", "\x7FELF\x00\x00", "joints.csv: not a CSV or XLSX table: it holds binary data (save the table as \"CSV UTF-8\" or XLSX)", ErrFormat},
		{"old macintosh", "tag,note\rA,x\r", "joints.csv: not a CSV or XLSX table: its lines end in the old Macintosh way (save it as \"CSV UTF-8\")", ErrFormat},
		{"broken zip", "PK\x03\x04 and no more", "joints.csv: not a CSV or XLSX table: the workbook cannot be opened: zip: not a valid zip file (save it again as .xlsx)", ErrFormat},
		{"missing", "label,length_ft,kind\nA,40,open\n", "joints.csv line 1, column tag: is missing from the header (the closest present: label, kind, length_ft)", ErrInvalid},
		{"near", "\ntag,lenght_ft\nA,40\n", "joints.csv line 2, column lenght_ft: is not a known column (did you mean length_ft?)", ErrInvalid},
		{"near a required", "joints,length_ft\nA,40\n", "joints.csv line 1, column joints: is not a known column (did you mean tag?)", ErrInvalid},
		{"twice", "tag,Tag \nA,B\n", "joints.csv line 1, column Tag: names the same column as tag (keep one of them)", ErrInvalid},
		{"twice by unit", "tag,length_ft,Length (m)\nA,40,12\n", "joints.csv line 1, column Length (m): names the same column as length_ft (keep one of them)", ErrInvalid},
		{"bad header", "tag,a\"b\nA,40\n", `joints.csv line 1: a double quote stands inside a cell that is not quoted (put the cell in double quotes and write the inner one twice: "4"" seal")`, ErrInvalid},
		{"no text in header", "--,..\nA,B\n", "joints.csv line 1, column tag: is missing from the header (the first row must name the columns)", ErrInvalid},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := NewReader(strings.NewReader(tt.text), "joints.csv", testColumns, Options{})
			if err == nil || err.Error() != tt.want {
				t.Errorf("got  %v\nwant %v", err, tt.want)
			}
			if !errors.Is(err, tt.is) {
				t.Errorf("got %v, which is not %v", err, tt.is)
			}
		})
	}
}

func TestOpenPaths(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "joints.csv")
	if err := os.WriteFile(path, []byte("tag\nA\n"), 0o600); err != nil {
		t.Fatal(err)
	}
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
	if _, err := Open(filepath.Join(dir, "none.csv"), testColumns, Options{}); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("missing file: got %v, want os.ErrNotExist", err)
	}
	if _, err := Open(dir, testColumns, Options{}); !errors.Is(err, ErrFormat) {
		t.Errorf("folder: got %v, want ErrFormat", err)
	}
}

func TestReadFails(t *testing.T) {
	full := "tag\n" + strings.Repeat("A\n", 100_000)
	src := iotest.TimeoutReader(bytes.NewReader([]byte(full)))
	r, err := NewReader(src, "joints.csv", testColumns, Options{})
	for err == nil {
		for range r.Rows() {
		}
		err = r.Err()
	}
	if want := "joints.csv: timeout"; err.Error() != want {
		t.Errorf("got %v, want %v", err, want)
	}
}

func TestUnclosedQuote(t *testing.T) {
	text := "tag,note\nA,x\nB,\"never closed\n" + strings.Repeat("C,x\n", 1<<20)
	r := openText(t, text)
	n := 0
	for range r.Rows() {
		n++
	}
	want := "joints.csv: the row after line 2 is over 1 MB long: a quote is opened and not closed"
	if err := r.Err(); err == nil || err.Error() != want {
		t.Errorf("got %v, want %v", err, want)
	}
	if n != 1 {
		t.Errorf("got %d rows, want 1", n)
	}
}

func TestFaultsAreBounded(t *testing.T) {
	text := "tag,lanes\n" + strings.Repeat("A,x\n", 200)
	r := openText(t, text)
	read(t, r)
	lines := strings.Split(r.Faults().Error(), "\n")
	if len(lines) != 51 || lines[50] != "and 150 more faults" {
		t.Errorf("got %d lines ending in %q, want 51 ending in the count", len(lines), lines[len(lines)-1])
	}
	if got := r.Faults().Total; got != 200 {
		t.Errorf("got a total of %d, want 200", got)
	}
}
