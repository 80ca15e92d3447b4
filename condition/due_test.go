package condition_test

import (
	"strings"
	"testing"

	"reseal/condition"
	"reseal/inventory"
	"reseal/inventory/store"
)

func date(t testing.TB, s string) inventory.Date {
	t.Helper()
	d, err := inventory.ParseDate(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// TestDue looks at one joint at a time, last seen on 2025-03-15. The cycle of
// 24 months is that of 23 CFR 650.311; the shorter ones are our defaults.
func TestDue(t *testing.T) {
	for _, tt := range []struct {
		name    string
		bridge  inventory.Bridge
		ft      [4]float64
		finding *inventory.Finding
		until   string // of the warranty
		want    string
		why     string
	}{
		{"cycle of the standard", inventory.Bridge{}, [4]float64{40}, nil, "", "2027-03-15", "cycle of 24 months"},
		{"cycle of the bridge", inventory.Bridge{InspectionMonths: 12}, [4]float64{40}, nil, "", "2026-03-15", "cycle of 12 months"},
		{"the bridge was seen later", inventory.Bridge{LastInspection: "2025-11"}, [4]float64{40}, nil, "", "2027-11-01", "cycle of 24 months"},
		{"poor feet", inventory.Bridge{}, [4]float64{30, 0, 10}, nil, "", "2026-03-15", "feet in CS3"},
		{"severe feet", inventory.Bridge{}, [4]float64{30, 0, 0, 10}, nil, "", "2025-09-15", "feet in CS4"},
		{"open finding", inventory.Bridge{}, [4]float64{40}, &inventory.Finding{Kind: "leak", Urgency: "soon"}, "", "2025-09-15", "open finding"},
		{"plate", inventory.Bridge{}, [4]float64{40}, &inventory.Finding{Kind: inventory.PlatePlaced}, "", "2025-04-15", "plate in place"},
		{"severe finding", inventory.Bridge{}, [4]float64{40}, &inventory.Finding{Kind: "loose steel", Urgency: "severe"}, "", "2025-04-15", "severe finding"},
		{"warranty ends", inventory.Bridge{}, [4]float64{40}, nil, "2026-12-31", "2026-10-02", "warranty ends 2026-12-31"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := create(t)
			j := addJoint(t, s, inventory.Joint{}, tt.bridge)
			if _, err := log(s, j, "2025-03-15", tt.ft, true); err != nil {
				t.Fatal(err)
			}
			update(t, s, func(tx *store.Tx) error {
				if tt.finding != nil {
					f := *tt.finding
					f.JointID, f.FoundOn = j.ID, date(t, "2025-03-15")
					if err := inventory.AddFinding(ctx, tx, &f); err != nil {
						return err
					}
				}
				_, err := tx.NewUpdate().Model((*inventory.Seal)(nil)).Set("warranty_until = ?", date(t, tt.until)).Where("TRUE").Exec(ctx)
				return err
			})
			due, err := condition.DueBy(ctx, s.Read(), inventory.Filter{}, date(t, "2030-01-01"), condition.DueRules{})
			if err != nil || len(due) != 1 {
				t.Fatalf("got %d due, %v; want 1", len(due), err)
			}
			if due[0].DueOn.String() != tt.want || !strings.Contains(due[0].Why, tt.why) {
				t.Errorf("got %s because of %q; want %s because of %q", due[0].DueOn, due[0].Why, tt.want, tt.why)
			}
			before := due[0].DueOn.AddDays(-1)
			if due, _ := condition.DueBy(ctx, s.Read(), inventory.Filter{}, before, condition.DueRules{}); len(due) != 0 {
				t.Errorf("due the day before, %s", before)
			}
		})
	}
}

// TestWarrantyOfEachStretch has work in half widths: the warranty of one half
// has ended long since, that of the other ends soon.
func TestWarrantyOfEachStretch(t *testing.T) {
	s := create(t)
	j := addJoint(t, s, inventory.Joint{}, inventory.Bridge{})
	if _, err := log(s, j, "2025-03-15", [4]float64{40}, true); err != nil {
		t.Fatal(err)
	}
	update(t, s, func(tx *store.Tx) error {
		half := &inventory.Stretch{JointID: j.ID, FromFt: 40, ToFt: 80}
		if err := inventory.AddStretch(ctx, tx, half); err != nil {
			return err
		}
		if err := inventory.AddSeal(ctx, tx, &inventory.Seal{StretchID: half.ID, WarrantyUntil: date(t, "2026-12-31")}); err != nil {
			return err
		}
		_, err := tx.NewUpdate().Model((*inventory.Seal)(nil)).Set("warranty_until = '2021-12-31'").Where("id = 1").Exec(ctx)
		return err
	})
	due, err := condition.DueBy(ctx, s.Read(), inventory.Filter{}, date(t, "2030-01-01"), condition.DueRules{})
	if err != nil || len(due) != 1 || due[0].DueOn.String() != "2026-10-02" {
		t.Errorf("got %+v, %v; want it due on 2026-10-02", due, err)
	}
}

func TestNeverInspectedIsDueNow(t *testing.T) {
	s := create(t)
	addJoint(t, s, inventory.Joint{}, inventory.Bridge{})
	due, err := condition.DueBy(ctx, s.Read(), inventory.Filter{}, today, condition.DueRules{})
	if err != nil || len(due) != 1 || due[0].Why != "never inspected" {
		t.Errorf("got %+v, %v", due, err)
	}
}

func TestDueComesInOrderOfTravel(t *testing.T) {
	s := create(t)
	for i, at := range []struct {
		route string
		mile  float64
	}{{"US 9", 4}, {"US 2", 30}, {"US 2", 3.5}} {
		addJoint(t, s, inventory.Joint{}, inventory.Bridge{StructureNumber: string(rune('A' + i)), Route: at.route, Milepost: &at.mile})
	}
	due, err := condition.DueBy(ctx, s.Read(), inventory.Filter{}, today, condition.DueRules{})
	if err != nil {
		t.Fatal(err)
	}
	var order string
	for _, d := range due {
		order += d.StructureNumber
	}
	if order != "CBA" {
		t.Errorf("got bridges in the order %s, want CBA", order)
	}
	part, err := condition.DueBy(ctx, s.Read(), inventory.Filter{Limit: 1, Offset: 1}, today, condition.DueRules{})
	if err != nil || len(part) != 1 || part[0].StructureNumber != "B" {
		t.Errorf("the second one: got %+v, %v", part, err)
	}
	first, err := inventory.FindJoint(ctx, s.Read(), due[0].Tag)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := log(s, first, today.String(), [4]float64{40}, true); err != nil {
		t.Fatal(err)
	}
	part, err = condition.DueBy(ctx, s.Read(), inventory.Filter{Limit: 1}, today, condition.DueRules{})
	if err != nil || len(part) != 1 || part[0].StructureNumber != "B" {
		t.Errorf("the first one that is due: got %+v, %v", part, err)
	}
	trips := condition.Trips(due)
	if len(trips) != 2 || trips[0].Route != "US 2" || trips[0].Joints != 2 {
		t.Errorf("trips: %+v", trips)
	}
}
