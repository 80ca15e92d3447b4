package forecast

import (
	"testing"

	"reseal/condition"
	"reseal/condition/opening"
	"reseal/condition/sheet"
)

// A closure of 8 h with 1.5 h of set-up and 1 h of cure leaves 5.5 h: at 12 ft an hour
// 66 ft a night (starting values, common practice, no source).
func TestNights(t *testing.T) {
	tables := testTables()
	tables.Gaps = &condition.GapRules{}
	tables.Gaps.ClosureHours, tables.Gaps.SheetSetUpHours, tables.Gaps.SheetCureHours, tables.Gaps.SheetSealFtPerHour = 8, 1.5, 1, 12
	reseal, repair := Treatment{Name: "reseal"}, Treatment{Name: "spot repair", Effect: "repairs", RepairsShare: 0.25}
	slow, clean := Treatment{Name: "slow", FeetPerShift: 10}, Treatment{Name: "clean", Effect: "nothing"}
	tests := []struct {
		of     *Treatment
		feet   float64
		nights int
		shifts float64
	}{
		{&reseal, 40, 1, 1},
		{&reseal, 66, 1, 1},
		{&reseal, 67, 2, 2},
		{&reseal, 140, 3, 3},
		{&repair, 264, 1, 1},
		{&repair, 265, 2, 2},
		{&slow, 10, 1, 1},
		{&slow, 25, 3, 2.5}, // half a shift is left for another joint
		{&slow, 4, 1, 0.4},
		{&clean, 900, 1, 1},
	}
	for _, test := range tests {
		if got := tables.nights(test.of, test.feet); got != test.nights {
			t.Errorf("%s, %g ft: got %d nights, want %d", test.of.Name, test.feet, got, test.nights)
		}
		if got := tables.shifts(test.of, test.feet); got != test.shifts {
			t.Errorf("%s, %g ft: got %g shifts, want %g", test.of.Name, test.feet, got, test.shifts)
		}
	}
	made, err := sheet.New(sheet.Job{LengthFt: 140, WindowHours: 8, Seal: opening.Seal{Kind: opening.Gland}}, tables.Gaps.Practice())
	if err != nil || made.Hours.Shifts != 3 {
		t.Errorf("the crew's sheet has %d closures, %v, want 3", made.Hours.Shifts, err)
	}
	reseal.FixedCents, reseal.NightCents, reseal.PriceYear = 100_00, 900_00, 2026
	if u, err := tables.costs(&reseal, 140, "", 2026); err != nil || u.FixedCents != 1900_00 {
		t.Errorf("three nights: a fixed part of %d, %v, want two further nights", u.FixedCents, err)
	}
	tables.Gaps.ClosureHours = 0
	if got := tables.nights(&reseal, 900); got != 1 {
		t.Errorf("no closure given: %d nights", got)
	}
}
