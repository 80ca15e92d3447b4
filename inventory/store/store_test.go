package store_test

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	_ "github.com/mattn/go-sqlite3"
	"github.com/paulmach/orb"

	"reseal/geo"
	"reseal/inventory"
	"reseal/inventory/store"
)

var ctx = context.Background()

func create(t testing.TB) *store.Store {
	t.Helper()
	s, err := store.Open(ctx, filepath.Join(t.TempDir(), "network.gpkg"), store.Options{Create: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// addJoint puts one bridge with one joint on record.
func addJoint(t testing.TB, s *store.Store) *inventory.Joint {
	t.Helper()
	length := 40.0
	j := &inventory.Joint{
		LengthFt: &length, GeometrySource: inventory.Drawn,
		Geom: geo.Geometry{Geometry: orb.LineString{{-122.25, 47.5}, {-122.25, 47.5001}}},
	}
	err := s.Update(ctx, "ana", func(ctx context.Context, tx *store.Tx) error {
		b := &inventory.Bridge{State: "53", StructureNumber: "0001", Geom: geo.Geometry{Geometry: orb.Point{-122.25, 47.5}}}
		if err := inventory.AddBridge(ctx, tx, b); err != nil {
			return err
		}
		j.BridgeID = b.ID
		return inventory.AddJoint(ctx, tx, j, inventory.Seal{})
	})
	if err != nil {
		t.Fatal(err)
	}
	return j
}

// gdal runs a GDAL program, which must have nothing to complain of. A user
// without GDAL skips; CI promises that it is there.
func gdal(t *testing.T, program string, args ...string) string {
	t.Helper()
	if _, err := exec.LookPath(program); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s is not installed", program)
		}
		t.Skipf("%s is not installed", program)
	}
	out, err := exec.Command(program, args...).CombinedOutput()
	if err != nil || strings.Contains(string(out), "Warning") || strings.Contains(string(out), "ERROR") {
		t.Fatalf("%s %s: %v\n%s", program, strings.Join(args, " "), err, out)
	}
	return string(out)
}

func TestEveryLayerOpensInGDAL(t *testing.T) {
	s := create(t)
	addJoint(t, s)
	s.Close()
	out := gdal(t, "ogrinfo", "-al", "-so", s.Path())
	for _, layer := range []string{"bridges", "joints", "joint_condition", "joint_forecast", "inspections", "history"} {
		if !strings.Contains(out, "Layer name: "+layer+"\n") {
			t.Errorf("GDAL does not show layer %s", layer)
		}
	}
	for _, layer := range []string{"bridges", "joints", "joint_condition"} {
		to := filepath.Join(t.TempDir(), layer+".geojson")
		gdal(t, "ogr2ogr", to, s.Path(), layer)
	}
}

func TestEditInGIS(t *testing.T) {
	s := create(t)
	j := addJoint(t, s)
	s.Close()
	gdal(t, "ogrinfo", s.Path(), "-sql",
		"UPDATE joints SET length_ft = 44, geom = AsGPB(ST_GeomFromText('LINESTRING(-100 40, -100 40.0001)', 4326)) WHERE id = 1")

	s, err := store.Open(ctx, s.Path(), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	got, err := inventory.FindJoint(ctx, s.Read(), j.Tag)
	if err != nil {
		t.Fatal(err)
	}
	if *got.LengthFt != 44 || got.GeometrySource != inventory.Edited || got.ChangedBy != store.OutsideEdit {
		t.Errorf("after the edit: length %v, source %q, by %q; want 44, %q, %q",
			*got.LengthFt, got.GeometrySource, got.ChangedBy, inventory.Edited, store.OutsideEdit)
	}
	stretches, err := inventory.Stretches(ctx, s.Read(), j.ID)
	if err != nil || len(stretches) != 1 || stretches[0].ToFt != 44 || stretches[0].ChangedBy != store.OutsideEdit {
		t.Errorf("its stretches: %+v, %v; want one to 44 ft, by %s", stretches, err, store.OutsideEdit)
	}
	at := orb.Point{-100, 40}
	found, err := inventory.Joints(ctx, s.Read(), inventory.Filter{Near: &at, WithinFt: 100})
	if err != nil || len(found) != 1 {
		t.Errorf("the index finds %d joints at the new place (%v), want 1", len(found), err)
	}
	changes, err := store.History(ctx, s.Read(), "joints", j.ID)
	if err != nil || len(changes) == 0 || changes[0].By != store.OutsideEdit {
		t.Errorf("history: %v, %v; want an outside edit", changes, err)
	}
	var check string
	if err := s.Read().NewRaw("SELECT rtreecheck('rtree_joints_geom')").Scan(ctx, &check); err != nil || check != "ok" {
		t.Errorf("index: %s, %v", check, err)
	}
}

func TestDrawnInGISGetsItsKeys(t *testing.T) {
	s := create(t)
	addJoint(t, s)
	s.Close()
	gdal(t, "ogrinfo", s.Path(), "-sql",
		"INSERT INTO joints (bridge_id, length_ft, geom) VALUES (1, 30, AsGPB(ST_GeomFromText('LINESTRING(-100 40, -100 40.0001)', 4326)))")
	s, err := store.Open(ctx, s.Path(), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	got, err := inventory.FindJoint(ctx, s.Read(), inventory.TagFor(2))
	if err != nil || got.UID == "" {
		t.Errorf("a joint drawn outside: %+v, %v; want tag and uid", got, err)
	}
	stretches, err := inventory.Stretches(ctx, s.Read(), got.ID)
	if err != nil || len(stretches) != 1 || stretches[0].LengthFt() != 30 || stretches[0].Current() == nil {
		t.Errorf("its stretches: %+v, %v; want one of 30 ft with a seal", stretches, err)
	}
}

func TestHistoryTellsWhoAndWhat(t *testing.T) {
	s := create(t)
	j := addJoint(t, s)
	for i, who := range []string{"ben", "cho"} {
		err := s.Update(ctx, who, func(ctx context.Context, tx *store.Tx) error {
			j.Label = who
			return inventory.SaveJoint(ctx, tx, j)
		})
		if err != nil {
			t.Fatalf("update %d: %v", i, err)
		}
	}
	changes, err := store.History(ctx, s.Read(), "joints", j.ID)
	if err != nil || len(changes) != 2 {
		t.Fatalf("got %d changes, %v; want 2", len(changes), err)
	}
	want := []store.FieldChange{{Column: "label", Before: nil, After: "ben"}, {Column: "label", Before: "ben", After: "cho"}}
	for i, c := range changes {
		if c.By != []string{"ben", "cho"}[i] || len(c.Fields) != 1 || c.Fields[0] != want[i] {
			t.Errorf("change %d: got %+v, want %+v", i, c, want[i])
		}
	}
}

func TestNothingIsDeletedAndTagsStay(t *testing.T) {
	s := create(t)
	addJoint(t, s)
	for _, q := range []string{"DELETE FROM joints", "UPDATE joints SET tag = 'J999999'", "INSERT INTO joints (tag, bridge_id) VALUES ('J000003', 1)"} {
		err := s.Update(ctx, "ana", func(ctx context.Context, tx *store.Tx) error {
			_, err := tx.ExecContext(ctx, q)
			return err
		})
		if !errors.Is(err, store.ErrInvalid) {
			t.Errorf("%s: got %v, want it refused", q, err)
		}
	}
}

func TestDryRunChangesNothing(t *testing.T) {
	s := create(t)
	err := s.Try(ctx, "ana", func(ctx context.Context, tx *store.Tx) error {
		return inventory.AddBridge(ctx, tx, &inventory.Bridge{State: "53", StructureNumber: "0001"})
	})
	if err != nil {
		t.Fatal(err)
	}
	if n, _ := s.Read().NewSelect().Model((*inventory.Bridge)(nil)).Count(ctx); n != 0 {
		t.Errorf("%d bridges after a dry run, want 0", n)
	}
}

// raw opens the file behind the store's back.
func raw(t *testing.T, path string, statements ...string) {
	t.Helper()
	db, err := sql.Open("sqlite3", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for _, q := range statements {
		if _, err := db.Exec(q); err != nil {
			t.Fatal(err)
		}
	}
}

func TestOpenRefuses(t *testing.T) {
	dir := t.TempDir()
	text := filepath.Join(dir, "letter.txt")
	if err := os.WriteFile(text, []byte(strings.Repeat("not a database ", 100)), 0o600); err != nil {
		t.Fatal(err)
	}
	other := filepath.Join(dir, "other.gpkg")
	raw(t, other, "CREATE TABLE a (b)")
	newer := create(t)
	newer.Close()
	raw(t, newer.Path(), "INSERT INTO bun_migrations (name, group_id) VALUES ('99990101000000', 9)")

	for _, tt := range []struct {
		name, path string
		kind       error
		want       string
	}{
		{"missing file", filepath.Join(dir, "none.gpkg"), store.ErrNotFound, "there is no inventory here"},
		{"folder", dir, store.ErrInvalid, "is a folder"},
		{"no database", text, store.ErrInvalid, "is not a database"},
		{"another database", other, store.ErrInvalid, "not a reseal inventory"},
		{"newer version", newer.Path(), store.ErrInvalid, "written by a newer reseal"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := store.Open(ctx, tt.path, store.Options{})
			if !errors.Is(err, tt.kind) || !strings.Contains(err.Error(), tt.want) || store.Hint(err) == "" {
				t.Errorf("got %v (hint %q), want %q", err, store.Hint(err), tt.want)
			}
		})
	}
}

func TestOlderFileIsBackedUpAndMigrated(t *testing.T) {
	s := create(t)
	addJoint(t, s)
	s.Close()
	next, err := store.NextVersion("99990101000000_next.tx.up.sql", "ALTER TABLE bridges ADD COLUMN colour TEXT")
	if err != nil {
		t.Fatal(err)
	}
	part := strings.TrimSuffix(s.Path(), ".gpkg") + ".before-99990101000000.gpkg.part"
	if err := os.WriteFile(part, []byte("a copy that was cut short"), 0o600); err != nil {
		t.Fatal(err)
	}
	s, err = store.Open(ctx, s.Path(), next)
	if err != nil {
		t.Fatal(err)
	}
	// The new column is traced like any other.
	err = s.Update(ctx, "ben", func(ctx context.Context, tx *store.Tx) error {
		_, err := tx.ExecContext(ctx, "UPDATE bridges SET colour = 'green', changed_at = '2099-01-01T00:00:00.000Z', changed_by = 'ben'")
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if changes, err := store.History(ctx, s.Read(), "bridges", 1); err != nil || len(changes) != 1 || changes[0].Fields[0].Column != "colour" {
		t.Errorf("history after the upgrade: %+v, %v; want the new column", changes, err)
	}
	s.Close()
	backups, _ := filepath.Glob(filepath.Join(filepath.Dir(s.Path()), "*.before-*"))
	if len(backups) != 1 || backups[0]+".part" != part {
		t.Fatalf("got backups %v, want one whole one", backups)
	}
	raw(t, backups[0], "SELECT count(*) FROM joints")
	if _, err := store.Open(ctx, s.Path(), store.Options{}); !errors.Is(err, store.ErrInvalid) {
		t.Errorf("this version opened the next one's file: %v", err)
	}
}

// TestUpgradeCutShortIsFinished leaves a file as a process does that was killed
// after the last step of the schema and before what follows from it.
func TestUpgradeCutShortIsFinished(t *testing.T) {
	s := create(t)
	addJoint(t, s)
	s.Close()
	raw(t, s.Path(), "DROP TRIGGER history_kept", "DROP TRIGGER seals_kept", "DROP TRIGGER seals_history")
	s, err := store.Open(ctx, s.Path(), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	err = s.Update(ctx, "ana", func(ctx context.Context, tx *store.Tx) error {
		_, err := tx.ExecContext(ctx, "DELETE FROM seals")
		return err
	})
	if !errors.Is(err, store.ErrInvalid) {
		t.Errorf("deleting a seal: got %v, want it refused", err)
	}
	if backups, _ := filepath.Glob(filepath.Join(filepath.Dir(s.Path()), "*.before-*")); len(backups) != 0 {
		t.Errorf("got backups %v of a file whose schema is as new as can be, want none", backups)
	}
}

func TestPathWithURICharacters(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a?b#c%20d.gpkg")
	s, err := store.Open(ctx, path, store.Options{Create: true})
	if err != nil {
		t.Fatal(err)
	}
	s.Close()
	if _, err := os.Stat(path); err != nil {
		t.Error(err)
	}
}

func TestSecondWriterWaitsThenIsTold(t *testing.T) {
	if testing.Short() {
		t.Skip("waits for the busy time-out")
	}
	s := create(t)
	db, err := sql.Open("sqlite3", s.Path())
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec("BEGIN IMMEDIATE"); err != nil {
		t.Fatal(err)
	}
	err = s.Update(ctx, "ana", func(context.Context, *store.Tx) error { return nil })
	if !errors.Is(err, store.ErrUnavailable) || !strings.Contains(err.Error(), "another program is writing") {
		t.Errorf("got %v, want that another program is writing", err)
	}
}

func TestInterruptLeavesNothing(t *testing.T) {
	s := create(t)
	stopping, stop := context.WithCancel(ctx)
	began := time.Now()
	err := s.Update(stopping, "ana", func(ctx context.Context, tx *store.Tx) error {
		stop()
		return inventory.AddBridge(ctx, tx, &inventory.Bridge{State: "53", StructureNumber: "0001"})
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("got %v after %s, want it cancelled", err, time.Since(began))
	}
	if n, _ := s.Read().NewSelect().Model((*inventory.Bridge)(nil)).Count(ctx); n != 0 {
		t.Errorf("%d bridges after an interrupt, want 0", n)
	}
}
