package main

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"reseal/forecast/forecasttest"
)

// ontario is the yearly condition index of half of Ontario's bridges in three
// classes (Ontario Ministry of Transportation, see testdata/open): whole
// bridges, repaired and noisy, not joints.
const ontario = "--panel ../../testdata/open/ontario-bridge-index-a.csv.gz --subject bridge --time year "

// ontarioNote stands on the page, as in make.sh.
const ontarioNote = "A yearly condition index of whole bridges, repaired between inspections and noisy; not of joints. Ontario Ministry of Transportation; contains information licensed under the Open Government Licence – Ontario."

var ontarioModels = []struct{ name, moves, start string }{
	{"both ways", "--moves 1-2,2-1,2-3,3-2", "--start .05,.2,.1,.3"},
	{"both ways and rating error", "--moves 1-2,2-1,2-3,3-2 --rating-error --first-true", "--start .05,.2,.1,.3"},
	{"one way and rating error", "--moves 1-2,2-3 --rating-errors 1-2,1-3,2-1,2-3,3-1,3-2 --first-true", "--start .05,.1"},
}

// R's msm on the same panel: msm.R beside the file made it.
func TestOntarioAgainstMsm(t *testing.T) {
	kept, err := os.ReadFile("../../testdata/ontario/msm.csv")
	if err != nil {
		t.Fatal(err)
	}
	againstMsm(t, string(kept))
	t.Run("run again", func(t *testing.T) {
		if os.Getenv("CI") != "true" && os.Getenv("RESEAL_LONG") != "1" {
			t.Skip("runs R for some seconds; set RESEAL_LONG=1")
		}
		againstMsm(t, string(rscript(t, "ontario", "msm.R")))
	})
}

func againstMsm(t *testing.T, text string) {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil || len(rows) != 1+len(ontarioModels) {
		t.Fatalf("got %d rows, %v", len(rows), err)
	}
	for i, m := range ontarioModels {
		number := func(text string) float64 {
			v, err := strconv.ParseFloat(text, 64)
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		got := fitJSON(t, strings.Fields(ontario+m.moves+" "+m.start+" --at-start")...)
		near(t, m.name+" at the start", got.MinusTwoLogL, number(rows[1+i][1]), 1e-9)
		if rows[1+i][2] == "" {
			continue // msm took too long
		}
		got = fitJSON(t, strings.Fields(ontario+m.moves)...)
		if want := number(rows[1+i][2]); got.MinusTwoLogL > want+1e-5 || !got.Converged {
			t.Errorf("%s: −2 log L %.6f, converged %v, msm's %.6f", m.name, got.MinusTwoLogL, got.Converged, want)
		}
	}
}

// The page and the answers kept under testdata/ontario, made by make.sh there.
func TestBacktestOfOntario(t *testing.T) {
	page := filepath.Join(t.TempDir(), "backtest.html")
	args := "backtest " + ontario + ontarioModels[1].moves + " --born year_built --until 2008"
	code, out, messages := reseal(t, "none.gpkg", append(strings.Fields(args), "--html", page, "--note", ontarioNote)...)
	if code != exitDone {
		t.Fatalf("exit %d: %s", code, messages)
	}
	golden(t, "ontario", fmt.Sprintf("$ reseal %s\n%s", args, out))
	got, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	want, err := os.ReadFile("../../testdata/ontario/backtest.html")
	if err != nil {
		t.Fatal(err)
	}
	if string(got) != string(want) {
		t.Error("the page is not the one kept under testdata/ontario; make it again with make.sh there")
	}
	for _, outside := range []string{"http:", "https:", "<script", "<link", "@import", "src="} {
		if strings.Contains(string(got), outside) {
			t.Errorf("the page asks for something else: %s", outside)
		}
	}
}

// The truth is the model itself here, on an invented network: it must be
// calibrated and better than its rivals.
func TestBacktestOfNetwork(t *testing.T) {
	db := historyDB(t, forecasttest.Usual(30))
	code, out, messages := reseal(t, db, "backtest", "--until", "2018", "--with", "seal,deicing")
	golden(t, "backtest-network", fmt.Sprintf("$ reseal backtest --until 2018 --with seal,deicing\n%s-- stderr, exit %d\n%s", out, code, messages))
	if !strings.Contains(out, `the model is better than "replace at fixed age" (log score`) {
		t.Errorf("the model does not beat a fixed age: %s", out)
	}
	if code, _, messages := reseal(t, db, "fit", "--list", "--format", "csv"); code != exitDone || strings.Contains(messages, "kept") {
		t.Errorf("a backtest kept a fit: %s", messages)
	}
}

func TestBacktestRefuses(t *testing.T) {
	db := historyDB(t, forecasttest.Usual(2))
	for _, test := range []struct {
		name, args, says string
		code             int
	}{
		{"not a year", "backtest --until soon", "--until is a year", exitUsage},
		{"nothing later", "backtest --until 2030", "no seal that was sound", exitFailed},
		{"nothing before", "backtest --until 2000", "too few inspections to fit", exitFailed},
		{"panel without a time", "backtest " + ontario, "--until is a time in the file", exitUsage},
		{"panel out of its years", "backtest " + ontario + " --until 1990", "the rows run from 2000 to 2013", exitFailed},
	} {
		t.Run(test.name, func(t *testing.T) {
			code, out, messages := reseal(t, db, strings.Fields(test.args)...)
			if code != test.code || !strings.Contains(messages, test.says) || out != "" {
				t.Errorf("got %d %q %q, want %d and %q", code, out, messages, test.code, test.says)
			}
		})
	}
}
