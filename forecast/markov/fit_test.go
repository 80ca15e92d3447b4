package markov

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"
)

// network is an invented network of joints.
type network struct {
	joints, intervals int
	rates             []float64
	k                 float64 // of the pace; 0 for none
	pieces            int
	years             func(*rand.Rand) float64 // between inspections
}

// simulate draws the joints' pieces and inspects them, and hands each joint's
// intervals to life.
func (n network) simulate(r *rand.Rand, life func(joint int, seen []Interval)) {
	states := len(n.rates) + 1
	for j := range n.joints {
		z := 1.0
		if n.k > 0 {
			z = gamma(r, n.k) / n.k
		}
		state := make([]int, n.pieces)
		before := make([]float64, states)
		before[0] = 1
		var seen []Interval
		for range n.intervals {
			years := n.years(r)
			after := make([]float64, states)
			for i := range state {
				for left := years; state[i] < states-1; state[i]++ {
					if left -= r.ExpFloat64() / (z * n.rates[state[i]]); left < 0 {
						break
					}
				}
				after[state[i]] += 1 / float64(n.pieces)
			}
			seen = append(seen, Interval{Years: years, Before: before, After: after})
			before = after
		}
		life(j, seen)
	}
}

// gamma draws from Gamma(k, 1) by Marsaglia & Tsang (2000), ACM TOMS 26:363.
func gamma(r *rand.Rand, k float64) float64 {
	if k < 1 {
		return gamma(r, k+1) * math.Pow(r.Float64(), 1/k)
	}
	d := k - 1.0/3
	c := 1 / math.Sqrt(9*d)
	for {
		x := r.NormFloat64()
		v := (1 + c*x) * (1 + c*x) * (1 + c*x)
		if v > 0 && math.Log(r.Float64()) < x*x/2+d-d*v+d*math.Log(v) {
			return d * v
		}
	}
}

func everyTwoYears(*rand.Rand) float64 { return 2 }

func (n network) panel(t testing.TB, r *rand.Rand) *Panel {
	t.Helper()
	p, err := NewPanel(Worsening(len(n.rates)+1), 0)
	if err != nil {
		t.Fatal(err)
	}
	n.simulate(r, func(joint int, seen []Interval) {
		p.Begin(joint)
		for _, v := range seen {
			if taken, err := p.Add(v); !taken || err != nil {
				t.Fatal(taken, err)
			}
		}
	})
	return p
}

// mixedModel has every part of the likelihood: covariates shared and apart,
// paces, pieces, starts, deaths.
func mixedPanel(t testing.TB, r *rand.Rand, order []int) *Panel {
	t.Helper()
	n := network{joints: 40, intervals: 3, rates: []float64{.3, .2, .2}, k: 4, pieces: 3, years: func(r *rand.Rand) float64 {
		return 0.5 + float64(r.IntN(5))/2
	}}
	lives := make([][]Interval, n.joints)
	n.simulate(r, func(joint int, seen []Interval) { lives[joint] = seen })
	p, err := NewPanel(Worsening(4), 2)
	if err != nil {
		t.Fatal(err)
	}
	for _, joint := range order {
		x := []float64{float64(joint % 2), float64(joint%3) / 2}
		p.Begin(joint / 2)
		seen := lives[joint]
		switch joint % 4 {
		case 1:
			err = p.StartedAt(seen[0].After, x, Start{AgeYears: 3, RecordAgeYears: 2})
		case 2:
			err = p.StartedAt(seen[0].After, x, Start{AgeYears: 1, Weight: 2}, Start{AgeYears: 3})
		case 3:
			err = p.StartedAt(seen[0].After, x, Start{AgeYears: 4, RecordAgeYears: 1}, Start{AgeYears: 5, RecordAgeYears: 2})
		}
		if err != nil {
			t.Fatal(err)
		}
		if joint%4 > 0 {
			seen = seen[1:]
		}
		for i, v := range seen {
			v.X = x
			if i == 1 && joint%5 == 0 && v.Before[3] == 0 {
				v.Seen = NotYetFailed
			}
			if _, err := p.Add(v); err != nil {
				t.Fatal(err)
			}
		}
	}
	return p
}

var mixedModel = Model{EffectGroups: [][]int{{0, 0, 0}, {0, -1, 1}}, EstimateK: true, Pieces: 3}

func TestGradientAgainstDifferences(t *testing.T) {
	order := rand.New(rand.NewPCG(1, 2)).Perm(40)
	seen := smallPanel(t, 1)
	both, err := NewPanel(cavMoves(), 0)
	if err != nil {
		t.Fatal(err)
	}
	both.Begin(1)
	for range 2 {
		if taken, err := both.Add(Interval{Years: 1.5, Before: []float64{.5, .3, .2, 0}, After: []float64{.6, .1, .2, .1}}); !taken || err != nil {
			t.Fatal(taken, err)
		}
	}
	// At a fast pace a seal of 54 years has failed but for 1 part in 10¹⁴: that it did so
	// in the last years is a difference of numbers next to 1.
	old, err := NewPanel(Worsening(4), 0)
	if err != nil {
		t.Fatal(err)
	}
	old.Begin(1)
	if err := old.StartedAt([]float64{.3, .3, .38, .02}, nil, Start{AgeYears: 2, RecordAgeYears: 1}, Start{AgeYears: 55, RecordAgeYears: 53.75}); err != nil {
		t.Fatal(err)
	}
	removed, err := NewPanel(Worsening(4), 0)
	if err != nil {
		t.Fatal(err)
	}
	for bridge := range 3 {
		removed.Begin(bridge)
		for _, v := range []Interval{
			{Years: 2, Before: []float64{1, 0, 0, 0}, After: []float64{.5, .3, .2, 0}},
			{Years: 1.5, Before: []float64{.5, .3, .2, 0}, Seen: FailedSince},
		} {
			if taken, err := removed.Add(v); !taken || err != nil {
				t.Fatal(taken, err)
			}
		}
	}
	for _, v := range []struct {
		name  string
		panel *Panel
		model Model
		theta []float64
	}{
		{"removed worn out", removed, Model{EstimateK: true, Pieces: 3}, []float64{-1.5, -1.8, -2, 1.3}},
		{"old seals", old, Model{EstimateK: true, Pieces: 3}, []float64{-1.25, -.85, -1.2, 1.3}},
		{"joints", mixedPanel(t, rand.New(rand.NewPCG(3, 4)), order), mixedModel, []float64{-1.2, -1.7, -1.5, .2, .1, -.3, 1.1}},
		{"exact deaths", panelOf(t, cavMoves(), seen, FailedThen), Model{}, []float64{-1, -3, -2, -1, -3, -2, -1.5, .1, .2, .3, .4, .5, .6, .7}},
		{"shares both ways", both, Model{EstimateK: true}, []float64{-1, -3, -2, -1, -3, -2, -1.5, 1}},
	} {
		_, gradient, err := LogLikelihood(v.panel, v.model, v.theta)
		if err != nil {
			t.Fatal(err)
		}
		const h = 1e-5
		for i, got := range gradient {
			at := append([]float64(nil), v.theta...)
			at[i] = v.theta[i] + h
			up, _, _ := LogLikelihood(v.panel, v.model, at)
			at[i] = v.theta[i] - h
			down, _, _ := LogLikelihood(v.panel, v.model, at)
			if want := (up - down) / (2 * h); math.Abs(got-want) > 1e-6*(1+math.Abs(want)) {
				t.Errorf("%s: derivative %d is %v, want %v", v.name, i, got, want)
			}
		}
	}
}

// To have failed within some years and not to have are all that can be.
func TestFailedSinceOrNot(t *testing.T) {
	probability := func(seen Seen) float64 {
		p, err := NewPanel(Worsening(4), 0)
		if err != nil {
			t.Fatal(err)
		}
		p.Begin(1)
		if taken, err := p.Add(Interval{Years: 3, Before: []float64{.4, .35, .25, 0}, Seen: seen}); !taken || err != nil {
			t.Fatal(taken, err)
		}
		value, _, err := LogLikelihood(p, Model{Pieces: 2.5}, []float64{-1.5, -1.8, -2})
		if err != nil {
			t.Fatal(err)
		}
		return math.Exp(value)
	}
	if failed, not := probability(FailedSince), probability(NotYetFailed); failed < 0.05 || math.Abs(failed+not-1) > 1e-12 {
		t.Errorf("failed %v, not %v: they do not add up to 1", failed, not)
	}
	p, err := NewPanel(Worsening(4), 0)
	if err != nil {
		t.Fatal(err)
	}
	p.Begin(1)
	if taken, err := p.Add(Interval{Years: 3, Before: []float64{.5, .25, 0, .25}, Seen: FailedSince}); taken || err != nil {
		t.Errorf("failed before it began: taken %v, %v", taken, err)
	}
}

// The scores of the sandwich add up to the gradient.
func TestScoresAddUp(t *testing.T) {
	p := mixedPanel(t, rand.New(rand.NewPCG(3, 4)), rand.New(rand.NewPCG(1, 2)).Perm(40))
	theta := []float64{-1.2, -1.7, -1.5, .2, .1, -.3, 1.1}
	_, gradient, err := LogLikelihood(p, mixedModel, theta)
	if err != nil {
		t.Fatal(err)
	}
	d, err := newDesign(p.moves, p.covariates, mixedModel)
	if err != nil {
		t.Fatal(err)
	}
	e := newEvaluator(p, d)
	e.w = 3
	if err := e.setPace(math.Exp(1.1), 0); err != nil {
		t.Fatal(err)
	}
	scores := e.clusterScores(theta)
	for i, want := range gradient {
		got := 0.0
		for c := range len(p.clusterOf) {
			got += scores[c*d.params+i]
		}
		if math.Abs(got-want) > 1e-9*(1+math.Abs(want)) {
			t.Errorf("scores of parameter %d add up to %v, want %v", i, got, want)
		}
	}
}

func TestOrderOfLivesIsIrrelevant(t *testing.T) {
	theta := []float64{-1.2, -1.7, -1.5, .2, .1, -.3, 1.1}
	var first float64
	for i := range 4 {
		order := rand.New(rand.NewPCG(uint64(i), 0)).Perm(40)
		got, _, err := LogLikelihood(mixedPanel(t, rand.New(rand.NewPCG(3, 4)), order), mixedModel, theta)
		if err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			first = got
		}
		near(t, "log-likelihood", got, first, 1e-12)
	}
}

// Rows merged or split change nothing: an interval of four pieces is two rows
// of two pieces each, in one life.
func TestRowsMergedOrSplit(t *testing.T) {
	before, after := []float64{.6, .4, 0}, []float64{.3, .4, .3}
	fill := func(rows int) *Panel {
		p, err := NewPanel(Worsening(3), 0)
		if err != nil {
			t.Fatal(err)
		}
		p.Begin(1)
		for range rows {
			if taken, err := p.Add(Interval{Years: 2, Before: before, After: after}); !taken || err != nil {
				t.Fatal(taken, err)
			}
		}
		return p
	}
	for _, model := range []Model{{}, {K: 3}} {
		theta := []float64{-1, -1.5}
		model.Pieces = 4
		one, _, _ := LogLikelihood(fill(1), model, theta)
		model.Pieces = 2
		two, _, _ := LogLikelihood(fill(2), model, theta)
		near(t, "log-likelihood", two, one, 1e-12)
	}
}

// An inspection that says nothing new splits an interval in two; in a chain
// without paces the likelihood of both states seen is a product, so a panel
// with each subject's intervals as subjects of their own is the same panel.
func TestSplittingLivesOfAPlainChain(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	seen := smallPanel(t, 0)
	whole := panelOf(t, cavMoves(), seen, Inspected)
	split, _ := NewPanel(cavMoves(), 0)
	for i := 1; i < len(seen); i++ {
		if seen[i].subject == seen[i-1].subject {
			split.Begin(i)
			if taken, err := split.Add(Interval{Years: seen[i].time - seen[i-1].time, Before: split.At(seen[i-1].state), After: split.At(seen[i].state)}); !taken || err != nil {
				t.Fatal(taken, err)
			}
		}
	}
	a, b := mustFit(t, whole, Model{}), mustFit(t, split, Model{})
	near(t, "−2 log L", b.MinusTwoLogL, a.MinusTwoLogL, 1e-12)
	for i := range a.Theta {
		near(t, a.Estimates[i].Name, b.Estimates[i].Value, a.Estimates[i].Value, 1e-6)
	}
}

// A whole joint entered as its pieces, one subject each with weight 1, has the
// likelihood of the joint with as many pieces, when joints don't differ.
func TestPiecesAreSubjects(t *testing.T) {
	joint, _ := NewPanel(Worsening(3), 0)
	joint.Begin(1)
	third := 1.0 / 3
	if _, err := joint.Add(Interval{Years: 2, Before: []float64{1, 0, 0}, After: []float64{third, third, third}}); err != nil {
		t.Fatal(err)
	}
	pieces, _ := NewPanel(Worsening(3), 0)
	for s := range 3 {
		pieces.Begin(s)
		if _, err := pieces.Add(Interval{Years: 2, Before: pieces.At(0), After: pieces.At(s)}); err != nil {
			t.Fatal(err)
		}
	}
	theta := []float64{-1, -1.3}
	a, _, _ := LogLikelihood(joint, Model{Pieces: 3}, theta)
	b, _, _ := LogLikelihood(pieces, Model{}, theta)
	near(t, "log-likelihood", a, b, 1e-12)
}

func TestPriors(t *testing.T) {
	empty, _ := NewPanel(Worsening(3), 0)
	if _, err := FitPanel(empty, Model{}); !errors.Is(err, ErrInvalid) {
		t.Errorf("empty panel without priors: error %v", err)
	}
	prior := []Prior{{-1.5, 0.3}, {-2, 0.4}}
	f := mustFit(t, empty, Model{Prior: prior})
	for i, p := range prior {
		near(t, "mean", f.Theta[i], p.Mean, 1e-9)
		near(t, "sd", math.Sqrt(f.Covariance[i*2+i]), p.SD, 1e-6)
		near(t, "robust sd", math.Sqrt(f.Sandwich[i*2+i]), p.SD, 1e-6)
	}
}

// Seals that never change tell nothing but that they last: without a prior the
// fit must not pretend to have found a rate.
func TestTooFewData(t *testing.T) {
	p, _ := NewPanel(Worsening(3), 0)
	for seal := range 20 {
		p.Begin(seal)
		if _, err := p.Add(Interval{Years: 2, Before: p.At(0), After: p.At(0)}); err != nil {
			t.Fatal(err)
		}
	}
	f, err := FitPanel(p, Model{})
	if err != nil {
		t.Fatal(err)
	}
	if f.Converged || f.Covariance != nil {
		t.Errorf("converged on %+v", f.Estimates)
	}
	prior := []Prior{{math.Log(.2), .5}, {math.Log(.1), .5}}
	f = mustFit(t, p, Model{Prior: prior})
	if got := f.Estimates[0].Value; got >= .2 || got < .02 {
		t.Errorf("rate 1-2 is %v, want less than the prior's 0.2", got)
	}
	near(t, "rate 2-3, of which nothing is seen", f.Estimates[1].Value, .1, 1e-6)
}

func TestCountsSayWhatIsLeftOut(t *testing.T) {
	p, _ := NewPanel(Worsening(3), 0)
	p.Begin(1)
	for _, v := range []Interval{
		{Years: 2, Before: []float64{1, 0, 0}, After: []float64{.5, .5, 0}},
		{Years: 2, Before: []float64{.5, .5, 0}, After: []float64{1, 0, 0}},
		{Years: 0, Before: []float64{1, 0, 0}, After: []float64{1, 0, 0}},
		{Years: 2, Before: []float64{1, .5, 0}, After: []float64{1, 0, 0}},
		{Years: 2, Before: []float64{0, 0, 1}, Seen: FailedThen},
	} {
		if _, err := p.Add(v); err != nil {
			t.Fatal(err)
		}
	}
	want := Counts{Lives: 1, Clusters: 1, Intervals: 1, Years: 2, Improved: 1, NoTime: 1, BadShares: 1, Impossible: 1}
	if got := p.Counts(); got != want || got.LeftOut() != 4 {
		t.Errorf("counts %+v, want %+v", got, want)
	}
}

// Where joints don't differ, k runs off to infinity, and the fit says so.
func TestJointsThatDoNotDiffer(t *testing.T) {
	n := network{joints: 300, intervals: 5, rates: []float64{.2, .15, .1}, pieces: 1, years: everyTwoYears}
	p := n.panel(t, rand.New(rand.NewPCG(11, 1)))
	a, b := mustFit(t, p, Model{EstimateK: true}), mustFit(t, p, Model{})
	if a.K != 0 && a.K < 8 {
		t.Errorf("k is %v, want none or a large one", a.K)
	}
	if a.MinusTwoLogL > b.MinusTwoLogL+1e-9 {
		t.Errorf("−2 log L %v, without paces %v", a.MinusTwoLogL, b.MinusTwoLogL)
	}
}

// From far and near starts the same optimum, at which the gradient is 0.
func TestStartsLeadToOneOptimum(t *testing.T) {
	p := mixedPanel(t, rand.New(rand.NewPCG(3, 4)), rand.New(rand.NewPCG(1, 2)).Perm(40))
	m := mixedModel
	m.EstimateK, m.K = false, 3
	want := mustFit(t, p, m)
	_, gradient, err := LogLikelihood(p, Model{EffectGroups: m.EffectGroups, K: 3, Pieces: 3}, want.Theta)
	if err != nil {
		t.Fatal(err)
	}
	for i, g := range gradient {
		if math.Abs(g) > 1e-6 {
			t.Errorf("derivative %d at the optimum is %v", i, g)
		}
	}
	for _, start := range [][]float64{{-1, -1, -1, 0, 0, 0}, {-4, -4, -4, 0, 0, 0}, {1, -3, 0, 1, -1, 1}} {
		m.Start = start
		got := mustFit(t, p, m)
		for i, x := range want.Theta {
			if math.Abs(got.Theta[i]-x) > 1e-5 {
				t.Errorf("from %v: parameter %d is %v, want %v", start, i, got.Theta[i], x)
			}
		}
	}
}

func TestDraws(t *testing.T) {
	n := network{joints: 300, intervals: 4, rates: []float64{.2, .15, .1}, k: 4, pieces: 3, years: everyTwoYears}
	f := mustFit(t, n.panel(t, rand.New(rand.NewPCG(6, 6))), Model{EstimateK: true, Pieces: 3})
	draws, err := f.Draws(20000, rand.New(rand.NewPCG(1, 1)))
	if err != nil {
		t.Fatal(err)
	}
	size := len(f.Theta)
	for i := range size {
		for j := range size {
			got := 0.0
			for _, d := range draws {
				got += (d[i] - f.Theta[i]) * (d[j] - f.Theta[j]) / 20000
			}
			sd := math.Sqrt(f.Sandwich[i*size+i] * f.Sandwich[j*size+j])
			if math.Abs(got-f.Sandwich[i*size+j]) > 0.05*sd {
				t.Errorf("covariance %d, %d: %v, want %v", i, j, got, f.Sandwich[i*size+j])
			}
		}
	}
	if _, err := (&Fit{Theta: []float64{1}}).Draws(2, rand.New(rand.NewPCG(1, 1))); !errors.Is(err, ErrInvalid) {
		t.Errorf("without a covariance: error %v", err)
	}
}

func ExampleFitPanel() {
	// Ten seals of two kinds (x = 0 and 1) seen every two years from new: the
	// share of their feet in CS1, CS2 and CS3 at each visit.
	panel, _ := NewPanel(Worsening(3), 1)
	for seal := range 10 {
		x := []float64{float64(seal % 2)}
		seen := [][]float64{{1, 0, 0}, {.7, .3, 0}, {.5, .3, .2}, {.2, .4, .4}}
		if seal%2 == 1 {
			seen = [][]float64{{1, 0, 0}, {.6, .2, .2}, {.2, .3, .5}}
		}
		panel.Begin(seal)
		for i := 1; i < len(seen); i++ {
			if _, err := panel.Add(Interval{Years: 2, Before: seen[i-1], After: seen[i], X: x}); err != nil {
				fmt.Println(err)
			}
		}
	}
	fit, err := FitPanel(panel, Model{
		Covariates:   []string{"poured"},
		EffectGroups: SharedEffects(Worsening(3), 1),
		Pieces:       3,
		Prior:        []Prior{{Mean: math.Log(0.1), SD: 1}, {Mean: math.Log(0.1), SD: 1}},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, e := range fit.Estimates {
		fmt.Printf("%s: %.2f\n", e.Name, e.Value)
	}
	// Output:
	// rate 1-2: 0.19
	// rate 2-3: 0.26
	// poured 1-2: 1.99
}

// The same bytes on any number of processors.
func TestFitIsDeterministic(t *testing.T) {
	n := network{joints: 300, intervals: 4, rates: []float64{.2, .15, .1}, k: 4, pieces: 3, years: everyTwoYears}
	p := n.panel(t, rand.New(rand.NewPCG(6, 6)))
	before := runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(before)
	a := mustFit(t, p, Model{EstimateK: true, EstimatePieces: true})
	runtime.GOMAXPROCS(4)
	b := mustFit(t, p, Model{EstimateK: true, EstimatePieces: true})
	if !slices.Equal(a.Theta, b.Theta) || !slices.Equal(a.Sandwich, b.Sandwich) || a.Pieces != b.Pieces {
		t.Errorf("one processor gives %v, four give %v", a.Theta, b.Theta)
	}
}
