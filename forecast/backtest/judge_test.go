package backtest

import (
	"math"
	"strings"
	"testing"
)

// A cut of 5 years is wrong for the two that failed young and the one that
// stands old; any other is wrong more often.
func TestCutAge(t *testing.T) {
	for _, test := range []struct {
		name   string
		failed map[float64]bool
		want   float64
	}{
		{"clear cut", map[float64]bool{1: false, 2: false, 5: true, 6: true}, 5},
		{"some the other way", map[float64]bool{1: true, 2: false, 3: false, 5: true, 6: true, 7: false, 8: true}, 5},
		{"none failed", map[float64]bool{1: false, 9: false}, math.Inf(1)},
		{"none seen", nil, math.Inf(1)},
	} {
		t.Run(test.name, func(t *testing.T) {
			var c CutAge
			for years, failed := range test.failed {
				c.Add(years, failed)
			}
			if got := c.Age(); got != test.want {
				t.Errorf("got %v, want %v", got, test.want)
			}
		})
	}
}

// A model that is worse must be said to be worse.
func TestJudgeSaysWhatIsWorse(t *testing.T) {
	var cases []Case
	for i := range 60 {
		failed := i%3 == 0
		c := Case{Cluster: int64(i), Kind: "a", YearsAhead: float64(i % 9), Failed: failed, Forecasts: []float64{0.9, 0.1, -1}}
		if failed {
			c.Forecasts = []float64{0.1, 0.9, -1}
		}
		cases = append(cases, c)
	}
	r, err := Judge([]string{"the model", "a rival", "one without forecasts"}, "kind", cases)
	if err != nil {
		t.Fatal(err)
	}
	words := strings.Join(r.Words, "\n")
	for _, want := range []string{`worse than "a rival": do not use it here`, `"one without forecasts" has no forecast of any case`, "calibration: in 2 of 2 tenths"} {
		if !strings.Contains(words, want) {
			t.Errorf("nothing of %q in %s", want, words)
		}
	}
	var page strings.Builder
	if err := (Page{Title: "<b>", Result: r}).WriteHTML(&page); err != nil {
		t.Fatal(err)
	}
	if text := page.String(); strings.Contains(text, "<b>") || !strings.Contains(text, "▼ model worse") || !strings.Contains(text, "</svg>") {
		t.Errorf("page: %s", text)
	}
	if _, err := Judge([]string{"the model"}, "kind", nil); err == nil {
		t.Error("no cases were judged")
	}
}

// Of 40 cases said to fail with 55 %, 12 did; of 20 more nobody can tell. Between 12 and
// 32 of the 60 failed. The interval is R's binom.test(12, 60, conf.level = 0.9) from
// below and binom.test(32, 60, conf.level = 0.9) from above (stats, R 4).
func TestUnseen(t *testing.T) {
	var cases []Case
	for i := range 60 {
		cases = append(cases, Case{Cluster: int64(i), Failed: i < 12, Unseen: i >= 40, Forecasts: []float64{0.55}})
	}
	r, err := Judge([]string{"the model"}, "kind", cases)
	if err != nil {
		t.Fatal(err)
	}
	d := r.Calibration[5]
	if r.Cases != 40 || r.Failures != 12 || r.Unseen != 20 || d.Cases != 40 || d.Unseen != 20 || d.Observed != 0.3 || !d.Fits {
		t.Errorf("got %+v of %+v", d, r)
	}
	if math.Abs(d.Lower-0.1196561342) > 1e-6 || math.Abs(d.Upper-0.6444164115) > 1e-6 {
		t.Errorf("between %v and %v", d.Lower, d.Upper)
	}
	sure, err := Judge([]string{"the model"}, "kind", cases[:40])
	if err != nil || sure.Calibration[5].Fits || sure.Groups[0].Rows[0] != r.Groups[0].Rows[0] {
		t.Errorf("without the unseen: %+v, %v", sure, err)
	}
	if words := strings.Join(r.Words, "; "); !strings.Contains(words, "whatever became of the 20") {
		t.Error(words)
	}
}
