package main

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"reseal/forecast/forecasttest"
	"reseal/inventory/store"
)

// historyDB is an invented network with inspections from 2012 to 2024.
func historyDB(t testing.TB, h forecasttest.History) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "network.gpkg")
	s, err := store.Open(context.Background(), path, store.Options{Create: true, Now: fixedNow})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := h.FillHistory(context.Background(), s, 5); err != nil {
		t.Fatal(err)
	}
	return path
}

// A season's work with fits, on an invented network; the golden answers are
// in the order of the commands.
func TestFitNetwork(t *testing.T) {
	h := forecasttest.Usual(12)
	h.Unrecorded = 0.03
	db := historyDB(t, h)
	for i, args := range []string{
		"fit --list",
		"fit --with seal",
		"fit --with seal,deicing --until 2024-12-31",
		"fit --compare 1 2",
		"forecast J000007 --to 2032",
		"fit --use 2",
		"forecast J000007 --to 2032",
		"fit --list",
		"forecast",
		"fit --use prior",
		"fit --with seal,deicing,traffic,trucks,freeze,skew,header,era --dry-run",
		"fit --list",
		"fit --with seal --rating-error",
		"fit --compare 1 3",
		"fit --use 3",
		"forecast J000007 --to 2032",
		"forecast --condition --to 2030",
		"plan --yearly 60000 --years 3 --name draft",
		"forecast J000039 --to 2032 --plan draft",
		"forecast --condition --to 2030 --plan draft --district 1",
		"forecast --condition --to 2027 --format json",
		"worklist --year 2027 --budget 60000",
	} {
		if command := strings.Fields(args)[0]; command == "plan" || command == "worklist" {
			// their own tests read what they print; here they rest on a fit
			if code, _, messages := reseal(t, db, strings.Fields(args)...); code != exitDone {
				t.Errorf("%s: %d %s", args, code, messages)
			}
			continue
		}
		code, out, messages := reseal(t, db, strings.Fields(args)...)
		golden(t, fmt.Sprintf("network-%02d", i+1), fmt.Sprintf("$ reseal %s\n%s-- stderr, exit %d\n%s", args, out, code, messages))
	}
}

// The same fit gives the same forecast, whoever makes it and however often.
func TestForecastOfAFitIsRepeatable(t *testing.T) {
	db := historyDB(t, forecasttest.Usual(6))
	reseal(t, db, "fit")
	reseal(t, db, "fit", "--use", "1")
	_, want, messages := reseal(t, db, "forecast", "--joints", "--format", "csv", "--dry-run")
	if !strings.Contains(want, "fit 1 to") {
		t.Fatalf("the forecast does not rest on the fit: %s %s", want, messages)
	}
	if _, got, _ := reseal(t, db, "forecast", "--joints", "--format", "csv", "--dry-run"); got != want {
		t.Error("a second forecast differs from the first")
	}
}

func TestFitNetworkRefuses(t *testing.T) {
	db := historyDB(t, forecasttest.Usual(1))
	for _, test := range []struct {
		name, args, says string
		code             int
	}{
		{"no such factor", "fit --with colour", `there is no factor "colour"`, exitFailed},
		{"no such fit", "fit --use 7", "there is no such fit", exitFailed},
		{"not a number", "fit --use last", "or prior for the life table", exitUsage},
		{"one to compare", "fit --compare 1", "numbers of two fits", exitUsage},
		{"before there was anything", "fit --until 2001-01-01", "too few inspections to fit: 0 usable intervals", exitFailed},
		{"a flag of files", "fit --exact-final", "--exact-final goes with --panel", exitUsage},
		{"a flag of fits", "fit --list --rating-error", "--rating-error is for a fit", exitUsage},
		{"a flag of the network", "fit --list --with seal", "--with is for a fit to the inspections on record", exitUsage},
		{"two things", "fit --list --use 1", "give one of", exitUsage},
	} {
		t.Run(test.name, func(t *testing.T) {
			code, out, messages := reseal(t, db, strings.Fields(test.args)...)
			if code != test.code || !strings.Contains(messages, test.says) || out != "" {
				t.Errorf("got %d %q %q, want %d and %q", code, out, messages, test.code, test.says)
			}
		})
	}
}

// Oregon's element data of 2015 is one year of submissions (FHWA, see
// testdata/open): nothing can be said of speed, and nothing may be kept.
func TestFitRefusesOneYearOfElements(t *testing.T) {
	db := filepath.Join(t.TempDir(), "oregon.gpkg")
	for _, args := range []string{"init", "import elements --year 2015 ../../testdata/open/2015OR_ElementData.xml.gz"} {
		if code, _, messages := reseal(t, db, strings.Fields(args)...); code != exitDone {
			t.Fatalf("%s: %d %s", args, code, messages)
		}
	}
	code, out, messages := reseal(t, db, "fit")
	golden(t, "oregon", fmt.Sprintf("$ reseal fit\n%s-- stderr, exit %d\n%s", out, code, messages))
	if _, out, _ := reseal(t, db, "fit", "--list", "--format", "csv"); strings.Count(out, "\n") != 1 {
		t.Errorf("a fit was kept: %s", out)
	}
}

// Ranking, plan and budget rest on a fit as well as on the life table.
func TestFitServesEveryFigure(t *testing.T) {
	db := historyDB(t, forecasttest.Usual(6))
	do := must(t, db)
	do("fit")
	do("fit", "--use", "1")
	for _, args := range []string{
		"worklist --year 2027 --budget 60000", "plan --yearly 30000 --years 5", "budget --years 4 --yearly 30000",
		"budget --levels 50,100 --yearly 30000 --years 3", "report --years 3 --levels 50 --output -", "cost J000007",
	} {
		if out := do(strings.Fields(args)...); len(out) < 100 {
			t.Errorf("reseal %s answers %q", args, out)
		}
	}
	if out := do("budget", "--years", "3"); !strings.Contains(out, "what the fit leaves unknown of the rates") {
		t.Errorf("the bands do not name the fit:\n%s", out)
	}
}
