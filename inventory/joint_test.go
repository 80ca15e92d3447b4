package inventory_test

import (
	"testing"

	"reseal/inventory"
	"reseal/inventory/store"
)

func TestFindJoint(t *testing.T) {
	s := create(t)
	update(t, s, func(tx *store.Tx) error {
		b := inventory.Bridge{State: "53", StructureNumber: "A"}
		if err := inventory.AddBridge(ctx, tx, &b); err != nil {
			return err
		}
		for _, label := range []string{"E abutment", "j000001"} {
			if err := inventory.AddJoint(ctx, tx, &inventory.Joint{BridgeID: b.ID, Label: label}, inventory.Seal{}); err != nil {
				return err
			}
		}
		return nil
	})
	for ref, want := range map[string]int64{"J000002": 2, "j000002": 2, " J000001 ": 1, "j000001": 1, "E abutment": 1} {
		if j, err := inventory.FindJoint(ctx, s.Read(), ref); err != nil || j.ID != want {
			t.Errorf("%q: got %+v, %v; want joint %d", ref, j, err, want)
		}
	}
}
