package main

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"reseal/forecast/sample"
	"reseal/inventory"
	"reseal/inventory/store"
)

// TestDemo runs the whole job on the invented network, as README's first
// command does.
func TestDemo(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "demo")
	code, out, messages := reseal(t, "unused.gpkg", "demo", "--dir", dir)
	if code != exitDone {
		t.Fatalf("exit %d: %s", code, messages)
	}
	if strings.Count(out, "INVENTED") < 2 {
		t.Errorf("the answer does not say at both ends that it is invented:\n%s", out)
	}
	readme, err := os.ReadFile(filepath.Join(dir, "README.txt"))
	if err != nil {
		t.Fatal(err)
	}
	files, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		info, err := f.Info()
		if err != nil || info.Size() == 0 {
			t.Errorf("%s is empty (%v)", f.Name(), err)
		}
		if f.Name() != "README.txt" && !strings.Contains(string(readme), f.Name()) {
			t.Errorf("README.txt does not tell what %s is", f.Name())
		}
	}
	db := filepath.Join(dir, "inventory.gpkg")
	if _, _, messages := reseal(t, db, "joint", "list", "--limit", "1"); !strings.Contains(messages, "INVENTED") {
		t.Errorf("a later command does not say that the data are invented: %q", messages)
	}
	if code, _, _ := reseal(t, db, "demo", "--dir", dir); code != exitFailed {
		t.Error("a second demo overwrote the first")
	}
	gdal(t, "ogrinfo", "-ro", "-al", "-so", db)
	gdal(t, "ogrinfo", "-ro", "-al", "-so", filepath.Join(dir, "joints.geojson"))
}

// TestDemoRepeats: the same seed makes the same answers, byte for byte.
func TestDemoRepeats(t *testing.T) {
	answers := func(seed uint64) map[string]string {
		db := filepath.Join(t.TempDir(), "inventory.gpkg")
		s, err := store.Open(t.Context(), db, store.Options{Create: true})
		if err != nil {
			t.Fatal(err)
		}
		err = s.Update(t.Context(), "demo", func(ctx context.Context, tx *store.Tx) error {
			_, err := sample.Make(ctx, tx, sample.Options{Seed: seed, Today: inventory.Date{Year: 2026, Month: 11, Day: 25}})
			return err
		})
		if err := errors.Join(err, s.Close()); err != nil {
			t.Fatal(err)
		}
		out := map[string]string{}
		for _, args := range []string{
			"export csv bridges", "export csv joints", "export csv findings --closed", "export geojson joints",
			"due --format csv", "check --cases --format csv", "budget --per district --format csv",
		} {
			code, answer, messages := reseal(t, db, strings.Fields(args)...)
			if code != exitDone {
				t.Fatalf("%s: exit %d: %s", args, code, messages)
			}
			out[args] = answer
		}
		return out
	}
	first, again, other := answers(3), answers(3), answers(4)
	for args, want := range first {
		if again[args] != want {
			t.Errorf("%s: two answers on networks of one seed", args)
		}
		if other[args] == want {
			t.Errorf("%s: one answer on networks of two seeds", args)
		}
	}
}
