package condition_test

import (
	"context"
	"errors"
	"strings"
	"testing"

	"reseal/condition"
	"reseal/inventory"
	"reseal/inventory/store"
)

func TestLogRefuses(t *testing.T) {
	s := create(t)
	j := addJoint(t, s, inventory.Joint{Movement: "expansion"}, inventory.Bridge{YearBuilt: 1990})
	tests := []struct {
		name, on string
		ft       [4]float64
		want     string
	}{
		{"in the future", "2026-11-26", [4]float64{40}, "2026-11-26 is in the future"},
		{"before the bridge", "1989-05-01", [4]float64{40}, "before the bridge was built (1990)"},
		{"too few feet", "2026-05-01", [4]float64{30, 8}, "2 ft less than the length of 40 ft"},
		{"too many feet", "2026-05-01", [4]float64{40, 8}, "8 ft more than the length of 40 ft"},
		{"negative feet", "2026-05-01", [4]float64{48, -8}, "-8 ft in a state"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := log(s, j, tt.on, tt.ft, true)
			if !errors.Is(err, store.ErrInvalid) || !strings.Contains(err.Error(), tt.want) || store.Hint(err) == "" {
				t.Errorf("got %v (hint %q), want %q", err, store.Hint(err), tt.want)
			}
		})
	}
	if n, _ := s.Read().NewSelect().Model((*condition.Inspection)(nil)).Count(ctx); n != 0 {
		t.Errorf("%d inspections after refusals, want 0", n)
	}
	if _, err := log(s, j, "2026-05-01", [4]float64{31, 8}, false); err != nil {
		t.Errorf("a miss of 1 ft was refused: %v", err)
	}
}

func TestLogAsksAboutTheOdd(t *testing.T) {
	s := create(t)
	j := addJoint(t, s, inventory.Joint{Movement: "expansion"}, inventory.Bridge{})
	if _, err := log(s, j, "2024-05-01", [4]float64{30, 10}, false); err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name, on string
		ft       [4]float64
		want     string
	}{
		{"better without work", "2025-05-01", [4]float64{40}, "better than on 2024-05-01"},
		{"two states in a year", "2025-05-01", [4]float64{20, 10, 0, 10}, "from CS2 to CS4"},
		{"late, and worse than what follows", "2022-05-01", [4]float64{20, 20}, "worse than later, on 2024-05-01"},
		{"late, and in keeping with what follows", "2023-06-01", [4]float64{40}, ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := log(s, j, tt.on, tt.ft, false)
			if (err == nil) != (tt.want == "") || err != nil && !strings.Contains(err.Error(), tt.want) {
				t.Errorf("got %v, want %q", err, tt.want)
			}
		})
	}
	odd, err := log(s, j, "2025-05-01", [4]float64{40}, true)
	if err != nil || len(odd) != 1 {
		t.Fatalf("accepted: %v, %v; want one mark", odd, err)
	}
	kept, err := condition.Inspections(ctx, s.Read(), j.ID)
	if err != nil || !strings.Contains(kept[0].Odd, "better than") {
		t.Errorf("kept with %q, %v; want the mark", kept[0].Odd, err)
	}
}

func TestEnteredTwice(t *testing.T) {
	s := create(t)
	j := addJoint(t, s, inventory.Joint{Movement: "expansion"}, inventory.Bridge{})
	if _, err := log(s, j, "2026-05-01", [4]float64{30, 10}, false); err != nil {
		t.Fatal(err)
	}
	if _, err := log(s, j, "2026-05-01", [4]float64{30, 10}, false); err == nil || !strings.Contains(err.Error(), "inspection 1 of the same day") {
		t.Errorf("the same inspection again: got %v, want a pointer to the first", err)
	}
	build := func(accept bool) error {
		return s.Update(ctx, "ben", func(ctx context.Context, tx *store.Tx) error {
			a := &condition.AsBuilt{On: today, Seal: inventory.Seal{Kind: "strip seal"}, Why: "worn"}
			_, err := a.Record(ctx, tx, j, accept, today)
			return err
		})
	}
	if err := build(false); err != nil {
		t.Fatal(err)
	}
	if err := build(false); !errors.Is(err, store.ErrInvalid) || !strings.Contains(err.Error(), "on record already") {
		t.Errorf("the same seal again: got %v, want a refusal", err)
	}
	if err := build(true); err != nil {
		t.Errorf("a second seal that somebody vouches for: %v", err)
	}
}

func TestWorkExplainsImprovement(t *testing.T) {
	s := create(t)
	j := addJoint(t, s, inventory.Joint{}, inventory.Bridge{})
	if _, err := log(s, j, "2024-05-01", [4]float64{20, 20}, false); err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		treatment string
		odd       bool
	}{{inventory.TemporaryPlate, true}, {"reseal", false}} {
		update(t, s, func(tx *store.Tx) error {
			return inventory.AddWork(ctx, tx, &inventory.Work{JointID: j.ID, Treatment: tt.treatment, DoneOn: inventory.Date{Year: 2024, Month: 9, Day: 1}})
		})
		_, err := log(s, j, "2025-05-01", [4]float64{40}, false)
		if (err != nil) != tt.odd {
			t.Errorf("after %s: got %v, want odd %v", tt.treatment, err, tt.odd)
		}
	}
}

func TestSeenFromBelowInventsNothing(t *testing.T) {
	s := create(t)
	j := addJoint(t, s, inventory.Joint{}, inventory.Bridge{})
	update(t, s, func(tx *store.Tx) error {
		in := &condition.Inspection{
			InspectedOn: inventory.Date{Year: 2026, Month: 5, Day: 1}, SeenFrom: "below",
			Defects: []condition.Defect{{Number: condition.DefectLeakage, State: 3}},
		}
		_, err := condition.Log(ctx, tx, j, in, false, today)
		return err
	})
	rows, err := inventory.Joints(ctx, s.Read(), inventory.Filter{})
	if err != nil || rows[0].WorstState != 0 || rows[0].NotSeenFt != 40 {
		t.Errorf("after a look from below: worst state %d, %g ft not seen, %v; want 0, 40", rows[0].WorstState, rows[0].NotSeenFt, err)
	}
}

func TestCorrectionReplaces(t *testing.T) {
	s := create(t)
	j := addJoint(t, s, inventory.Joint{}, inventory.Bridge{})
	if _, err := log(s, j, "2026-05-01", [4]float64{0, 0, 0, 40}, false); err != nil {
		t.Fatal(err)
	}
	update(t, s, func(tx *store.Tx) error {
		ts, err := inventory.Stretches(ctx, tx, j.ID)
		if err != nil {
			return err
		}
		in := &condition.Inspection{InspectedOn: inventory.Date{Year: 2026, Month: 5, Day: 1}, Feet: []condition.Feet{{StretchID: ts[0].ID, CS1Ft: 40}}}
		_, err = condition.Replace(ctx, tx, j, 1, in, false, today)
		return err
	})
	got, err := condition.Inspections(ctx, s.Read(), j.ID)
	if err != nil || len(got) != 1 || got[0].StateFt() != [4]float64{40} {
		t.Errorf("got %+v, %v; want only the correction", got, err)
	}
}

func TestOddReading(t *testing.T) {
	last := condition.Reading{ReadOn: inventory.Date{Year: 2025, Month: 1, Day: 10}, GapIn: 2, DeckTempF: ptr(20.0), Position: "left curb"}
	known := func(movement string) *condition.Known {
		return &condition.Known{Joint: inventory.Joint{Movement: movement}, Readings: []condition.Reading{last}}
	}
	for _, tt := range []struct {
		name, movement string
		gap, temp      float64
		position       string
		odd            bool
	}{
		{"closes as it warms", "expansion", 1.5, 80, "left curb", false},
		{"opens as it warms", "expansion", 2.5, 80, "left curb", true},
		{"within what a tape can tell", "expansion", 2.1, 80, "left curb", false},
		{"much the same temperature", "expansion", 2.5, 30, "left curb", false},
		{"another position", "expansion", 2.5, 80, "right curb", false},
		{"fixed joint", "fixed", 2.5, 80, "left curb", false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r := &condition.Reading{ReadOn: inventory.Date{Year: 2026, Month: 7, Day: 1}, GapIn: tt.gap, DeckTempF: &tt.temp, Position: tt.position}
			if got := condition.OddReading(r, known(tt.movement)); (len(got) > 0) != tt.odd {
				t.Errorf("got %q, want odd %v", got, tt.odd)
			}
		})
	}
}

func TestImpossibleReading(t *testing.T) {
	for _, tt := range []struct {
		name      string
		gap, temp float64
		ok        bool
	}{
		{"closed", 0, 60, true},
		{"at the limits", 40, 180, true},
		{"negative gap", -0.1, 60, false},
		{"gap of a yard", 40.1, 60, false},
		{"colder than any deck", 1, -60.5, false},
		{"hotter than any deck", 1, 181, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if err := condition.ImpossibleReading(&condition.Reading{GapIn: tt.gap, DeckTempF: &tt.temp}); (err == nil) != tt.ok {
				t.Errorf("got %v, want allowed %v", err, tt.ok)
			}
		})
	}
}
