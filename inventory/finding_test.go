package inventory_test

import (
	"context"
	"errors"
	"testing"

	"reseal/inventory"
	"reseal/inventory/store"
)

func TestAFindingIsKeptOnce(t *testing.T) {
	s := network(t)
	today := inventory.Date{Year: 2026, Month: 11, Day: 25}
	joint, err := inventory.FindJoint(ctx, s.Read(), "J000002")
	if err != nil {
		t.Fatal(err)
	}
	log := func(change func(*inventory.FindingEntry)) (again bool, err error) {
		e := inventory.FindingEntry{Joint: "J000002", JointUID: joint.UID}
		e.UID, e.Kind, e.FromFt, e.ToFt, e.Photos = "6f1c1f1e-9d1c-4b7e-8f6e-2b6f5a0f0a02", "leak", ptr(4.0), ptr(9.0), "a.jpg"
		change(&e)
		err = s.Update(ctx, "ana", func(ctx context.Context, tx *store.Tx) error {
			again, err = e.Log(ctx, tx, today)
			return err
		})
		return again, err
	}
	for i, want := range []bool{false, true} {
		if again, err := log(func(*inventory.FindingEntry) {}); err != nil || again != want {
			t.Errorf("sent %d times: got again %v, %v; want %v", i+1, again, err, want)
		}
	}
	found, err := inventory.Findings(ctx, s.Read(), inventory.FindingFilter{District: "S"})
	if err != nil || len(found) != 1 || found[0].FoundOn != today || found[0].Photos != "a.jpg" || found[0].Route != "US 2" {
		t.Errorf("got %+v, %v; want one, of today, with its photo and where it is", found, err)
	}
	if found, err := inventory.Findings(ctx, s.Read(), inventory.FindingFilter{District: "N"}); err != nil || len(found) != 0 {
		t.Errorf("another district: got %d findings, %v; want none", len(found), err)
	}
	for name, change := range map[string]func(*inventory.FindingEntry){
		"of another inventory": func(e *inventory.FindingEntry) { e.JointUID = "other" },
		"tomorrow":             func(e *inventory.FindingEntry) { e.FoundOn = today.AddDays(1) },
		"beyond the end":       func(e *inventory.FindingEntry) { e.ToFt = ptr(400.0) },
		"no such kind":         func(e *inventory.FindingEntry) { e.Kind = "noise" },
	} {
		if _, err := log(func(e *inventory.FindingEntry) { e.UID = ""; change(e) }); !errors.Is(err, store.ErrInvalid) {
			t.Errorf("%s: got %v, want a refusal", name, err)
		}
	}
}
