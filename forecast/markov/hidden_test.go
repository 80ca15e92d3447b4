package markov

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// cavErrors are the rating errors of msm's example on the cav data: neighbours
// may be taken for each other, deaths may not.
var cavErrors = Moves{{0, 1}, {1, 0}, {1, 2}, {2, 1}}

func cavOneWay() Moves { return Moves{{0, 1}, {0, 3}, {1, 2}, {1, 3}, {2, 3}} }

func ratingsOf(t testing.TB, moves Moves, seen []observation, end Seen) *Ratings {
	t.Helper()
	r, err := NewRatings(moves, len(seen[0].x))
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range seen {
		if i == 0 || seen[i-1].subject != v.subject {
			if err := r.Begin(v.subject, v.state); err != nil {
				t.Fatal(err)
			}
			continue
		}
		if moves.Absorbing(seen[i-1].state) {
			continue
		}
		rating := Rating{Years: v.time - seen[i-1].time, State: v.state, X: seen[i-1].x}
		if v.state == moves.States()-1 {
			rating.Seen = end
		}
		if taken, err := r.Add(rating); !taken || err != nil {
			t.Fatalf("row %d: taken %v, %v", i, taken, err)
		}
	}
	return r
}

// startOf gives parameters from rates and the probabilities of errors, one
// row after the other.
func startOf(t testing.TB, r *Ratings, rates []float64, with RatingError) []float64 {
	t.Helper()
	e, err := hiddenEvaluator(r, Model{}, with)
	if err != nil {
		t.Fatal(err)
	}
	return append(logs(rates), e.h.start()...)
}

// msm's misclassification example, Jackson et al. (2003), The Statistician
// 52:193: −2 log L 3951.829, and 3933.738 with the first rating taken as true.
func TestHiddenCavAgainstMsm(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	want := loadGolden(t)
	r := ratingsOf(t, cavOneWay(), readObservations(t, strings.NewReader(string(rscript(t, "cav"))), 0), FailedThen)
	for _, v := range []struct {
		name      string
		firstTrue bool
		published float64
		golden    string
	}{
		{"first rating may err", false, 3951.829, "hidden"},
		{"first rating true", true, 3933.738, "hiddenFirstTrue"},
	} {
		errors := RatingError{Errors: cavErrors, FirstTrue: v.firstTrue, Start: []float64{.1, .1, .1, .1}}
		theta := startOf(t, r, []float64{.148, .0171, .202, .081, .126}, errors)
		got, _, err := RatingsLogLikelihood(r, Model{}, errors, theta)
		if err != nil {
			t.Fatal(err)
		}
		start := "hiddenStart" + strings.TrimPrefix(v.golden, "hidden")
		near(t, v.name+" at the start", -2*got, want[start][0], 1e-10)
		f, err := FitRatings(r, Model{}, errors)
		if err != nil {
			t.Fatal(err)
		}
		if !f.Converged {
			t.Errorf("%s: did not converge", v.name)
		}
		near(t, v.name+" as published", f.MinusTwoLogL, v.published, 2e-7)
		near(t, v.name, f.MinusTwoLogL, want[v.golden][0], 1e-9)
		for i, x := range append(want[v.golden+"Rates"], want[v.golden+"Errors"]...) {
			near(t, v.name+" "+f.Estimates[i].Name, f.Estimates[i].Value, x, 1e-3)
		}
	}
}

func TestSmallHiddenPanelAgainstMsm(t *testing.T) {
	r := ratingsOf(t, cavOneWay(), smallPanel(t, 0), Inspected)
	errors := RatingError{Errors: cavErrors, Start: []float64{.1, .1, .1, .1}}
	theta := startOf(t, r, []float64{.148, .0171, .202, .081, .126}, errors)
	got, _, err := RatingsLogLikelihood(r, Model{}, errors, theta)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "−2 log L", -2*got, loadGolden(t)["panelHidden"][0], 1e-12)
}

func TestHiddenGradientAgainstDifferences(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	r := ratingsOf(t, cavOneWay(), smallPanel(t, 1), FailedThen)
	errors := RatingError{Errors: cavErrors}
	model := Model{EstimateK: true, EffectGroups: SharedEffects(cavOneWay(), 1)}
	theta := []float64{-2, -3, -1.5, -2.5, -2, .3, 1.2, -3, -2, -2.5, -2}
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

// Without errors the hidden chain is the plain one.
func TestHiddenWithoutErrorsIsThePlainChain(t *testing.T) {
	seen := smallPanel(t, 1)
	theta := []float64{-1, -3, -2, -1, -3, -2, -1.5, .2, 1}
	model := Model{EffectGroups: SharedEffects(cavMoves(), 1), EstimateK: true}
	want, _, err := LogLikelihood(panelOf(t, cavMoves(), seen, FailedThen), model, theta)
	if err != nil {
		t.Fatal(err)
	}
	got, _, err := RatingsLogLikelihood(ratingsOf(t, cavMoves(), seen, FailedThen), model, RatingError{FirstTrue: true}, theta)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "log-likelihood", got, want, 1e-12)
}

// An invented network with 5 % of rating errors gives its rates back, where
// the plain chain, which must leave improvements out, is far off.
func TestHiddenRecovers(t *testing.T) {
	rates := []float64{.2, .15, .1}
	r, _ := NewRatings(Worsening(4), 0)
	random := rand.New(rand.NewPCG(7, 7))
	n := network{joints: 1500, intervals: 6, rates: rates, pieces: 1, years: everyTwoYears}
	rate := func(shares []float64) int {
		for state, s := range shares {
			if s > 0.5 {
				if random.Float64() < 0.05 {
					if state == 0 || state < 3 && random.Float64() < 0.5 {
						return state + 1
					}
					return state - 1
				}
				return state
			}
		}
		return -1
	}
	n.simulate(random, func(joint int, seen []Interval) {
		if err := r.Begin(joint, 0); err != nil {
			t.Fatal(err)
		}
		for _, v := range seen {
			if _, err := r.Add(Rating{Years: v.Years, State: rate(v.After)}); err != nil {
				t.Fatal(err)
			}
		}
	})
	f, err := FitRatings(r, Model{}, RatingError{Errors: Moves{{0, 1}, {1, 0}, {1, 2}, {2, 1}, {2, 3}, {3, 2}}, FirstTrue: true})
	if err != nil || !f.Converged {
		t.Fatal(err, f)
	}
	for i, want := range append(append([]float64{}, rates...), .05, .025, .025, .025, .025, .05) {
		e := f.Estimates[i]
		z := math.Log(e.Value / want)
		if i >= 3 {
			z -= math.Log((1 - e.Value) / (1 - want))
		}
		if math.Abs(z) > 3.5*e.LogSE {
			t.Errorf("%s: %.4f (log error %.3f), want %.4f", e.Name, e.Value, e.LogSE, want)
		}
	}
}

func TestRatingsThatErrorsDoNotAllow(t *testing.T) {
	r, _ := NewRatings(Worsening(3), 0)
	if err := r.Begin(1, 0); err != nil {
		t.Fatal(err)
	}
	for _, state := range []int{2, 0} { // back from the worst, and no error leads there
		if _, err := r.Add(Rating{Years: 1, State: state}); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := FitRatings(r, Model{}, RatingError{Errors: Moves{{0, 1}}}); !errors.Is(err, ErrImpossible) {
		t.Errorf("error %v, want ErrImpossible", err)
	}
}
