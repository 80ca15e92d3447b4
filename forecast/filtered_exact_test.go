package forecast

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// ratedPaths is the probability, at a pace, that a strip seal of testTables that was
// new is rated as was seen at looks so many years apart, by true state at the
// last: the sum over every path, with the matrix exponential of gonum.
func ratedPaths(z float64, years []float64, seen []int, wrong float64) (ending [4]float64) {
	q := mat.NewDense(4, 4, nil)
	for i, halfLife := range []float64{6, 4, 4} {
		q.Set(i, i, -z*math.Ln2/halfLife)
		q.Set(i, i+1, z*math.Ln2/halfLife)
	}
	rated := [4][4]float64{{1 - wrong, wrong, 0, 0}, {wrong / 2, 1 - wrong, wrong / 2, 0}, {0, wrong / 2, 1 - wrong, wrong / 2}, {0, 0, wrong, 1 - wrong}}
	var follow func(t, state int, probability float64)
	follow = func(t, state int, probability float64) {
		if t == len(years) {
			ending[state] += probability
			return
		}
		var p, scaled mat.Dense
		scaled.Scale(years[t], q)
		p.Exp(&scaled)
		for next := range 4 {
			follow(t+1, next, probability*p.At(state, next)*rated[next][seen[t]])
		}
	}
	follow(0, 0, 1)
	return ending
}

// The weights of the paces and the shares now of a joint whose first seal was seen
// twice, and the one that took its place three times, against every path of the
// true states at every pace.
func TestPaceAndStartAgainstEveryPath(t *testing.T) {
	const wrong, pieces = 0.08, 2.5
	tables := testTables()
	tables.Settings.Pieces, tables.Settings.PaceK = pieces, 3
	m := testModel(t, tables)
	m.rated = ratings(math.Log(wrong / (1 - wrong)))
	first := strip(t, "2008-03-01")
	first.Seals[0].Removed = day(t, "2016-05-01")
	first.Seals = append(first.Seals, Seal{Kind: "strip seal", Installed: day(t, "2016-05-01")})
	r := &Record{
		LengthFt: 40, Stretches: []Stretch{first},
		Looks: []Look{
			look(t, "2012-06-01", 0, 40, 0, 0), look(t, "2015-04-01", 0, 0, 40, 0),
			look(t, "2019-04-10", 40, 0, 0, 0), look(t, "2022-06-01", 0, 40, 0, 0), look(t, "2024-09-01", 40, 0, 0, 0),
		},
		Work: []Work{{On: day(t, "2016-05-01"), Treatment: "reseal", NewSeal: true}},
	}
	years := func(dates ...string) (out []float64) {
		for i := 1; i < len(dates); i++ {
			out = append(out, day(t, dates[i]).YearsSince(day(t, dates[i-1])))
		}
		return out
	}
	pace := m.pace
	posterior := func(prior []float64, dates []float64, seen []int) (weights []float64, shares [4]float64) {
		sum := 0.0
		for g, z := range pace.Z {
			ending := ratedPaths(z, dates, seen, wrong)
			all := ending[0] + ending[1] + ending[2] + ending[3]
			weights = append(weights, prior[g]*math.Pow(all, pieces))
			sum += weights[g]
			for i := range shares {
				shares[i] += weights[g] * ending[i] / all
			}
		}
		for g := range weights {
			weights[g] /= sum
		}
		for i := range shares {
			shares[i] /= sum
		}
		return weights, shares
	}
	before, _ := posterior(pace.Prior, years("2008-03-01", "2012-06-01", "2015-04-01"), []int{1, 2})
	prior := make([]float64, len(before))
	for g := range prior {
		prior[g] = tables.Settings.SiteShare*before[g] + (1-tables.Settings.SiteShare)*pace.Prior[g]
	}
	weights, shares := posterior(prior, years("2016-05-01", "2019-04-10", "2022-06-01", "2024-09-01"), []int{0, 1, 0})

	f, reason := m.Project(r, day(t, "2024-09-01"), 2040)
	if reason != "" {
		t.Fatal(reason)
	}
	for g, want := range weights {
		if math.Abs(f.weights[g]-want) > 1e-10 {
			t.Errorf("weight of pace %.3f: %.12f, want %.12f", pace.Z[g], f.weights[g], want)
		}
	}
	for i, want := range shares {
		if math.Abs(f.NowShares[i]-want) > 1e-7 { // paces of a weight under 1e-7 are left out
			t.Errorf("CS%d: %.12f, want %.12f", i+1, f.NowShares[i], want)
		}
		if math.Abs(f.start.shares[i]-want) > 1e-10 {
			t.Errorf("CS%d at the start: %.12f, want %.12f", i+1, f.start.shares[i], want)
		}
	}
}

// With next to no rating errors the forecast is what it is without any.
func TestNoErrorsIsAtTheWord(t *testing.T) {
	tables := testTables()
	tables.Settings.Pieces, tables.Settings.PaceK = 3, 3
	word, weighed := testModel(t, tables), testModel(t, tables)
	weighed.rated = ratings(math.Log(1e-12))
	r := &Record{LengthFt: 40, Stretches: []Stretch{strip(t, "2010-01-01")}, Looks: []Look{
		look(t, "2014-01-01", 40, 0, 0, 0), look(t, "2020-01-01", 20, 16, 4, 0), look(t, "2025-01-01", 10, 20, 9, 1),
	}}
	a, _ := word.Project(r, day(t, "2026-01-01"), 2050)
	b, _ := weighed.Project(r, day(t, "2026-01-01"), 2050)
	for y := range a.Years {
		if math.Abs(a.Failed[y]-b.Failed[y]) > 1e-5 {
			t.Errorf("failed by %d: %.7f weighed, %.7f at its word", a.Years[y], b.Failed[y], a.Failed[y])
		}
		for i := range 4 {
			if math.Abs(a.Shares[y][i]-b.Shares[y][i]) > 1e-5 {
				t.Errorf("CS%d in %d: %.7f weighed, %.7f at its word", i+1, a.Years[y], b.Shares[y][i], a.Shares[y][i])
			}
		}
	}
}

// A joint of two stretches with the same seal and the same looks is forecast as if it
// were one, before and after a repair of both.
func TestStretchesAreTakenTogether(t *testing.T) {
	tables := testTables()
	tables.Settings.Pieces, tables.Settings.PaceK = 3, 3
	m := testModel(t, tables)
	m.rated = ratings(math.Log(0.05 / 0.95))
	for _, repaired := range []bool{false, true} {
		one := Record{LengthFt: 40, Stretches: []Stretch{strip(t, "2012-01-01")}, Looks: []Look{
			look(t, "2016-01-01", 40, 0, 0, 0), look(t, "2020-01-01", 10, 26, 4, 0), look(t, "2024-01-01", 20, 10, 8, 2),
		}}
		if repaired { // half of each
			one.Work = []Work{{On: day(t, "2018-01-01"), Treatment: "spot repair", FromFt: 10, ToFt: 30}}
		}
		two := one
		second := one.Stretches[0]
		second.ID, second.FromFt = 2, 20
		two.Stretches = []Stretch{one.Stretches[0], second}
		two.Stretches[0].ToFt = 20
		two.Looks = nil
		for _, l := range one.Looks {
			half := l.Feet[0].StateFt
			for s := range half {
				half[s] /= 2
			}
			l.Feet = []StretchFeet{{1, half}, {2, half}}
			two.Looks = append(two.Looks, l)
		}
		a, _ := m.Project(&one, day(t, "2026-01-01"), 2050)
		b, _ := m.Project(&two, day(t, "2026-01-01"), 2050)
		for y := range a.Years {
			if math.Abs(a.Failed[y]-b.Failed[y]) > 1e-9 || math.Abs(a.Shares[y][3]-b.Shares[y][3]) > 1e-9 {
				t.Fatalf("repaired %v, by %d: failed %v and %v, in CS4 %v and %v", repaired, a.Years[y], a.Failed[y], b.Failed[y], a.Shares[y][3], b.Shares[y][3])
			}
		}
	}
}
