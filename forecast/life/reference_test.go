package life

import (
	"encoding/csv"
	"errors"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
)

const testdata = "../../testdata/life"

// Reference values of the R package survival; see golden.R. The committed ones
// are checked everywhere; where R is installed the script is run anew, its
// values must be the committed ones, and the sets that only the package holds
// are fitted as well.
func TestAgainstR(t *testing.T) {
	t.Run("committed values", func(t *testing.T) { compareGolden(t, testdata) })

	dir := t.TempDir()
	cmd := exec.Command("Rscript", "testdata/life/golden.R", dir)
	cmd.Dir = "../.."
	out, err := cmd.CombinedOutput()
	var exit *exec.ExitError
	missing := errors.Is(err, exec.ErrNotFound) || errors.As(err, &exit) && exit.ExitCode() == 3
	switch {
	case missing && os.Getenv("CI") != "true":
		t.Skip("no R with the package survival")
	case err != nil:
		t.Fatalf("golden.R: %v\n%s", err, out)
	}
	t.Run("values run anew", func(t *testing.T) {
		compareGolden(t, dir)
		for _, name := range []string{"golden.csv", "replacements.csv"} {
			sameTable(t, filepath.Join(dir, name), filepath.Join(testdata, name))
		}
	})
	t.Run("published sets", func(t *testing.T) { publishedSetsOfR(t, dir) })
	t.Run("valve seats", func(t *testing.T) { valveSeats(t, dir) })
}

func readTable(t *testing.T, file string) [][]string {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %d rows, %v", file, len(rows), err)
	}
	return rows[1:]
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// compareGolden fits every case whose records are in dir or among the committed
// ones.
func compareGolden(t *testing.T, dir string) {
	compared := 0
	for _, row := range readTable(t, filepath.Join(dir, "golden.csv")) {
		file := filepath.Join(dir, row[0]+".csv")
		if _, err := os.Stat(file); err != nil {
			file = filepath.Join(testdata, row[0]+".csv")
		}
		if _, err := os.Stat(file); err != nil {
			continue // the set comes with the R package
		}
		compared++
		family := map[string]Family{"weibull": Weibull, "lognormal": Lognormal, "exponential": Exponential}[row[1]]
		f := estimate(t, readRecords(t, file), family)
		// Both search to about the square root of the machine's precision in
		// log-likelihood; left truncation in R differentiates numerically.
		tol := 2e-6
		if row[0] == "truncated" {
			tol = 2e-5
		}
		got := []float64{f.Mu, math.Log(f.Sigma), f.MuSE, f.LogSigmaSE, f.Covariance}
		for i, name := range []string{"mu", "ln sigma", "mu se", "ln sigma se", "covariance"} {
			if want := number(t, row[2+i]); !(math.Abs(got[i]-want) <= tol) {
				t.Errorf("%s %s %s: got %.9g, want %.9g", row[0], row[1], name, got[i], want)
			}
		}
		if want := number(t, row[7]); !(math.Abs(f.LogLik/want-1) <= 1e-10) {
			t.Errorf("%s %s log-likelihood: got %.12g, want %.12g", row[0], row[1], f.LogLik, want)
		}
	}
	if compared < 19 {
		t.Errorf("%d cases compared, want 19 at least", compared)
	}
}

func sameTable(t *testing.T, fresh, committed string) {
	t.Helper()
	a, b := readTable(t, fresh), readTable(t, committed)
	if len(a) != len(b) {
		t.Fatalf("%s: %d rows, committed %d", fresh, len(a), len(b))
	}
	for i := range a {
		for j := range a[i] {
			x, errX := strconv.ParseFloat(a[i][j], 64)
			y, errY := strconv.ParseFloat(b[i][j], 64)
			if errX != nil || errY != nil {
				if a[i][j] != b[i][j] {
					t.Errorf("%s row %d: %s, committed %s", fresh, i+1, a[i][j], b[i][j])
				}
			} else if math.Abs(x-y) > 1e-6*(1+math.Abs(y)) {
				t.Errorf("%s row %d: %g, committed %g", fresh, i+1, x, y)
			}
		}
	}
}

// publishedSetsOfR checks published figures for sets that come with the R package survival: lung as in
// its tests; diesel fans (Nelson 1982, Applied Life Data Analysis) from memory,
// 28,701 hours, and 28,703.33 from the records.
func publishedSetsOfR(t *testing.T, dir string) {
	lung := estimate(t, readRecords(t, filepath.Join(dir, "lung.csv")), Weibull)
	fans := readRecords(t, filepath.Join(dir, "genfan.csv"))
	weibull, exponential := estimate(t, fans, Weibull), estimate(t, fans, Exponential)
	shape, _ := weibull.Shape()
	check(t, []figure{
		{"lung mu", lung.Mu, 6.034904, 5e-7},
		{"lung sigma", lung.Sigma, 0.7593936, 5e-8},
		{"lung log-likelihood", lung.LogLik, -1153.9, 0.05},
		{"fans, exponential mean", exponential.Mean(), 28703.33, 5e-3},
		{"fans, total time over failures", exponential.Counts.Exposure / 12, exponential.Mean(), 1e-6},
		{"fans eta", weibull.Scale().Value, 26296.85, 5e-3},
		{"fans beta", shape, 1.058446, 5e-7},
		{"fans log-likelihood", weibull.LogLik, -135.152720, 5e-7},
	})
}
