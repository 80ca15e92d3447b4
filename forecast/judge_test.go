package forecast

import (
	"testing"

	"reseal/inventory"
)

// A seal renewed before anybody found it failed counts in the calibration alone; one
// found failed before its renewal has failed by every later inspection.
func TestJudgeSealsWorkedOn(t *testing.T) {
	m := testModel(t, testTables())
	record := func(found ...float64) Record {
		r := Record{
			ID: 1, Bridge: Site{ID: 1}, LengthFt: 40,
			Stretches: []Stretch{{ID: 1, ToFt: 40, Seals: []Seal{
				{Kind: "strip seal", Installed: day(t, "2010-06-01"), Precision: "day", Removed: day(t, "2023-06-01")},
				{Kind: "strip seal", Installed: day(t, "2023-06-01"), Precision: "day"},
			}}},
			Work: []Work{{On: day(t, "2023-06-01"), Treatment: "reseal", NewSeal: true}},
		}
		for i, on := range []string{"2018-06-01", "2020-06-01", "2022-06-01", "2024-06-01"} {
			ft := []float64{40 - found[i], 0, 0, found[i]}
			r.Looks = append(r.Looks, look(t, on, ft...))
		}
		return r
	}
	for _, test := range []struct {
		name           string
		found          []float64 // feet in CS4, by inspection
		failed, unseen []bool
	}{
		{"renewed unseen", []float64{0, 0, 0, 0}, []bool{false, false}, []bool{false, true}},
		{"found failed first", []float64{0, 0, 12, 0}, []bool{true, true}, []bool{false, false}},
		{"the next seal's failure is its own", []float64{0, 0, 0, 12}, []bool{false, false}, []bool{false, true}},
	} {
		now := record(test.found...)
		then := now
		then.Looks, then.Work = now.Looks[:2], nil
		then.Stretches = []Stretch{{ID: 1, ToFt: 40, Seals: []Seal{{Kind: "strip seal", Installed: day(t, "2010-06-01"), Precision: "day"}}}}
		var out judged
		(&projector{Model: m}).judge(&out, &then, &now, inventory.Date{Year: 2020, Month: 12, Day: 31})
		if len(out.cases) != 2 {
			t.Fatalf("%s: %d cases, want those of 2022 and 2024", test.name, len(out.cases))
		}
		for i, c := range out.cases {
			if c.Failed != test.failed[i] || c.Unseen != test.unseen[i] {
				t.Errorf("%s, case %d: failed %v, unseen %v, want %v and %v", test.name, i+1, c.Failed, c.Unseen, test.failed[i], test.unseen[i])
			}
		}
	}
}
