package inventory_test

import (
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"reseal/geo"
	"reseal/inventory"
	"reseal/inventory/store"
)

// TestDrawnLinesFollowTheirBridge changes the place of a bridge in each way
// that there is; the line of a joint that is drawn is then at its new place,
// one that was surveyed where it was.
func TestDrawnLinesFollowTheirBridge(t *testing.T) {
	at := orb.Point{-121.5, 47}
	for name, move := range map[string]func(*store.Tx) error{
		"by hand": func(tx *store.Tx) error {
			b, err := inventory.FindBridge(ctx, tx, "A")
			if err == nil {
				b.Geom = geo.Geometry{Geometry: at}
				err = inventory.SaveBridge(ctx, tx, b)
			}
			return err
		},
		"inventory": func(tx *store.Tx) error {
			_, err := inventory.ImportNBI(ctx, tx, strings.NewReader("STATE_CODE_001,STRUCTURE_NUMBER_008,RECORD_TYPE_005A,LAT_016,LONG_017\n53,A,1,47000000,121300000\n"), "WA.txt", inventory.IntakeOptions{})
			return err
		},
		"spreadsheet": func(tx *store.Tx) error {
			_, err := inventory.ImportBridges(ctx, tx, strings.NewReader("bridge,lat,lon\n53/A,47,-121.5\n"), "bridges.csv", inventory.IntakeOptions{})
			return err
		},
	} {
		for _, was := range []geo.Geometry{{}, {Geometry: orb.Point{-122, 46}}} {
			t.Run(name, func(t *testing.T) {
				s := create(t)
				surveyed := orb.LineString{{-122, 46}, {-122, 46.0001}}
				update(t, s, func(tx *store.Tx) error {
					b := inventory.Bridge{State: "53", StructureNumber: "A", Geom: was, CurbWidthFt: ptr(40.0), LengthFt: ptr(200.0)}
					if err := inventory.AddBridge(ctx, tx, &b); err != nil {
						return err
					}
					drawn := inventory.Joint{BridgeID: b.ID, LengthFt: ptr(40.0), StationFt: ptr(100.0)}
					drawn.Draw(&b)
					if err := inventory.AddJoint(ctx, tx, &drawn, inventory.Seal{}); err != nil {
						return err
					}
					measured := inventory.Joint{BridgeID: b.ID, LengthFt: ptr(40.0), Geom: geo.Geometry{Geometry: surveyed}, GeometrySource: inventory.Surveyed}
					return inventory.AddJoint(ctx, tx, &measured, inventory.Seal{})
				})
				update(t, s, move)
				joints, err := inventory.Joints(ctx, s.Read(), inventory.Filter{})
				if err != nil || len(joints) != 2 {
					t.Fatalf("got %d joints, %v; want 2", len(joints), err)
				}
				got := joints[0].Geom.Geometry
				if got == nil || geo.DistanceFt(got.Bound().Center(), at) > 1 || joints[0].GeometrySource != inventory.Drawn {
					t.Errorf("drawn line: got %v (%s), want it at %v", got, joints[0].GeometrySource, at)
				}
				if !orb.Equal(joints[1].Geom.Geometry, surveyed) {
					t.Errorf("surveyed line: got %v, want %v", joints[1].Geom.Geometry, surveyed)
				}
				changes, err := store.History(ctx, s.Read(), "joints", 1)
				if err != nil || len(changes) != 1 || changes[0].By != "ana" {
					t.Errorf("history of the drawn joint: %+v, %v; want one change by ana", changes, err)
				}
			})
		}
	}
}
