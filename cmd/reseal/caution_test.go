package main

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"reseal/forecast/sample"
	"reseal/inventory"
	"reseal/inventory/store"
)

// inventNetwork makes an inventory of the invented network with so many bridges.
func inventNetwork(t *testing.T, path string, bridges int) {
	t.Helper()
	s, err := store.Open(t.Context(), path, store.Options{Create: true})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	opt := sample.Options{Seed: 1, Bridges: bridges, Today: inventory.Date{Year: 2026, Month: 11, Day: 25}}
	if _, err := sample.Fill(t.Context(), s, "test", opt); err != nil {
		t.Fatal(err)
	}
}

// What sends people onto a deck carries its caution, on the screen and in the file.
func TestCautionGoesAlong(t *testing.T) {
	db := filepath.Join(t.TempDir(), "demo.gpkg")
	must := func(args ...string) string {
		t.Helper()
		code, out, messages := reseal(t, db, args...)
		if code != exitDone {
			t.Fatalf("reseal %v: exit %d: %s", args, code, messages)
		}
		return out + messages
	}
	inventNetwork(t, db, 40)
	for _, args := range [][]string{{"due"}, {"due", "--trips"}, {"due", "--format", "csv"}, {"export", "csv", "due"}} {
		if said := must(args...); strings.Count(said, "CAUTION before anyone goes out: an inspection on a live deck") != 1 {
			t.Errorf("%v: no caution in\n%s", args, said)
		}
	}
	for _, test := range []struct {
		what  string
		wants []string
	}{
		{"worklist", []string{"CAUTION before anyone goes out: this list is a projection", "INVENTED", "ILLUSTRATIVE"}},
		{"due", []string{"CAUTION before anyone goes out: an inspection", "INVENTED"}},
		{"forecast", []string{"INVENTED", "ILLUSTRATIVE"}},
	} {
		file := filepath.Join(t.TempDir(), test.what+".xlsx")
		if test.what == "forecast" {
			must("forecast")
		}
		must("export", "xlsx", test.what, "--output", file)
		f, err := excelize.OpenFile(file)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		first, err := f.GetRows("Read first")
		if err != nil || f.GetSheetName(0) != "Read first" {
			t.Fatalf("%s: sheets %q, %v", test.what, f.GetSheetList(), err)
		}
		for i, want := range test.wants {
			if i >= len(first) || !strings.HasPrefix(first[i][0], want) {
				t.Errorf("%s: got %q, want %q in line %d", test.what, first, want, i+1)
			}
		}
		if rows, err := f.GetRows(test.what); err != nil || len(rows) < 2 {
			t.Errorf("%s: %d rows, %v", test.what, len(rows), err)
		}
	}
}
