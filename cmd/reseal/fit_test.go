package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"reseal/forecast/panel"
)

// golden compares an answer with the file of that name under testdata/fit;
// UPDATE_GOLDEN=1 writes it anew, to be read as a statistician would.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", "fit", name+".txt")
	if os.Getenv("UPDATE_GOLDEN") != "" {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("want (-), got (+):\n%s", diff)
	}
	for _, line := range strings.Split(got, "\n") {
		if n := utf8.RuneCountInString(line); n > tableWidth && !strings.HasPrefix(line, "$ reseal") && !strings.Contains(got, "-- stderr") {
			t.Errorf("a line of %d columns: %s", n, line)
		}
	}
}

const (
	panelFile = "../../testdata/markov/panel.csv"
	nistFile  = "../../testdata/life/nist.csv"
	allMoves  = "1-2,1-4,2-1,2-3,2-4,3-2,3-4"
)

// The panel is invented (see testdata/markov/golden.R), the lives are those of
// the NIST/SEMATECH e-Handbook, 8.4.1.3.
func TestFitFiles(t *testing.T) {
	for _, test := range []struct{ name, args string }{
		{"panel", "fit --panel " + panelFile + " --moves " + allMoves},
		{"panel-covariate", "fit --panel " + panelFile + " --moves " + allMoves + " --covariates x --constrain x"},
		{"panel-one-way", "fit --panel " + panelFile + " --moves 1-2,2-3,3-4"},
		{"panel-start", "fit --panel " + panelFile + " --moves " + allMoves + " --start .2,.05,.1,.2,.05,.1,.2 --at-start"},
		{"panel-gamma", "fit --panel " + panelFile + " --moves 1-2,2-3,3-4 --gamma"},
		{"panel-rating", "fit --panel " + panelFile + " --moves 1-2,1-4,2-3,2-4,3-4 --exact-final --rating-error"},
		{"life", "fit --life " + nistFile},
	} {
		t.Run(test.name, func(t *testing.T) {
			code, out, messages := reseal(t, "none.gpkg", strings.Fields(test.args)...)
			golden(t, test.name, fmt.Sprintf("$ reseal %s\n%s-- stderr, exit %d\n%s", test.args, out, code, messages))
		})
	}
}

func TestFitFilesRefuse(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	for _, test := range []struct {
		name, args, says string
		code             int
	}{
		{"moves", "fit --moves 1-1 --panel " + panelFile, "it leads nowhere", exitUsage},
		{"no such covariate", "fit --panel " + panelFile + " --covariates age", "age", exitFailed},
		{"constraint", "fit --panel " + panelFile + " --constrain 1-2=4-1", `"4-1" is neither`, exitFailed},
		{"too many rates", "fit --panel " + panelFile + " --start 1,2,3,4,5", "5 rates given, the model has 3", exitFailed},
		{"state beyond the moves", "fit --panel " + panelFile + " --moves 1-2,2-3", "is in state 4, and the moves 1-2,2-3 join states 1 to 3\n  what to do: give moves that lead to every state of the file, such as 1-2,2-3,3-4", exitFailed},
		{"at start of nothing", "fit --at-start --panel " + panelFile, "--at-start needs --start", exitUsage},
		{"first true of nothing", "fit --first-true --panel " + panelFile, "goes with --rating-error", exitUsage},
		{"a time twice", "fit --panel " + write("twice.csv", "subject,time,state\na,1,1\na,1,2\n"), "line 3", exitFailed},
		{"not a state", "fit --panel " + write("state.csv", "subject,time,state\na,1,1\na,2,worse\n"), `line 3, column state: "worse"`, exitFailed},
		{"seen once", "fit --panel " + write("once.csv", "subject,time,state\na,1,1\nb,2,2\n"), "subjects seen twice", exitFailed},
		{"no such subject", "fit --subject brige --panel " + write("bridge.csv", "bridge,time,state\na,1,1\na,2,2\n"), "column brige: is not in the file (it has: bridge, time, state)", exitFailed},
		{"no such birth", "backtest --until 2 --born born --panel " + write("born.csv", "subject,time,state\na,1,1\na,2,2\na,3,2\n"), "column born: is not in the file", exitFailed},
		{"both", "fit --panel x --life y", "give one of", exitUsage},
		{"no life", "fit --life " + write("empty.csv", ""), "empty.csv: the file is empty", exitFailed},
		{"not lives", "fit --life " + write("ages.csv", "PTNUM,age\n1,2\n"), "line 1: the columns left and right are missing: it has PTNUM, age", exitFailed},
		{"backward life", "fit --life " + write("back.csv", "left,right\n5,4\n"), "back.csv: invalid life records: line 2: life between 5 and 4", exitFailed},
		{"two failures", "fit --life " + write("two.csv", "left,right\n1,1\n2,2\n3,\n"), "three failures", exitFailed},
	} {
		t.Run(test.name, func(t *testing.T) {
			code, out, messages := reseal(t, "none.gpkg", strings.Fields(test.args)...)
			if code != test.code || !strings.Contains(messages, test.says) || out != "" {
				t.Errorf("got %d %q %q, want %d and %q", code, out, messages, test.code, test.says)
			}
		})
	}
}

// Rows in another order, and columns of other names, are the same panel.
func TestFitPanelWhateverTheOrder(t *testing.T) {
	text, err := os.ReadFile(panelFile)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(text)), "\n")
	turned := []string{strings.Replace(lines[0], "subject", "bridge", 1)}
	for i := len(lines) - 1; i > 0; i-- {
		turned = append(turned, lines[i])
	}
	path := filepath.Join(t.TempDir(), "turned.csv")
	if err := os.WriteFile(path, []byte(strings.Join(turned, "\n")), 0o600); err != nil {
		t.Fatal(err)
	}
	_, want, _ := reseal(t, "none.gpkg", "fit", "--panel", panelFile, "--moves", allMoves, "--format", "json")
	_, got, _ := reseal(t, "none.gpkg", "fit", "--panel", path, "--subject", "bridge", "--moves", allMoves, "--format", "json")
	if want == "" || got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// fitJSON is the report of a fit that must succeed.
func fitJSON(t *testing.T, args ...string) (r panel.Report) {
	t.Helper()
	code, out, messages := reseal(t, "none.gpkg", append(append([]string{"fit"}, args...), "--format", "json")...)
	if code != exitDone {
		t.Fatalf("exit %d: %s", code, messages)
	}
	if err := json.Unmarshal([]byte(out), &r); err != nil {
		t.Fatal(err)
	}
	return r
}

// rscript runs an R script under testdata; without R the test is skipped, but
// fails where CI is set.
func rscript(t *testing.T, dir string, args ...string) []byte {
	t.Helper()
	cmd := exec.Command("Rscript", args...)
	cmd.Dir = filepath.Join("../../testdata", dir)
	out, err := cmd.Output()
	if err == nil {
		return out
	}
	if os.Getenv("CI") == "true" {
		t.Fatalf("Rscript %v: %v", args, err)
	}
	t.Skipf("needs R with the package msm: %v", err)
	return nil
}

func near(t *testing.T, name string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Abs(want)) {
		t.Errorf("%s: got %.12g, want %.12g", name, got, want)
	}
}

// The heart transplants of Jackson (2011), J. Stat. Softw. 38(8), through the
// command line, against the figures of msm's own tests
// (tests/testthat/test_models.r, tests/slow/test_fits.r).
func TestFitPanelOfTransplants(t *testing.T) {
	path := filepath.Join(t.TempDir(), "cav.csv")
	if err := os.WriteFile(path, rscript(t, "markov", "golden.R", "cav"), 0o600); err != nil {
		t.Fatal(err)
	}
	read := []string{"--panel", path, "--subject", "PTNUM", "--time", "years", "--moves", allMoves}
	start := []string{"--start", ".25,.25,.166,.166,.166,.25,.25", "--at-start"}
	with := func(more ...string) panel.Report { return fitJSON(t, append(append([]string{}, read...), more...)...) }
	near(t, "at the start", with(start...).MinusTwoLogL, 4833.00640639644, 1e-9)
	near(t, "exact deaths at the start", with(append(start, "--exact-final")...).MinusTwoLogL, 4908.81676837903, 1e-9)
	r := with("--exact-final")
	if r.MinusTwoLogL > 3968.7979+0.001 || !r.Converged || r.Subjects != 622 || r.Observations != 2846 {
		t.Errorf("got %+v", r)
	}
	for i, years := range []float64{5.8696, 1.6449, 2.2878} { // sojourn.msm
		near(t, "mean stay", r.Stays[i].MeanYears, years, 1e-3)
	}
	near(t, "constrained", with("--exact-final", "--constrain", "1-2=1-4,2-1=2-3=2-4,3-2=3-4").MinusTwoLogL, 4116.22686367935, 1e-8)
	rating := []string{"--panel", path, "--subject", "PTNUM", "--time", "years", "--moves", "1-2,1-4,2-3,2-4,3-4", "--exact-final", "--rating-errors", "1-2,2-1,2-3,3-2"}
	near(t, "rating error", fitJSON(t, rating...).MinusTwoLogL, 3951.829, 1e-6)
	near(t, "first true", fitJSON(t, append(rating, "--first-true")...).MinusTwoLogL, 3933.738, 1e-6)
}
