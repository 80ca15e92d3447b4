package sheet_test

import (
	"math"
	"testing"

	"reseal/condition/sheet"
)

// California MUTCD 2012, Table 6H-4(CA): offset 12 ft.
func TestTapersFor(t *testing.T) {
	table := []struct {
		speed float64
		want  sheet.Tapers
	}{
		{20, sheet.Tapers{MergingFt: 80, ShiftingFt: 40, ShoulderFt: 27}},
		{25, sheet.Tapers{MergingFt: 125, ShiftingFt: 63, ShoulderFt: 42}},
		{30, sheet.Tapers{MergingFt: 180, ShiftingFt: 90, ShoulderFt: 60}},
		{35, sheet.Tapers{MergingFt: 245, ShiftingFt: 123, ShoulderFt: 82}},
		{40, sheet.Tapers{MergingFt: 320, ShiftingFt: 160, ShoulderFt: 107}},
		{45, sheet.Tapers{MergingFt: 540, ShiftingFt: 270, ShoulderFt: 180}},
		{50, sheet.Tapers{MergingFt: 600, ShiftingFt: 300, ShoulderFt: 200}},
		{55, sheet.Tapers{MergingFt: 660, ShiftingFt: 330, ShoulderFt: 220}},
		{60, sheet.Tapers{MergingFt: 720, ShiftingFt: 360, ShoulderFt: 240}},
		{65, sheet.Tapers{MergingFt: 780, ShiftingFt: 390, ShoulderFt: 260}},
		{70, sheet.Tapers{MergingFt: 840, ShiftingFt: 420, ShoulderFt: 280}},
		{75, sheet.Tapers{MergingFt: 900, ShiftingFt: 450, ShoulderFt: 300}},
	}
	for _, tt := range table {
		if got := sheet.TapersFor(12, tt.speed); got != tt.want {
			t.Errorf("%g mph: got %+v, want %+v", tt.speed, got, tt.want)
		}
	}
	for _, bad := range [][2]float64{{0, 40}, {12, 0}, {-1, 40}, {math.NaN(), 40}, {12, math.NaN()}, {math.Inf(1), 40}} {
		if got := sheet.TapersFor(bad[0], bad[1]); got != (sheet.Tapers{}) {
			t.Errorf("offset %g, speed %g: got %+v, want none", bad[0], bad[1], got)
		}
	}
}
