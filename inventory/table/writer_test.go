package table

import (
	"bytes"
	"encoding/json"
	"errors"
	"maps"
	"math"
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"
)

func TestWriteCSV(t *testing.T) {
	var b strings.Builder
	w, err := NewCSV(&b, testColumns)
	if err != nil {
		t.Fatal(err)
	}
	w.Text(colTag, "=1+1")
	w.Text(colNote, "one, \"two\"\nthree")
	w.Float(colLength, 42.5)
	w.Float(colGap, 1e-7)
	w.Int(colLanes, 3)
	w.Date(colInstalled, CivilDate{Year: 2021, Month: 3})
	w.Cents(colCost, -5)
	w.Float(colTruck, 12.5)
	w.Bool(colLeaking, true)
	if err := w.EndRow(); err != nil {
		t.Fatal(err)
	}
	w.Text(colTag, "-5")
	w.Text(colKind, "@home")
	w.Cents(colCost, math.MinInt64)
	w.Date(colInstalled, CivilDate{})
	if err := w.EndRow(); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(w.ReadFirst([]string{"invented"}), w.Close()); err != nil {
		t.Fatal(err)
	}
	want := "tag,kind,length_ft,gap_in,deck_temp_f,lanes,installed,cost_usd,truck_pct,leaking,note\n" +
		"'=1+1,,42.5,0.0000001,,3,2021-03,-0.05,12.5,yes,\"one, \"\"two\"\"\nthree\"\n" +
		"-5,'@home,,,,,,-92233720368547758.08,,,\n"
	if diff := cmp.Diff(want, b.String()); diff != "" {
		t.Errorf("want -, got +:\n%s", diff)
	}
}

func TestWriteJSON(t *testing.T) {
	var b strings.Builder
	w := NewJSON(&b, testColumns)
	w.Text(colTag, "one, \"two\"\nthree")
	w.Float(colGap, 1e-7)
	w.Int(colLanes, 3)
	w.Date(colInstalled, CivilDate{Year: 2021, Month: 3})
	w.Cents(colCost, -5)
	w.Bool(colLeaking, false)
	if err := errors.Join(w.EndRow(), w.EndRow(), w.Close()); err != nil {
		t.Fatal(err)
	}
	var got []map[string]any
	if err := json.Unmarshal([]byte(b.String()), &got); err != nil {
		t.Fatalf("%v: %s", err, b.String())
	}
	blank := map[string]any{}
	for _, c := range testColumns {
		blank[c.Name] = nil
	}
	first := maps.Clone(blank)
	maps.Copy(first, map[string]any{
		"tag": "one, \"two\"\nthree", "gap_in": 1e-7, "lanes": 3.0, "installed": "2021-03", "cost_usd": -0.05, "leaking": false,
	})
	if diff := cmp.Diff([]map[string]any{first, blank}, got); diff != "" {
		t.Errorf("want -, got +:\n%s", diff)
	}
	b.Reset()
	if err := NewJSON(&b, testColumns).Close(); err != nil || b.String() != "[]\n" {
		t.Errorf("no rows: got %q, %v", b.String(), err)
	}
}

func TestWriteXLSX(t *testing.T) {
	var b bytes.Buffer
	w, err := NewXLSX(&b, "Work list", testColumns)
	if err != nil {
		t.Fatal(err)
	}
	w.Text(colTag, "=1+1")
	w.Text(colKind, "00123")
	w.Float(colLength, 42.5)
	w.Date(colInstalled, CivilDate{2021, 1, 1})
	w.Cents(colCost, 123450)
	if err := w.EndRow(); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(w.ReadFirst([]string{"=a caution", "another"}), w.Close()); err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(&b)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if got := f.GetSheetName(f.GetActiveSheetIndex()); got != "Read first" || f.GetSheetName(0) != got {
		t.Errorf("it opens at %q of %q", got, f.GetSheetList())
	}
	for _, tt := range []struct{ sheet, at, raw, shown string }{
		{"Work list", "A1", "tag", "tag"},
		{"Work list", "A2", "=1+1", "=1+1"},
		{"Work list", "B2", "00123", "00123"},
		{"Work list", "C2", "42.5", "42.5"},
		{"Work list", "G2", "44197", "2021-01-01"},
		{"Work list", "H2", "1234.5", "1,234.50"},
		{"Read first", "A1", "=a caution", "=a caution"},
		{"Read first", "A2", "another", "another"},
	} {
		raw, errRaw := f.GetCellValue(tt.sheet, tt.at, excelize.Options{RawCellValue: true})
		shown, errShown := f.GetCellValue(tt.sheet, tt.at)
		if err := errors.Join(errRaw, errShown); err != nil {
			t.Fatal(err)
		}
		if raw != tt.raw || shown != tt.shown {
			t.Errorf("%s %s: got %q shown as %q, want %q shown as %q", tt.sheet, tt.at, raw, shown, tt.raw, tt.shown)
		}
	}
	if formula, err := f.GetCellFormula("Work list", "A2"); err != nil || formula != "" {
		t.Errorf("A2: got formula %q, error %v, want none", formula, err)
	}
}

func TestWriteRefuses(t *testing.T) {
	newCSV := func() *Writer { w, _ := NewCSV(new(bytes.Buffer), testColumns); return w }
	newXLSX := func() *Writer { w, _ := NewXLSX(new(bytes.Buffer), "Joints", testColumns); return w }
	tests := []struct {
		name string
		open func() *Writer
		set  func(*Writer)
		want string
	}{
		{"not a number", newCSV, func(w *Writer) { w.Float(colLength, math.NaN()) }, "column length_ft: the value is not a finite number"},
		{"infinite", newXLSX, func(w *Writer) { w.Float(colGap, math.Inf(-1)) }, "column gap_in: the value is not a finite number"},
		{"bytes", newCSV, func(w *Writer) { w.Text(colNote, "\xff") }, "column note: the value is not UTF-8 text"},
		{
			"long text", newXLSX, func(w *Writer) { w.Text(colNote, strings.Repeat("x", 32768)) },
			"column note: a text of 32768 characters, where a sheet holds at most 32767 (write CSV)",
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			w := tt.open()
			tt.set(w)
			for _, got := range []error{w.EndRow(), w.EndRow(), w.Close()} {
				if got == nil || got.Error() != tt.want {
					t.Errorf("got %v, want %v", got, tt.want)
				}
			}
		})
	}
	if _, err := NewXLSX(new(bytes.Buffer), "a/b", testColumns); err == nil {
		t.Error("sheet a/b: got no error, want one")
	}
	full := errors.New("no space left on device")
	if _, err := NewCSV(failingWriter{full}, testColumns); !errors.Is(err, full) {
		t.Errorf("full disk, CSV: got %v, want %v", err, full)
	}
	w, err := NewXLSX(failingWriter{full}, "Joints", testColumns)
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); !errors.Is(err, full) {
		t.Errorf("full disk, XLSX: got %v, want %v", err, full)
	}
}

type failingWriter struct{ err error }

func (f failingWriter) Write([]byte) (int, error) { return 0, f.err }

// drawn is one row of random values; ok false is a blank.
type drawn struct {
	cells []cell
}

// drawText draws texts that survive cleaning: no control characters but line
// ends and tabs inside, plain spaces, none at the ends.
func drawText(t *rapid.T) string {
	kept := rapid.RuneFrom([]rune(" =+-@'\",;\t\n#0123ABé語_x"), unicode.Latin, unicode.Digit)
	s, _ := clean(rapid.StringOfN(kept, 0, 20, -1).Draw(t, "text"), true)
	if scientific(s) || sheetErrors[s] {
		return ""
	}
	return s
}

func drawRow(t *rapid.T) drawn {
	d := drawn{make([]cell, len(testColumns))}
	for i, c := range testColumns {
		if !c.Required && rapid.Bool().Draw(t, "blank") {
			continue
		}
		v := &d.cells[i]
		v.set = true
		lo, hi := -1e9, 1e9
		if c.bounded() {
			lo, hi = c.Min, c.Max
		}
		switch {
		case c.Enum != nil:
			v.text = rapid.SampledFrom(c.Enum).Draw(t, "one of")
		case c.Kind == Text:
			v.text = drawText(t)
			if c.Required && v.text == "" {
				v.text = "A"
			}
			v.set = v.text != ""
		case c.Kind == Int:
			v.number = float64(rapid.IntRange(-1<<53+1, 1<<53-1).Draw(t, "whole"))
		case c.Kind == Money:
			v.cents = rapid.Int64Range(-1e12, 1e12).Draw(t, "cents")
		case c.Kind == Bool:
			v.number = float64(rapid.IntRange(0, 1).Draw(t, "yes"))
		case c.Kind == Date:
			day := time.Date(1850, 1, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, rapid.IntRange(0, 90_000).Draw(t, "day"))
			v.date = DateOf(day)
			if p := rapid.IntRange(0, 2).Draw(t, "precision"); p < 2 {
				v.date.Day = 0
				v.date.Month *= time.Month(p)
			}
		default:
			v.number = rapid.Float64Range(lo, hi).Draw(t, "number")
		}
	}
	return d
}

func writeRow(w *Writer, d drawn) error {
	for i, c := range testColumns {
		v := d.cells[i]
		if !v.set {
			continue
		}
		switch c.Kind {
		case Text:
			w.Text(i, v.text)
		case Int:
			w.Int(i, int(v.number))
		case Money:
			w.Cents(i, v.cents)
		case Bool:
			w.Bool(i, v.number == 1)
		case Date:
			w.Date(i, v.date)
		default:
			w.Float(i, v.number)
		}
	}
	return w.EndRow()
}

func readRow(row *Row) drawn {
	d := drawn{make([]cell, len(testColumns))}
	for i, c := range testColumns {
		v := &d.cells[i]
		switch c.Kind {
		case Text:
			v.text, v.set = row.Text(i)
		case Int:
			var n int
			n, v.set = row.Int(i)
			v.number = float64(n)
		case Money:
			v.cents, v.set = row.Cents(i)
		case Bool:
			var yes bool
			if yes, v.set = row.Bool(i); yes {
				v.number = 1
			}
		case Date:
			v.date, v.set = row.Date(i)
		default:
			v.number, v.set = row.Float(i)
		}
	}
	return d
}

// testRoundTrip writes random rows and reads the same ones back. A workbook
// shows numbers to digits significant digits (Excel keeps 15); 0 is exact.
func testRoundTrip(t *testing.T, open func(*bytes.Buffer) (*Writer, error), digits int) {
	rapid.Check(t, func(t *rapid.T) {
		rows := rapid.SliceOfN(rapid.Custom(drawRow), 1, 8).Draw(t, "rows")
		var b bytes.Buffer
		w, err := open(&b)
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range rows {
			if err := writeRow(w, row); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		r, err := NewReader(&b, "joints", testColumns, Options{})
		if err != nil {
			t.Fatal(err)
		}
		defer r.Close()
		var got []drawn
		for row := range r.Rows() {
			got = append(got, readRow(row))
		}
		if err := errors.Join(r.Err(), r.Faults().Err()); err != nil {
			t.Fatal(err)
		}
		near := cmp.Comparer(func(a, b float64) bool {
			return a == b || digits > 0 && math.Abs(a-b) <= math.Abs(a)*math.Pow10(1-digits)
		})
		if diff := cmp.Diff(rows, got, cmp.AllowUnexported(drawn{}, cell{}), near); diff != "" {
			t.Fatalf("wrote -, read +:\n%s", diff)
		}
	})
}

func TestRoundTripCSV(t *testing.T) {
	testRoundTrip(t, func(b *bytes.Buffer) (*Writer, error) { return NewCSV(b, testColumns) }, 0)
}

func TestRoundTripXLSX(t *testing.T) {
	testRoundTrip(t, func(b *bytes.Buffer) (*Writer, error) { return NewXLSX(b, "Joints", testColumns) }, 15)
}
