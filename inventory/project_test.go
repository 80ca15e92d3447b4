package inventory_test

import (
	"context"
	"errors"
	"strings"
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

// A project that is withdrawn stays on record, says why, and stands again when it
// is added or imported anew.
func TestProjectsWithdrawn(t *testing.T) {
	s, change := bridgeA(t)
	of2029 := inventory.Edit{Values: map[string]string{"kind": "overlay", "year": "2029", "certainty": "committed"}}
	add := func() error {
		return change(func(ctx context.Context, tx *store.Tx) error { return inventory.AddProject(ctx, tx, "53/A", of2029) })
	}
	only := func() *inventory.Project {
		t.Helper()
		b, err := inventory.FindBridge(ctx, s.Read(), "53/A")
		if err != nil {
			t.Fatal(err)
		}
		all, err := inventory.ProjectsOn(ctx, s.Read(), b.ID)
		if err != nil || len(all) != 1 {
			t.Fatalf("got %+v, %v, want one project", all, err)
		}
		return &all[0]
	}
	withdraw := func(why string, seen store.Instant) error {
		return change(func(ctx context.Context, tx *store.Tx) error {
			return inventory.WithdrawProject(ctx, tx, "53/A", 1, inventory.Date{Year: 2026, Month: 10, Day: 1}, why, seen)
		})
	}
	if err := add(); err != nil {
		t.Fatal(err)
	}
	p := only()
	if err := withdraw("  ", p.ChangedAt); !errors.Is(err, store.ErrInvalid) {
		t.Errorf("without a reason: got %v, want it refused", err)
	}
	if err := withdraw("no money", "2020-01-01T00:00:00.000Z"); !errors.Is(err, store.ErrConflict) {
		t.Errorf("of a project that was changed since: got %v, want a conflict", err)
	}
	if err := withdraw("the money went to another bridge", p.ChangedAt); err != nil {
		t.Fatal(err)
	}
	if p := only(); !p.Withdrawn() || p.WithdrawnWhy != "the money went to another bridge" || p.ChangedBy != "ben" {
		t.Errorf("got %+v, want it withdrawn by ben", p)
	}
	if err := withdraw("twice", ""); !errors.Is(err, store.ErrInvalid) {
		t.Errorf("twice: got %v, want it refused", err)
	}
	err := change(func(ctx context.Context, tx *store.Tx) error {
		return inventory.EditProject(ctx, tx, "53/A", 1, inventory.Edit{Values: map[string]string{"year": "2030"}})
	})
	if !errors.Is(err, store.ErrInvalid) {
		t.Errorf("a change of it: got %v, want it refused", err)
	}
	if err := add(); err != nil || only().Withdrawn() {
		t.Errorf("added anew: got %v, withdrawn %v", err, only().Withdrawn())
	}
	if err := withdraw("again", ""); err != nil {
		t.Fatal(err)
	}
	for _, accept := range []bool{false, true} {
		var in inventory.Intake
		err := change(func(ctx context.Context, tx *store.Tx) (err error) {
			in, err = inventory.ImportProjects(ctx, tx, strings.NewReader("state,bridge,kind,year\n53,A,overlay,2029\n"), "p.csv", inventory.IntakeOptions{Today: inventory.Date{Year: 2026, Month: 11, Day: 1}, AcceptOdd: accept})
			return err
		})
		if (err == nil) != accept || only().Withdrawn() == accept {
			t.Errorf("imported, odd accepted %v: got %+v, %v, withdrawn %v", accept, in, err, only().Withdrawn())
		}
	}
	if changes, err := store.History(ctx, s.Read(), "projects", 1); err != nil || len(changes) != 4 {
		t.Errorf("got history %+v, %v, want four changes", changes, err)
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
