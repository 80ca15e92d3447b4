package inventory_test

import (
	"context"
	"errors"
	"testing"

	"github.com/paulmach/orb"

	"reseal/inventory"
	"reseal/inventory/store"
)

// bridgeA puts bridge 53/A on record, without a place.
func bridgeA(t *testing.T) (*store.Store, func(func(context.Context, *store.Tx) error) error) {
	t.Helper()
	s := create(t)
	update(t, s, func(tx *store.Tx) error {
		return inventory.AddBridge(ctx, tx, &inventory.Bridge{State: "53", StructureNumber: "A", PositionProblem: "the file gives no position"})
	})
	return s, func(change func(context.Context, *store.Tx) error) error { return s.Update(ctx, "ben", change) }
}

func TestProjectsByHand(t *testing.T) {
	s, change := bridgeA(t)
	add := func(v map[string]string) error {
		return change(func(ctx context.Context, tx *store.Tx) error {
			return inventory.AddProject(ctx, tx, "53/A", inventory.Edit{Values: v})
		})
	}
	if err := add(map[string]string{"kind": "overlay", "year": "2029"}); err != nil {
		t.Fatal(err)
	}
	if err := add(map[string]string{"kind": "overlay", "year": "2031"}); err != nil {
		t.Fatal(err)
	}
	for name, v := range map[string]map[string]string{
		"twice": {"kind": "overlay", "year": "2029"}, "no year": {"kind": "overlay"}, "no kind": {"year": "2029"},
		"kind": {"kind": "paint", "year": "2029"}, "certainty": {"kind": "other", "year": "2029", "certainty": "sure"},
	} {
		if err := add(v); !errors.Is(err, store.ErrInvalid) {
			t.Errorf("%s: got %v, want it refused", name, err)
		}
	}
	b, err := inventory.FindBridge(ctx, s.Read(), "53/A")
	if err != nil {
		t.Fatal(err)
	}
	all, err := inventory.ProjectsOn(ctx, s.Read(), b.ID)
	if err != nil || len(all) != 2 || all[0].Year != 2029 || all[0].Certainty != "likely" || all[0].CreatedBy != "ben" || all[0].UID == "" {
		t.Fatalf("got %+v, %v, want the two that were added", all, err)
	}
	edit := func(id int64, v map[string]string, seen store.Instant) error {
		return change(func(ctx context.Context, tx *store.Tx) error {
			return inventory.EditProject(ctx, tx, "53/A", id, inventory.Edit{Values: v, Seen: seen})
		})
	}
	if err := edit(all[0].ID, map[string]string{"certainty": "committed"}, all[0].ChangedAt); err != nil {
		t.Fatal(err)
	}
	if err := edit(all[0].ID, map[string]string{"certainty": "possible"}, all[0].ChangedAt); !errors.Is(err, store.ErrConflict) {
		t.Errorf("got %v of a project that was changed since, want a conflict", err)
	}
	if err := edit(all[1].ID, map[string]string{"year": "2029"}, ""); !errors.Is(err, store.ErrInvalid) {
		t.Errorf("got %v of a year that has its overlay, want it refused", err)
	}
	if err := edit(99, map[string]string{"year": "2030"}, ""); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("got %v of a project that is not there", err)
	}
	changes, err := store.History(ctx, s.Read(), "projects", all[0].ID)
	if err != nil || len(changes) != 1 || changes[0].By != "ben" {
		t.Errorf("got history %+v, %v, want ben's change", changes, err)
	}
}

// A place given by hand takes the place of the one on record.
func TestPlaceOfABridgeByHand(t *testing.T) {
	s, change := bridgeA(t)
	put := func(v map[string]string) error {
		return change(func(ctx context.Context, tx *store.Tx) error {
			return inventory.EditBridge(ctx, tx, "53/A", inventory.Edit{Values: v})
		})
	}
	for name, v := range map[string]map[string]string{
		"half a place": {"latitude": "47.6"}, "no latitude": {"latitude": "91", "longitude": "0"},
		"no longitude": {"latitude": "1", "longitude": "181"}, "words": {"latitude": "north", "longitude": "1"}, "nothing": {"latitude": "NaN", "longitude": "1"},
	} {
		if err := put(v); !errors.Is(err, store.ErrInvalid) {
			t.Errorf("%s: got %v, want it refused", name, err)
		}
	}
	if err := put(map[string]string{"latitude": "47.6", "longitude": " -122.3", "name": "Long Meadow"}); err != nil {
		t.Fatal(err)
	}
	if err := put(map[string]string{"longitude": "-122.4"}); err != nil {
		t.Fatal(err)
	}
	b, err := inventory.FindBridge(ctx, s.Read(), "53/A")
	if err != nil || b.Name != "Long Meadow" || b.PositionProblem != "" || b.Geom.Geometry != orb.Geometry(orb.Point{-122.4, 47.6}) {
		t.Errorf("got %+v, %v, want it at 47.6, -122.4", b, err)
	}
}
