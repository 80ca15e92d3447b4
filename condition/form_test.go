package condition_test

import (
	"context"
	"math"
	"strings"
	"testing"

	"reseal/condition"
	"reseal/inventory"
	"reseal/inventory/store"
)

// gapJoint is an expansion joint of a 200 ft steel bridge with readings on two
// days; its seal works from 0.5 to 4 in.
func gapJoint(t *testing.T, s *store.Store) *inventory.Joint {
	j := addJoint(t, s, inventory.Joint{Movement: "expansion", Place: "abutment", ExpansionLengthFt: ptr(200.0)},
		inventory.Bridge{Material: "Steel", Climate: "cold"})
	update(t, s, func(tx *store.Tx) error {
		ts, err := inventory.Stretches(ctx, tx, j.ID)
		if err != nil {
			return err
		}
		ts[0].Seals[0].MinOpenIn, ts[0].Seals[0].MaxOpenIn = ptr(0.5), ptr(4.0)
		return inventory.SaveSeal(ctx, tx, &ts[0].Seals[0])
	})
	for _, r := range []condition.Reading{
		{ReadOn: date(t, "2024-01-10"), GapIn: 2.8, DeckTempF: ptr(20.0), Position: "left curb"},
		{ReadOn: date(t, "2025-07-10"), GapIn: 1.85, DeckTempF: ptr(80.0), Position: "left curb"},
	} {
		update(t, s, func(tx *store.Tx) error {
			_, err := condition.AddReading(ctx, tx, j, &r, false, today)
			return err
		})
	}
	return j
}

func gapOf(t *testing.T, s *store.Store, j *inventory.Joint) (*condition.Gap, *condition.GapRules) {
	t.Helper()
	rules, err := condition.LoadGapRules(ctx, s.Read(), today)
	if err != nil {
		t.Fatal(err)
	}
	g, err := condition.OneGap(ctx, s.Read(), rules, j.ID, today)
	if err != nil {
		t.Fatal(err)
	}
	return g, rules
}

// The verdict before a reading is on record is that of the opening check once
// it is.
func TestVerdictIsThatOfTheRecord(t *testing.T) {
	for _, tt := range []struct {
		name string
		gap  float64
		says string
	}{
		{"as theory has it", 2.3, condition.AsExpected},
		{"much wider", 3.9, condition.TooWide},
		{"much narrower", 0.9, condition.TooNarrow},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := create(t)
			j := gapJoint(t, s)
			g, rules := gapOf(t, s, j)
			r := condition.Reading{GapIn: tt.gap, DeckTempF: ptr(50.0), Position: "left curb"}
			v, err := g.Verdict(rules, []condition.Reading{r}, today)
			if err != nil {
				t.Fatal(err)
			}
			if v.Readings[0].Says != tt.says {
				t.Errorf("got %q (%+v), want %q", v.Readings[0].Says, v.Readings[0].Band, tt.says)
			}
			r.ReadOn = today
			update(t, s, func(tx *store.Tx) error {
				_, err := condition.AddReading(ctx, tx, j, &r, true, today)
				return err
			})
			after, _ := gapOf(t, s, j)
			line, err := after.Line(rules)
			if err != nil {
				t.Fatal(err)
			}
			check := line.Judge(after.Limits, today.DecimalYear(), rules.Opening())
			if want := check.Words(); v.Words != want {
				t.Errorf("before: %s\nonce on record: %s", v.Words, want)
			}
		})
	}
}

func TestVerdictOfAFirstReading(t *testing.T) {
	s := create(t)
	j := addJoint(t, s, inventory.Joint{Movement: "expansion", ExpansionLengthFt: ptr(100.0)}, inventory.Bridge{})
	g, rules := gapOf(t, s, j)
	v, err := g.Verdict(rules, []condition.Reading{{GapIn: 2, DeckTempF: ptr(60.0)}}, today)
	if err != nil || v.Readings[0].Says != condition.Nothing || !strings.Contains(v.Words, "one reading") {
		t.Errorf("got %+v, %v; want nothing to compare with, and theory through one reading", v, err)
	}
	if _, err := g.Verdict(rules, []condition.Reading{{GapIn: -1}}, today); err == nil {
		t.Error("a gap below 0 was judged")
	}
}

func TestForm(t *testing.T) {
	s := create(t)
	j := gapJoint(t, s)
	if _, err := log(s, j, "2025-05-01", [4]float64{30, 10}, false); err != nil {
		t.Fatal(err)
	}
	update(t, s, func(tx *store.Tx) error {
		in := &condition.Inspection{
			InspectedOn: date(t, "2026-05-01"), Quick: true, QuickWorst: 2,
			Defects: []condition.Defect{{Number: condition.DefectLeakage, State: 2}},
		}
		if _, err := condition.Log(ctx, tx, j, in, false, today); err != nil {
			return err
		}
		return inventory.AddFinding(ctx, tx, &inventory.Finding{JointID: j.ID, Kind: "leak", FoundOn: today})
	})
	_, rules := gapOf(t, s, j)
	f, err := condition.FormOf(context.Background(), s.Read(), rules, j, today)
	if err != nil {
		t.Fatal(err)
	}
	if f.SeenID != 2 || f.Newest.ID != 2 || f.Last == nil || f.Last.ID != 1 {
		t.Errorf("newest %d, last with feet %+v; want 2 and 1", f.SeenID, f.Last)
	}
	if len(f.Stretches) != 1 || f.Stretches[0].LengthFt != 40 || f.Stretches[0].Last.CS2Ft != 10 {
		t.Errorf("stretches %+v, want one of 40 ft with its last feet", f.Stretches)
	}
	if len(f.Defects) != 7 || f.Defects[0].Last != 2 || len(f.Findings) != 1 || len(f.Readings) != 1 || f.Readings[0].GapIn != 1.85 {
		t.Errorf("defects %+v, findings %d, readings %+v", f.Defects, len(f.Findings), f.Readings)
	}
	// A bit of the line: what lies between two steps of 5 °F differs from the
	// straight line between them by far less than a tape can tell.
	g, _ := gapOf(t, s, j)
	for i := range f.Opening.Deck[1:] {
		a, b := f.Opening.Deck[i], f.Opening.Deck[i+1]
		mid := (a.TempF + b.TempF) / 2
		v, err := g.Verdict(rules, []condition.Reading{{GapIn: 2, DeckTempF: &mid, Position: "left curb"}}, today)
		if err != nil {
			t.Fatal(err)
		}
		if got, want := (a.HighIn+b.HighIn)/2, v.Readings[0].Band.HighIn; math.Abs(got-want) > 0.01 {
			t.Errorf("at %g °F the band ends at %.3f in between steps, %.3f in itself", mid, got, want)
		}
	}
}
