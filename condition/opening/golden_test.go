package opening_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	"reseal/condition/opening"
)

const goldenDir = "../../testdata/opening"

type row map[string]string

func (r row) num(t *testing.T, column string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(r[column], 64)
	if err != nil {
		t.Fatalf("column %s: %v", column, err)
	}
	return x
}

func readRows(t *testing.T, in io.Reader) []row {
	t.Helper()
	records, err := csv.NewReader(in).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []row
	for _, record := range records[1:] {
		r := row{}
		for i, name := range records[0] {
			r[name] = record[i]
		}
		rows = append(rows, r)
	}
	return rows
}

func readFile(t *testing.T, name string) []row {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(goldenDir, name))
	if err != nil {
		t.Fatal(err)
	}
	return readRows(t, bytes.NewReader(data))
}

// compareGolden holds every value of a golden table against this package.
// Tolerance: 1e-9, and 1e-7 for the integral over the horizon.
func compareGolden(t *testing.T, golden []row) {
	t.Helper()
	lines := map[string]opening.Line{}
	limits := map[string]opening.Limits{}
	now := map[string]float64{}
	for _, c := range readFile(t, "cases.csv") {
		name := c["case"]
		var readings []opening.Reading
		for _, r := range readFile(t, "readings.csv") {
			if r["case"] == name {
				readings = append(readings, opening.Reading{
					Year: r.num(t, "year"), DeckTempF: r.num(t, "temp_f"), GapIn: r.num(t, "gap_in"),
					AirTemp: r["air"] == "1", TapeIn: r.num(t, "tape_in"),
				})
			}
		}
		line, err := opening.Fit(opening.Joint{
			ExpansionLengthFt: c.num(t, "length_ft"), AlphaPerF: c.num(t, "alpha_per_f"), SkewDeg: c.num(t, "skew_deg"),
			Still: c["still"] == "1", Range: opening.TempRange{MinF: c.num(t, "min_f"), MaxF: c.num(t, "max_f")},
			ShrinkageIn: c.num(t, "shrinkage_in"),
		}, readings, opening.Settings{LoadFactor: c.num(t, "load_factor"), NoiseFactor: c.num(t, "noise_factor")})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		lines[name], now[name] = line, c.num(t, "now")
		limits[name] = opening.Limits{MinIn: c.num(t, "seal_min_in"), MaxIn: c.num(t, "seal_max_in")}
	}
	checked := 0
	for _, g := range golden {
		name := g["case"]
		line, m := lines[name], limits[name]
		for quantity, got := range quantities(&line, m, now[name]) {
			if quantity != g["quantity"] {
				continue
			}
			want, tolerance := g.num(t, "value"), 1e-9
			if len(quantity) > 5 && quantity[:5] == "outby" {
				tolerance = 1e-7
			}
			if !(math.Abs(got-want) <= tolerance) {
				t.Errorf("%s, %s: got %.12g, want %.12g", name, quantity, got, want)
			}
			checked++
		}
	}
	if checked != len(golden) || checked == 0 {
		t.Errorf("checked %d of %d golden values", checked, len(golden))
	}
}

func quantities(l *opening.Line, m opening.Limits, now float64) map[string]float64 {
	q := map[string]float64{}
	for i, w := range l.Weights() {
		q[fmt.Sprintf("weight%d", i+1)] = w
	}
	for _, years := range []float64{0, 10} {
		cold, hot := l.Cold(now+years), l.Hot(now+years)
		for side, o := range map[string]*opening.Opening{"cold": &cold, "hot": &hot} {
			name := fmt.Sprintf("%s%g", side, years)
			q[name+"_mean"], q[name+"_sd"] = o.MeanIn(), o.SDIn()
			q[name+"_q10"], q[name+"_q50"], q[name+"_q90"] = o.QuantileIn(0.1), o.QuantileIn(0.5), o.QuantileIn(0.9)
			q[name+"_below_min"], q[name+"_below_max"] = o.ProbBelow(m.MinIn), o.ProbBelow(m.MaxIn)
		}
	}
	horizon := []float64{0, 1, 5, 20}
	years := make([]float64, len(horizon))
	for i, y := range horizon {
		years[i] = now + y
	}
	for i, p := range l.OutByYear(nil, m, now, years) {
		q[fmt.Sprintf("outby%g", horizon[i])] = p
	}
	return q
}

// TestGolden holds the line against golden.R, an independent implementation
// with dense matrices and the R package mvtnorm.
func TestGolden(t *testing.T) { compareGolden(t, readFile(t, "golden.csv")) }

// TestGoldenScript runs golden.R again where R is installed.
func TestGoldenScript(t *testing.T) {
	if testing.Short() {
		t.Skip("runs R")
	}
	out, err := exec.Command("Rscript", filepath.Join(goldenDir, "golden.R"), goldenDir).Output()
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("Rscript with package mvtnorm is needed: %v", err)
		}
		t.Skipf("Rscript with package mvtnorm is not to be had: %v", err)
	}
	compareGolden(t, readRows(t, bytes.NewReader(out)))
}
