package condition_test

import (
	"context"
	"errors"
	"testing"

	"reseal/condition"
	"reseal/inventory"
	"reseal/inventory/store"
)

// put sends an entry as a device does.
func put(s *store.Store, e condition.Entry) (o condition.Outcome, id int64, err error) {
	err = s.Update(ctx, e.Inspector, func(ctx context.Context, tx *store.Tx) error {
		o, err = e.Log(ctx, tx, today)
		return err
	})
	return o, e.ID, err
}

func fieldEntry(j *inventory.Joint, uid, inspector string, cs1, cs2 float64) condition.Entry {
	e := condition.Entry{Joint: j.Tag, Stretches: []condition.StretchFeet{{Stretch: 1, Feet: condition.Feet{CS1Ft: cs1, CS2Ft: cs2}}}}
	e.UID, e.Inspector, e.InspectedOn = uid, inspector, inventory.Date{Year: 2026, Month: 5, Day: 1}
	return e
}

func TestAnEntryIsKeptOnce(t *testing.T) {
	s := create(t)
	j := addJoint(t, s, inventory.Joint{}, inventory.Bridge{})
	const uid = "6f1c1f1e-9d1c-4b7e-8f6e-2b6f5a0f0a01"
	_, first, err := put(s, fieldEntry(j, uid, "ana", 30, 10))
	if err != nil {
		t.Fatal(err)
	}
	o, again, err := put(s, fieldEntry(j, uid, "ana", 30, 10))
	if err != nil || !o.Again || again != first {
		t.Errorf("sent again: got %+v, inspection %d, %v; want inspection %d again", o, again, err, first)
	}
	kept, err := condition.Inspections(ctx, s.Read(), j.ID)
	if err != nil || len(kept) != 1 || kept[0].UID != uid {
		t.Errorf("got %d inspections, %v; want one with the device's uid", len(kept), err)
	}
	if _, _, err := put(s, fieldEntry(j, "12", "ana", 30, 10)); !errors.Is(err, store.ErrInvalid) {
		t.Errorf("a uid that is none: got %v, want a refusal", err)
	}
}

func TestTwoInspectorsAtOneJoint(t *testing.T) {
	s := create(t)
	j := addJoint(t, s, inventory.Joint{}, inventory.Bridge{})
	none := int64(0)
	mine, theirs := fieldEntry(j, "", "ana", 30, 10), fieldEntry(j, "", "ben", 20, 20)
	mine.SeenID, theirs.SeenID = &none, &none
	_, first, err := put(s, theirs)
	if err != nil {
		t.Fatal(err)
	}
	o, _, err := put(s, mine)
	if !errors.Is(err, store.ErrConflict) || len(o.Newer) != 1 || o.Newer[0].ID != first || o.Newer[0].StateFt() != [4]float64{20, 20} {
		t.Fatalf("got %+v, %v; want a conflict with inspection %d", o, err, first)
	}
	mine.SeenID, mine.Feet = &first, nil
	for _, tt := range []struct {
		name     string
		replaces int64
		want     int // that count
	}{{"beside the other", 0, 2}, {"in its place", first, 2}} {
		mine.UID, mine.ReplacesID, mine.Inspector = "", tt.replaces, "ana "+tt.name
		_, id, err := put(s, mine)
		if err != nil {
			t.Fatalf("%s: %v", tt.name, err)
		}
		mine.SeenID = &id
		kept, err := condition.Inspections(ctx, s.Read(), j.ID)
		if err != nil || len(kept) != tt.want {
			t.Errorf("%s: got %d inspections, %v; want %d", tt.name, len(kept), err, tt.want)
		}
	}
	mine.ReplacesID, mine.AcceptOdd = first, true
	if _, _, err := put(s, mine); !errors.Is(err, store.ErrConflict) {
		t.Errorf("a second correction of one inspection: got %v, want a conflict", err)
	}
}
