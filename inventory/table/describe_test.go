package table

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestTemplate(t *testing.T) {
	var b strings.Builder
	if err := Template(&b, testColumns); err != nil {
		t.Fatal(err)
	}
	r := openText(t, b.String())
	rows, faults := read(t, r)
	if len(rows) > 0 || len(faults) > 0 {
		t.Errorf("got rows %q and faults %q, want none", rows, faults)
	}
	if want := []string{"joints.csv: there are no rows below the header"}; !cmp.Equal(r.Notices(), want) {
		t.Errorf("got notices %q, want %q", r.Notices(), want)
	}
}

func TestDescribe(t *testing.T) {
	columns := []Column{
		{Name: "tag", Required: true, Help: "The agency's own label.", Example: "A1"},
		{Name: "gap_in", Kind: Length, Max: 40, Help: strings.Repeat("The opening at the top. ", 6)},
		{Name: "cost_usd", Kind: Money, Max: math.Inf(1)},
		{Name: "low_temp_f", Kind: Temperature, Min: math.Inf(-1), Max: 60},
		{Name: "kind", Enum: []string{"strip seal", "open"}},
	}
	var b strings.Builder
	if err := Describe(&b, columns); err != nil {
		t.Fatal(err)
	}
	want := `tag         text, required
            The agency's own label.
            example: A1
gap_in      length in in, 0 in to 40 in
            The opening at the top. The opening at the top. The opening at the top. The opening at
            the top. The opening at the top. The opening at the top.
cost_usd    money, $0 or more
low_temp_f  temperature in °F, 60 °F or less
kind        text
            one of: strip seal, open
`
	if diff := cmp.Diff(want, b.String()); diff != "" {
		t.Errorf("want -, got +:\n%s", diff)
	}
}
