package inventory_test

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"reseal/geo"
	"reseal/inventory"
	"reseal/inventory/store"
)

// network is six bridges of one joint each, a mile apart along a parallel, in
// two districts and on two routes.
func network(t *testing.T) *store.Store {
	t.Helper()
	s := create(t)
	err := s.Update(ctx, "ana", func(ctx context.Context, tx *store.Tx) error {
		for i := range 6 {
			mile, length, width := float64(6-i), 100+float64(i), 40.0
			b := &inventory.Bridge{
				State: "53", StructureNumber: fmt.Sprintf("B%d", i), Route: []string{"US 2", "US 9"}[i/3], Milepost: &mile,
				District: []string{"N", "S"}[i%2], LengthFt: &length, CurbWidthFt: &width,
				Geom: geo.Geometry{Geometry: geo.Destination(orb.Point{-120, 40}, 90, float64(i)*5280)},
			}
			if err := inventory.AddBridge(ctx, tx, b); err != nil {
				return err
			}
			j := &inventory.Joint{BridgeID: b.ID, Place: "abutment", LengthFt: &length}
			j.Draw(b)
			if err := inventory.AddJoint(ctx, tx, j, inventory.Seal{Kind: []string{"strip seal", "pourable seal"}[i%2]}); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestFilter(t *testing.T) {
	s := network(t)
	start := orb.Point{-120, 40}
	// A triangle whose box holds bridges 1 to 4, its sides only 2 and 3.
	top := geo.Destination(geo.Destination(start, 90, 2.5*5280), 0, 500)
	around23 := orb.Ring{
		geo.Destination(geo.Destination(start, 90, 0.9*5280), 180, 1000), geo.Destination(geo.Destination(start, 90, 4.1*5280), 180, 1000), top,
		geo.Destination(geo.Destination(start, 90, 0.9*5280), 180, 1000),
	}
	for _, tt := range []struct {
		name string
		f    inventory.Filter
		want string // bridges of the joints found
	}{
		{"all, in the order of travel", inventory.Filter{}, "B2 B1 B0 B5 B4 B3"},
		{"by number", inventory.Filter{Sort: "number"}, "B0 B1 B2 B3 B4 B5"},
		{"longest first", inventory.Filter{Sort: "length", Limit: 2}, "B5 B4"},
		{"in the order of record", inventory.Filter{Sort: "record", Limit: 3}, "B0 B1 B2"},
		{"one by its key", inventory.Filter{ID: 4}, "B3"},
		{"nothing without a place", inventory.Filter{Unplaced: true}, ""},
		{"inside an area", inventory.Filter{Area: &around23}, "B2 B3"},
		{"the second inside an area", inventory.Filter{Area: &around23, Limit: 1, Offset: 1}, "B3"},
		{"second page", inventory.Filter{Sort: "number", Limit: 2, Offset: 2}, "B2 B3"},
		{"past the first rows", inventory.Filter{Sort: "number", Offset: 4}, "B4 B5"},
		{"district and route", inventory.Filter{District: "S", Route: "US 9"}, "B5 B3"},
		{"mileposts", inventory.Filter{MilepostAt: [2]*float64{ptr(2.0), ptr(4.0)}}, "B2 B4 B3"},
		{"seal kind", inventory.Filter{SealKind: "pourable seal", Sort: "number"}, "B1 B3 B5"},
		{"one bridge", inventory.Filter{Structure: "53/B4"}, "B4"},
		{"text", inventory.Filter{Text: "j000003"}, "B2"},
		{"near", inventory.Filter{Near: &start, WithinFt: 2.5 * 5280, Sort: "number"}, "B0 B1 B2"},
		{"a page of what is near", inventory.Filter{Near: &start, WithinFt: 4.5 * 5280, Sort: "number", Offset: 1, Limit: 2}, "B1 B2"},
		{"box", inventory.Filter{Box: &orb.Bound{Min: orb.Point{-120.001, 39.99}, Max: orb.Point{-119.99, 40.01}}, Sort: "number"}, "B0"},
		{"nothing retired", inventory.Filter{Status: "retired"}, ""},
		{"never inspected, so in no state", inventory.Filter{WorstState: 1}, ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			joints, err := inventory.Joints(ctx, s.Read(), tt.f)
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, j := range joints {
				got = append(got, j.StructureNumber)
			}
			if strings.Join(got, " ") != tt.want {
				t.Errorf("joints: got %v, want %s", got, tt.want)
			}
			if n, err := inventory.CountJoints(ctx, s.Read(), tt.f); err != nil || tt.f.Limit+tt.f.Offset == 0 && n != len(got) || n < len(got) {
				t.Errorf("counted %d joints (%v), want %d", n, err, len(got))
			}
			if tt.f.SealKind != "" || tt.f.WorstState > 0 || tt.f.Text != "" {
				return // of joints only
			}
			got = nil
			err = inventory.EachBridge(ctx, s.Read(), tt.f, func(b *inventory.Bridge) error {
				got = append(got, b.StructureNumber)
				return nil
			})
			if err != nil || strings.Join(got, " ") != tt.want {
				t.Errorf("bridges: got %v (%v), want %s", got, err, tt.want)
			}
			if n, err := inventory.CountBridges(ctx, s.Read(), tt.f); err != nil || tt.f.Limit+tt.f.Offset == 0 && n != len(got) || n < len(got) {
				t.Errorf("counted %d bridges (%v), want %d", n, err, len(got))
			}
		})
	}
}

func TestUnknownOrderIsRefused(t *testing.T) {
	s := network(t)
	if _, err := inventory.Joints(ctx, s.Read(), inventory.Filter{Sort: "colour"}); err == nil || !strings.Contains(err.Error(), "travel") {
		t.Errorf("got %v, want the orders that there are", err)
	}
}

// TestPropose holds the number and the length of proposed joints to sums done
// by hand: width / cos(skew), and feet over the length of one joint.
func TestPropose(t *testing.T) {
	f, n, yes, no := func(v float64) *float64 { return &v }, func(v int) *int { return &v }, true, false
	for _, tt := range []struct {
		name       string
		b          inventory.Bridge
		quantities []inventory.Joint
		joints     int
		lengthFt   float64
	}{
		{"three simple spans", inventory.Bridge{LengthFt: f(180), MainSpans: n(3), CurbWidthFt: f(40), Continuous: &no}, nil, 4, 40},
		{"continuous", inventory.Bridge{LengthFt: f(180), MainSpans: n(3), CurbWidthFt: f(40), Continuous: &yes}, nil, 2, 40},
		{"on a skew of 60°", inventory.Bridge{LengthFt: f(60), MainSpans: n(1), CurbWidthFt: f(40), SkewDeg: f(60)}, nil, 2, 80},
		{"no curb width", inventory.Bridge{LengthFt: f(60), MainSpans: n(1), OutWidthFt: f(33)}, nil, 2, 33},
		{"no width at all", inventory.Bridge{LengthFt: f(60), MainSpans: n(1)}, nil, 0, 0},
		{"culvert", inventory.Bridge{LengthFt: f(60), MainSpans: n(1), CurbWidthFt: f(40), Design: "culvert"}, nil, 0, 0},
		{"too short", inventory.Bridge{LengthFt: f(19), MainSpans: n(1), CurbWidthFt: f(40)}, nil, 0, 0},
		{"200 ft of joint on a deck of 40 ft", inventory.Bridge{LengthFt: f(180), MainSpans: n(2), CurbWidthFt: f(40)}, []inventory.Joint{{ID: 7, LengthFt: f(200), Element: 300}}, 5, 40},
		{"fewer feet than one joint", inventory.Bridge{LengthFt: f(180), MainSpans: n(2), CurbWidthFt: f(40)}, []inventory.Joint{{ID: 7, LengthFt: f(12)}}, 1, 12},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := inventory.Propose(&tt.b, tt.quantities)
			if len(got) != tt.joints {
				t.Fatalf("got %d joints, want %d", len(got), tt.joints)
			}
			for i, j := range got {
				if *j.LengthFt != tt.lengthFt || j.Status != inventory.Proposed || j.Sequence != i+1 {
					t.Errorf("joint %d: %g ft, %s, number %d; want %g ft, proposed, number %d", i, *j.LengthFt, j.Status, j.Sequence, tt.lengthFt, i+1)
				}
				if len(tt.quantities) > 0 && j.SplitFromID != tt.quantities[0].ID {
					t.Errorf("joint %d does not look back to its quantity", i)
				}
			}
		})
	}
}

func TestASharedJointSettlesBothBridges(t *testing.T) {
	s := create(t)
	update(t, s, func(tx *store.Tx) error {
		var bridges [2]inventory.Bridge
		for i := range bridges {
			bridges[i] = inventory.Bridge{
				State: "00", StructureNumber: []string{"A", "B"}[i], LengthFt: ptr(180.0), MainSpans: ptr(3), CurbWidthFt: ptr(40.0),
			}
			if err := inventory.AddBridge(ctx, tx, &bridges[i]); err != nil {
				return err
			}
		}
		j := inventory.Joint{BridgeID: bridges[0].ID, SecondBridgeID: bridges[1].ID, LengthFt: ptr(40.0)}
		if err := inventory.AddJoint(ctx, tx, &j, inventory.Seal{}); err != nil {
			return err
		}
		for i, want := range []int{0, 1} { // it is counted at the first
			shared, err := inventory.Joints(ctx, tx, inventory.Filter{SharedWith: bridges[i].ID})
			if err != nil || len(shared) != want {
				t.Errorf("%s shares %d joints of other bridges (%v), want %d", bridges[i].StructureNumber, len(shared), err, want)
			}
		}
		joints, on, err := inventory.ProposeAll(ctx, tx, inventory.Filter{})
		if joints != 0 || on != 0 {
			t.Errorf("got %d joints proposed for %d bridges, want none", joints, on)
		}
		return err
	})
}

func TestConfirmedJointsReplaceTheirQuantity(t *testing.T) {
	s := network(t)
	length := 120.0
	var whole *inventory.Joint
	err := s.Update(ctx, "ana", func(ctx context.Context, tx *store.Tx) error {
		b, err := inventory.FindBridge(ctx, tx, "B0")
		if err != nil {
			return err
		}
		whole = &inventory.Joint{BridgeID: b.ID, LengthFt: &length, Scope: inventory.ScopeQuantity, Element: 300}
		if err := inventory.AddJoint(ctx, tx, whole, inventory.Seal{}); err != nil {
			return err
		}
		parts, err := inventory.SplitQuantity(ctx, tx, whole, b, 3)
		if err != nil {
			return err
		}
		for i := range parts {
			if err := inventory.Decide(ctx, tx, &parts[i], i > 0, inventory.Date{Year: 2026, Month: 5, Day: 1}); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	got, err := inventory.FindJoint(ctx, s.Read(), whole.Tag)
	if err != nil || got.Status != inventory.Split {
		t.Errorf("the quantity is %v (%v), want split", got.Status, err)
	}
}

func TestRetiredBridgeKeepsSharedJoints(t *testing.T) {
	s := network(t)
	err := s.Update(ctx, "ana", func(ctx context.Context, tx *store.Tx) error {
		b, err := inventory.FindBridge(ctx, tx, "B0")
		if err != nil {
			return err
		}
		shared, err := inventory.FindJoint(ctx, tx, "J000002")
		if err != nil {
			return err
		}
		shared.SecondBridgeID = b.ID
		if err := inventory.SaveJoint(ctx, tx, shared); err != nil {
			return err
		}
		return inventory.RetireBridge(ctx, tx, b, inventory.Date{Year: 2026, Month: 5, Day: 1})
	})
	if err != nil {
		t.Fatal(err)
	}
	for tag, want := range map[string]string{"J000001": inventory.Retired, "J000002": inventory.InService} {
		j, err := inventory.FindJoint(ctx, s.Read(), tag)
		if err != nil || j.Status != want {
			t.Errorf("joint %s is %v (%v), want %s", tag, j.Status, err, want)
		}
	}
}
