package inventory_test

import (
	"context"
	"errors"
	"testing"

	"reseal/inventory"
	"reseal/inventory/store"
)

func TestSetColumnTakesWhatColumnTextGives(t *testing.T) {
	ft, lanes := 46.5, 2
	j := inventory.Joint{Place: "pier", LengthFt: &ft, Lanes: &lanes, Sequence: 3, ExpansionAssumed: true}
	var got inventory.Joint
	for _, c := range inventory.JointColumns() {
		if err := inventory.SetColumn(&got, c, inventory.ColumnText(&j, c)); err != nil {
			t.Errorf("%s: %v", c, err)
		}
		if a, b := inventory.ColumnText(&got, c), inventory.ColumnText(&j, c); a != b {
			t.Errorf("%s: got %q, want %q", c, a, b)
		}
	}
}

func TestEditJoint(t *testing.T) {
	s := create(t)
	j := inventory.Joint{Label: "E abutment"}
	update(t, s, func(tx *store.Tx) error {
		b := inventory.Bridge{State: "53", StructureNumber: "A"}
		if err := inventory.AddBridge(ctx, tx, &b); err != nil {
			return err
		}
		j.BridgeID = b.ID
		return inventory.AddJoint(ctx, tx, &j, inventory.Seal{})
	})
	edit := func(e inventory.Edit) error {
		return s.Update(ctx, "ben", func(_ context.Context, tx *store.Tx) error { return inventory.EditJoint(ctx, tx, j.Tag, e) })
	}
	if err := edit(inventory.Edit{Values: map[string]string{"length_ft": "48.5"}, Seen: j.ChangedAt}); err != nil {
		t.Fatal(err)
	}
	now, err := inventory.FindJoint(ctx, s.Read(), j.Tag)
	if err != nil || now.LengthFt == nil || *now.LengthFt != 48.5 || now.Label != "E abutment" {
		t.Fatalf("got %+v, %v, want 48.5 ft and the label left alone", now, err)
	}
	if err := edit(inventory.Edit{Values: map[string]string{"length_ft": "50"}, Seen: j.ChangedAt}); !errors.Is(err, store.ErrConflict) {
		t.Errorf("got %v of a joint that was changed since, want a conflict", err)
	}
	if err := edit(inventory.Edit{Values: map[string]string{"tag": "J1"}}); !errors.Is(err, store.ErrInvalid) {
		t.Errorf("got %v of a tag, want it refused", err)
	}
}

func TestEditSeal(t *testing.T) {
	s := create(t)
	var j inventory.Joint
	update(t, s, func(tx *store.Tx) error {
		b := inventory.Bridge{State: "53", StructureNumber: "A"}
		if err := inventory.AddBridge(ctx, tx, &b); err != nil {
			return err
		}
		j.BridgeID = b.ID
		return inventory.AddJoint(ctx, tx, &j, inventory.Seal{Kind: "strip seal"})
	})
	for name, c := range map[string]struct {
		seal   int64
		values map[string]string
		want   error
	}{
		"sizes":           {1, map[string]string{"min_open_in": "0.5", "max_open_in": "3"}, nil},
		"no such seal":    {9, nil, store.ErrNotFound},
		"no such kind":    {1, map[string]string{"kind": "chewing gum"}, store.ErrInvalid},
		"limits reversed": {1, map[string]string{"min_open_in": "3", "max_open_in": "1"}, store.ErrInvalid},
	} {
		err := s.Update(ctx, "ben", func(_ context.Context, tx *store.Tx) error {
			return inventory.EditSeal(ctx, tx, j.ID, c.seal, inventory.Edit{Values: c.values})
		})
		if !errors.Is(err, c.want) {
			t.Errorf("%s: got %v, want %v", name, err, c.want)
		}
	}
}
