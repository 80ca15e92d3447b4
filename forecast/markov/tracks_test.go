package markov

import (
	"math"
	"math/rand/v2"
	"testing"
)

var neighbours4 = Moves{{0, 1}, {1, 0}, {1, 2}, {2, 1}, {2, 3}, {3, 2}}

// sharesRatings is a network whose pieces are each rated one state off with a
// probability, and its panel without what improved.
func sharesRatings(t testing.TB, n network, wrong float64, r *rand.Rand) (*Ratings, *Panel) {
	t.Helper()
	ratings, err := NewRatings(Worsening(4), 0)
	if err != nil {
		t.Fatal(err)
	}
	p, _ := NewPanel(Worsening(4), 0)
	n.simulate(r, func(joint int, seen []Interval) {
		ratings.BeginShares(joint)
		p.Begin(joint)
		for i := range seen {
			seen[i].After = misrated(r, seen[i].After, n.pieces, wrong)
			if i > 0 {
				seen[i].Before = seen[i-1].After
			}
			if _, err := p.Add(seen[i]); err != nil {
				t.Fatal(err)
			}
		}
		if err := ratings.AddRun(Run{True: []float64{1, 0, 0, 0}, Looks: seen}); err != nil {
			t.Fatal(err)
		}
	})
	return ratings, p
}

// misrated rates each piece one state off with a probability.
func misrated(r *rand.Rand, shares []float64, pieces int, wrong float64) []float64 {
	out := make([]float64, len(shares))
	for state, s := range shares {
		for range int(math.Round(s * float64(pieces))) {
			to := state
			if r.Float64() < wrong {
				up := state == 0 || state < len(shares)-1 && r.Float64() < 0.5
				if to--; up {
					to += 2
				}
			}
			out[to] += 1 / float64(pieces)
		}
	}
	return out
}

// Without errors, runs of shares have the likelihood of the panel, whatever
// the beginnings, the pieces and the paces.
func TestRunsWithoutErrorsAreThePanel(t *testing.T) {
	x := []float64{1}
	model := Model{EstimateK: true, Pieces: 3, EffectGroups: SharedEffects(Worsening(4), 1), SiteShare: 0.6}
	theta := []float64{-1.5, -2, -2.2, .3, 1.1}
	looks := [][]float64{{.5, .3, .2, 0}, {.4, .3, .2, .1}, {.1, .2, .5, .2}}
	for _, test := range []struct {
		name   string
		starts []Start
	}{
		{"new", nil},
		{"known age", []Start{{AgeYears: 7}}},
		{"unknown age", []Start{{AgeYears: 3}, {AgeYears: 9, Weight: 2}, {AgeYears: 20}}},
		{"on record", []Start{{AgeYears: 5, RecordAgeYears: 4}, {AgeYears: 12, RecordAgeYears: 11}}},
		{"replaced", []Start{{AgeYears: 5, RecordAgeYears: 4, Replaced: true}, {AgeYears: 12, RecordAgeYears: 11}}},
	} {
		t.Run(test.name, func(t *testing.T) {
			p, _ := NewPanel(Worsening(4), 1)
			r, _ := NewRatings(Worsening(4), 1)
			p.Begin(1)
			r.BeginShares(1)
			run := Run{Starts: test.starts, True: []float64{1, 0, 0, 0}}
			if test.starts != nil {
				if err := p.StartedAt(looks[0], x, test.starts...); err != nil {
					t.Fatal(err)
				}
			}
			before := run.True
			for i, after := range looks {
				v := Interval{Years: 2, Before: before, After: after, X: x}
				run.Looks = append(run.Looks, v)
				if i > 0 || test.starts == nil {
					if taken, err := p.Add(v); !taken || err != nil {
						t.Fatal(taken, err)
					}
				}
				before = after
			}
			if err := r.AddRun(run); err != nil {
				t.Fatal(err)
			}
			second := Interval{Years: 3, Before: p.At(0), After: looks[1], X: x}
			p.Renew(1)
			r.Renew(1)
			if _, err := p.Add(second); err != nil {
				t.Fatal(err)
			}
			if err := r.AddRun(Run{True: p.At(0), Looks: []Interval{second}}); err != nil {
				t.Fatal(err)
			}
			want, wantGradient, err := LogLikelihood(p, model, theta)
			if err != nil {
				t.Fatal(err)
			}
			got, gradient, err := RatingsLogLikelihood(r, model, RatingError{}, theta)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "log-likelihood", got, want, 1e-10)
			for i := range wantGradient {
				near(t, "gradient", gradient[i], wantGradient[i], 1e-6)
			}
			if a, b := r.Counts(), p.Counts(); a.Intervals != b.Intervals || a.Years != b.Years {
				t.Errorf("counts %+v, want %+v", a, b)
			}
		})
	}
}

func TestSharedErrorGradientAgainstDifferences(t *testing.T) {
	n := network{joints: 30, intervals: 4, rates: []float64{.2, .15, .1}, k: 4, pieces: 3, years: everyTwoYears}
	r, _ := sharesRatings(t, n, 0.05, rand.New(rand.NewPCG(1, 9)))
	r.BeginShares(99)
	err := r.AddRun(Run{
		Starts: []Start{{AgeYears: 5, RecordAgeYears: 4, Replaced: true}, {AgeYears: 12, RecordAgeYears: 11}},
		Looks:  []Interval{{After: []float64{.5, .5, 0, 0}}, {Years: 2, After: []float64{.7, .3, 0, 0}}},
	})
	if err != nil {
		t.Fatal(err)
	}
	r.Renew(2)
	if err := r.AddRun(Run{True: []float64{1, 0, 0, 0}, Looks: []Interval{{Years: 2, After: []float64{.2, .5, .3, 0}}}}); err != nil {
		t.Fatal(err)
	}
	model, errors := Model{EstimateK: true, Pieces: 3, SiteShare: 0.6}, RatingError{Errors: neighbours4, Shared: true}
	theta := []float64{-1.6, -1.9, -2.3, 1.4, -2.9}
	_, gradient, err := RatingsLogLikelihood(r, model, errors, theta)
	if err != nil {
		t.Fatal(err)
	}
	const h = 1e-5
	for i, got := range gradient {
		at := append([]float64(nil), theta...)
		at[i] = theta[i] + h
		up, _, _ := RatingsLogLikelihood(r, model, errors, at)
		at[i] = theta[i] - h
		down, _, _ := RatingsLogLikelihood(r, model, errors, at)
		if want := (up - down) / (2 * h); math.Abs(got-want) > 1e-6*(1+math.Abs(want)) {
			t.Errorf("derivative %d is %v, want %v", i, got, want)
		}
	}
}

// Five in a hundred pieces rated one state off: the hidden chain gives the rates
// back, where the plain chain, which leaves out what improved, is some 10 % too
// fast. The probability comes out lower than 5 %, for the feet of one look are
// lined up with those of the next by how bad they are: a piece rated too well
// is hidden by one that wore as much.
func TestRatingErrorsOfSharesAreRecovered(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	n := network{joints: 1500, intervals: 5, rates: []float64{.2, .15, .1}, k: 4, pieces: 3, years: everyTwoYears}
	r, p := sharesRatings(t, n, 0.05, rand.New(rand.NewPCG(5, 9)))
	f, err := FitRatings(r, Model{EstimateK: true, Pieces: 3}, RatingError{Errors: neighbours4, Shared: true})
	if err != nil || !f.Converged {
		t.Fatal(err, f)
	}
	plain := mustFit(t, p, Model{EstimateK: true, Pieces: 3})
	t.Logf("left out by the plain chain: %d of %d", p.Counts().Improved, r.Counts().Intervals)
	for i, want := range []float64{.2, .15, .1, 4, .05} {
		e := f.Estimates[i]
		t.Logf("%s: %.4f (log error %.3f), want %v", e.Name, e.Value, e.RobustLogSE, want)
		if i < 4 {
			t.Logf("   plain chain %.4f", plain.Estimates[i].Value)
		}
		if i < 3 && math.Abs(math.Log(e.Value/want)) > 3.5*e.RobustLogSE {
			t.Errorf("%s: %.4f, want %v", e.Name, e.Value, want)
		}
		if i < 3 && math.Log(plain.Estimates[i].Value/want) < 0.08 {
			t.Errorf("%s: the plain chain has %.4f, which is no longer too fast: say so", e.Name, plain.Estimates[i].Value)
		}
		if i == 4 && (e.Value < 0.025 || e.Value > 0.05) {
			t.Errorf("rating error %.4f, want from 0.025 to 0.05", e.Value)
		}
	}
}
