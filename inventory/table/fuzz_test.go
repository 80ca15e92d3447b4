package table

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"
	"unicode/utf8"
)

// FuzzReader feeds any bytes: reading never panics and ends, and what it gives
// is clean and finite, or a fault that names its place.
func FuzzReader(f *testing.F) {
	for _, seed := range []string{
		"tag,length_ft\nA,40\n",
		"sep=;\r\ntag;Length (m);cost\r\nA;12,5;1.234,50\r\n",
		"\xEF\xBB\xBFtag\tnote\nA\t\"two\nlines\"\n",
		"\xFF\xFEt\x00a\x00g\x00\n\x00A\x00\n\x00",
		"tag,note\nA,se\xF1al\nB,4\" seal\nC,\"open\n",
		"tag,installed,lanes,leaking\nA,2021-02-30,1.5,maybe\n,03/04/2021,NaN,1\n",
		"PK\x03\x04",
	} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := NewReader(bytes.NewReader(data), "joints.csv", testColumns, Options{})
		if err != nil {
			if !strings.HasPrefix(err.Error(), "joints.csv") {
				t.Errorf("got error %q, want one that names the file", err)
			}
			return
		}
		defer r.Close()
		line := 0
		for row := range r.Rows() {
			if row.Line() <= line {
				t.Errorf("got line %d after line %d", row.Line(), line)
			}
			line = row.Line()
			d := readRow(row)
			for i, c := range d.cells {
				if math.IsNaN(c.number) || math.IsInf(c.number, 0) {
					t.Errorf("column %s: got %v", testColumns[i].Name, c.number)
				}
				if !utf8.ValidString(c.text) || strings.ContainsRune(c.text, 0) || c.text != strings.TrimSpace(c.text) {
					t.Errorf("column %s: got %q, want clean text", testColumns[i].Name, c.text)
				}
			}
		}
		for _, fault := range r.Faults().Kept {
			if fault.Line < 1 || fault.Problem == "" {
				t.Errorf("got a fault without place or problem: %v", fault)
			}
		}
		if err := r.Err(); err != nil && errors.Is(err, ErrInvalid) {
			t.Errorf("got %v from Err, want only failures of reading", err)
		}
	})
}
