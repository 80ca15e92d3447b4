package condition_test

import (
	"strings"
	"testing"

	"reseal/condition"
	"reseal/condition/opening"
	"reseal/condition/sheet"
)

// The row that is closest to the seal and its climate holds.
func TestSeasonOf(t *testing.T) {
	s := condition.Seasons{
		{Name: "any", FirstMonth: 3, LastMonth: 11},
		{Name: "cold", Climate: "cold", FirstMonth: 4, LastMonth: 10},
		{Name: "poured", SealKind: "pourable seal", FirstMonth: 4, LastMonth: 9},
		{Name: "poured, cold", SealKind: "pourable seal", Climate: "cold", FirstMonth: 6, LastMonth: 8, Illustrative: true},
		{Name: "dry winters", SealKind: "foam seal", FirstMonth: 11, LastMonth: 2},
		{Name: "one month", SealKind: "other", FirstMonth: 7, LastMonth: 7},
		{Name: "all year", SealKind: "strip seal", FirstMonth: 5, LastMonth: 4},
	}
	for _, test := range [][4]string{
		{"compression seal", "", "any", "March to November"},
		{"compression seal", "cold", "cold", "April to October"},
		{"pourable seal", "moderate", "poured", "April to September"},
		{"pourable seal", "cold", "poured, cold", "June to August (illustrative)"},
		{"foam seal", "cold", "dry winters", "November to February"},
		{"other", "", "one month", "July"},
		{"strip seal", "", "all year", ""},
	} {
		if got := s.Of(test[0], test[1]); got.Name != test[2] || got.Words() != test[3] {
			t.Errorf("%s, %q: %s %q, want %s %q", test[0], test[1], got.Name, got.Words(), test[2], test[3])
		}
	}
	if got := (condition.Seasons{}).Of("strip seal", "cold").Words(); got != "" {
		t.Errorf("without a table: %q", got)
	}
}

// The crew's sheet says when such a seal goes in.
func TestSheetTellsTheSeason(t *testing.T) {
	for months, want := range map[string]bool{"May to September (illustrative)": true, "": false} {
		s, err := sheet.New(sheet.Job{Seal: opening.Catalogue()[0], LengthFt: 40, Months: months}, sheet.Practice{})
		if err != nil {
			t.Fatal(err)
		}
		said := strings.Contains(strings.Join(s.GoNoGo, "\n"), "Installed in May to September (illustrative);")
		if said != want {
			t.Errorf("%q: %q", months, s.GoNoGo)
		}
	}
}
