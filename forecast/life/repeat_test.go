package life

import (
	"errors"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// Worked by hand: three joints followed to 10, 10 and 4 years. At 2 years one of
// three is replaced: 1/3. At 5 years one of two: 1/3 + 1/2.
//
//	var at 2 = [(2/3)² + (1/3)² + (1/3)²] / 9 = 2/27
func TestMeanCumulativeByHand(t *testing.T) {
	got, err := MeanCumulative([]History{{To: 10, Replaced: []float64{5, 2}}, {To: 10}, {To: 4}})
	if err != nil || len(got) != 2 {
		t.Fatalf("got %v, %v; want two rows", got, err)
	}
	check(t, []figure{
		{"mean at 2", got[0].Mean, 1.0 / 3, 1e-15},
		{"se at 2", got[0].SE, math.Sqrt(2.0 / 27), 1e-15},
		{"at risk at 2", float64(got[0].AtRisk), 3, 0},
		{"mean at 5", got[1].Mean, 5.0 / 6, 1e-15},
		{"at risk at 5", float64(got[1].AtRisk), 2, 0},
	})
}

// valveSeats checks the valve seats of 41 engines (Nelson & Doganaksoy 1989),
// from TestAgainstR, which has R write them out: the means as printed in
// the tests of the R package survival (tests/r_sas.Rout.save), and the means and
// robust standard errors of its survfit at every age, where it has no tie to
// break.
func valveSeats(t *testing.T, dir string) {
	histories := map[string]*History{}
	var order []string
	for _, row := range readTable(t, filepath.Join(dir, "valveseat.csv")) {
		h := histories[row[0]]
		if h == nil {
			h = &History{}
			histories[row[0]] = h
			order = append(order, row[0])
		}
		if age := number(t, row[1]); row[2] == "1" {
			h.Replaced = append(h.Replaced, age)
			h.To = max(h.To, age)
		} else {
			h.To = age
		}
	}
	var all []History
	for _, id := range order {
		all = append(all, *histories[id])
	}
	got, err := MeanCumulative(all)
	if err != nil {
		t.Fatal(err)
	}
	byAge := map[float64]MeanReplacements{}
	for _, r := range got {
		byAge[r.Age] = r
	}
	for age, want := range map[float64]float64{
		61: 0.024, 139: 0.220, 254: 0.366, 344: 0.561, 404: 0.684, 561: 0.884, 581: 0.985, 604: 1.060, 635: 1.181, 653: 1.543,
	} {
		check(t, []figure{{"printed mean", byAge[age].Mean, want, 5.1e-4}})
	}
	for _, row := range readTable(t, filepath.Join(testdata, "replacements.csv")) {
		age := number(t, row[0])
		r, ok := byAge[age]
		if !ok {
			continue // an age moved by the script to break a tie
		}
		check(t, []figure{
			{"mean", r.Mean, number(t, row[1]), 1e-9},
			{"se", r.SE, number(t, row[2]), 1e-9},
		})
	}
}

// bruteMeanCumulative is the definition, joint by joint.
func bruteMeanCumulative(histories []History) []MeanReplacements {
	var ages []float64
	for _, h := range histories {
		ages = append(ages, h.Replaced...)
	}
	slices.Sort(ages)
	ages = slices.Compact(ages)
	residual := make([]float64, len(histories))
	mean := 0.0
	var rows []MeanReplacements
	for _, age := range ages {
		n, d := 0, 0.0
		own := make([]float64, len(histories))
		for i, h := range histories {
			if h.From < age && age <= h.To {
				n++
			}
			for _, a := range h.Replaced {
				if a == age {
					own[i]++
					d++
				}
			}
		}
		mean += d / float64(n)
		variance := 0.0
		for i, h := range histories {
			if h.From < age && age <= h.To {
				residual[i] += (own[i] - d/float64(n)) / float64(n)
			}
			variance += residual[i] * residual[i]
		}
		rows = append(rows, MeanReplacements{age, mean, math.Sqrt(variance), n})
	}
	return rows
}

func TestMeanCumulativeIsItsDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var histories []History
		for range rapid.IntRange(1, 12).Draw(t, "joints") {
			h := History{From: float64(rapid.IntRange(0, 5).Draw(t, "from"))}
			h.To = h.From + float64(rapid.IntRange(1, 10).Draw(t, "span"))
			for range rapid.IntRange(0, 4).Draw(t, "replacements") {
				h.Replaced = append(h.Replaced, float64(rapid.IntRange(int(h.From)+1, int(h.To)).Draw(t, "age")))
			}
			histories = append(histories, h)
		}
		got, err := MeanCumulative(histories)
		want := bruteMeanCumulative(histories)
		if err != nil || len(got) != len(want) {
			t.Fatalf("got %d rows, %v; want %d", len(got), err, len(want))
		}
		for i := range got {
			// The square root turns a rounding of 1e-17 in a variance of 0 into
			// 3e-9.
			if got[i].Age != want[i].Age || got[i].AtRisk != want[i].AtRisk ||
				math.Abs(got[i].Mean-want[i].Mean) > 1e-12 || math.Abs(got[i].SE-want[i].SE) > 1e-7 {
				t.Fatalf("row %d: got %+v, want %+v", i, got[i], want[i])
			}
		}
	})
}

func TestUnusableHistoryIsRefused(t *testing.T) {
	for _, tt := range []struct {
		name string
		h    History
	}{
		{"no time", History{From: 3, To: 3}},
		{"not a number", History{From: math.NaN(), To: 3}},
		{"endless", History{To: math.Inf(1)}},
		{"replaced after the end", History{To: 3, Replaced: []float64{4}}},
		{"replaced before the start", History{From: 2, To: 3, Replaced: []float64{2}}},
		{"replacement not a number", History{To: 3, Replaced: []float64{math.NaN()}}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if _, err := MeanCumulative([]History{tt.h}); !errors.Is(err, ErrInvalid) {
				t.Errorf("got %v, want ErrInvalid", err)
			}
		})
	}
	if rows, err := MeanCumulative(nil); len(rows) != 0 || err != nil {
		t.Errorf("no histories: got %v, %v; want nothing", rows, err)
	}
}

func BenchmarkMeanCumulative(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	histories := make([]History, 100_000)
	for i := range histories {
		h := History{To: 5 + 40*rng.Float64()}
		for age := 12 * rng.ExpFloat64(); age < h.To; age += 12 * rng.ExpFloat64() {
			h.Replaced = append(h.Replaced, age)
		}
		histories[i] = h
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := MeanCumulative(histories); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(histories))*float64(b.N)/b.Elapsed().Seconds(), "joints/s")
}
