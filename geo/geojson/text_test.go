package geojson_test

import (
	"bytes"
	"encoding/json"
	"testing"
	"unicode/utf8"

	"reseal/geo/geojson"
)

// FuzzString: any bytes become a valid JSON string that reads back as the same
// text, with U+FFFD for each byte that is not UTF-8, and that cannot end a
// script element.
func FuzzString(f *testing.F) {
	for _, s := range []string{"", "plain", "\x00\x01\x1f\x7f", "\"\\/\b\f\n\r\t", "</script>", "\u2028\u2029", "\xff\xc3", "\xed\xa0\x80", "é😀"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		doc := geojson.AppendString(nil, s)
		if !utf8.Valid(doc) || bytes.ContainsAny(doc, "<>&\u2028\u2029\x00\n") {
			t.Errorf("%q: got %q", s, doc)
		}
		var got string
		if err := json.Unmarshal(doc, &got); err != nil {
			t.Fatalf("%q: got %q: %v", s, doc, err)
		}
		if want := string([]rune(s)); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	})
}
