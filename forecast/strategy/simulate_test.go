package strategy

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"reseal/forecast/markov"
)

// kindOfSeal is a chain of four states with the rule of failure, from package
// markov, whose own tests compare it with R's msm.
type kindOfSeal struct {
	chain markov.Chain
	rule  markov.Failure
}

func (k kindOfSeal) failed(shares []float64, pace, years float64) float64 {
	p := make([]float64, 16)
	k.chain.P(p, pace*years)
	return k.rule.Probability(shares, p)
}

func (k kindOfSeal) curve(shares, paces, weights []float64) Curve {
	c := make(Curve, Points)
	for i, t := range Times() {
		for g, z := range paces {
			c[i] += weights[g] * k.failed(shares, z, t)
		}
	}
	return c
}

// byPace holds the curve of each pace, from which the simulation draws.
func (k kindOfSeal) byPace(shares, paces []float64) []Curve {
	out := make([]Curve, len(paces))
	for g := range paces {
		out[g] = k.curve(shares, paces[g:g+1], []float64{1})
	}
	return out
}

// failsAt draws the age in years at which a seal fails.
func failsAt(r *rand.Rand, c Curve) float64 {
	u := r.Float64()
	i, _ := slices.BinarySearch(c, u)
	switch {
	case i == 0:
		return 0
	case i == len(c):
		return math.Inf(1)
	}
	return (float64(i-1) + (u-c[i-1])/(c[i]-c[i-1])) / StepsPerYear
}

func pick(r *rand.Rand, weights []float64) int {
	u := r.Float64()
	for g, w := range weights {
		if u -= w; u < 0 {
			return g
		}
	}
	return len(weights) - 1
}

// Each run draws the joint's pace, the age at which each seal fails and whether
// the next one keeps the pace, and adds up the dollars as they fall due through
// 1,000 years. 100,000 runs of each strategy; the expected cost lies within
// four standard errors of their mean.
func TestExpectedCostAgainstSimulation(t *testing.T) {
	if testing.Short() {
		t.Skip("100,000 runs of each strategy")
	}
	pace, err := markov.NewPace(4, 0)
	if err != nil {
		t.Fatal(err)
	}
	chain, err := markov.WorseningChain(5, 3, 3)
	if err != nil {
		t.Fatal(err)
	}
	kind := kindOfSeal{chain, markov.Failure{}}
	posterior := make([]float64, len(pace.Prior)) // a joint faster than most
	sum := 0.0
	for g, w := range pace.Prior {
		posterior[g] = w * pace.Z[g] * pace.Z[g]
		sum += posterior[g]
	}
	for g := range posterior {
		posterior[g] /= sum
	}
	worn, asNew := []float64{0.4, 0.4, 0.15, 0.05}, []float64{1, 0, 0, 0}
	const consequence, cost = 6000.0, 18000.0
	terms := Terms{Years: 20, Rate: 0.03, SiteShare: 0.5}
	v := mustValue(t, Joint{
		Now: kind.curve(worn, pace.Z, posterior), ConsequenceDollars: consequence,
		Treatments: []Treatment{{
			Name: "reseal", CostDollars: cost, Effect: Renews,
			Site: kind.curve(asNew, pace.Z, posterior), Group: kind.curve(asNew, pace.Z, pace.Prior),
		}},
	}, terms)
	now, fresh := kind.byPace(worn, pace.Z), kind.byPace(asNew, pace.Z)

	for s, actions := range [][]Action{nil, {{0, 0}}, {{0, 4}}, {{0, 2}, {0, 12}}} {
		want := mustCost(t, v, actions...).Total()
		renewals := renewalTimes(v, actions)
		r := rand.New(rand.NewPCG(5, uint64(s)))
		const runs = 100_000
		total, squares := 0.0, 0.0
		for range runs {
			d := simulate(r, renewals, now, fresh, pace, posterior, terms, consequence, cost)
			total += d
			squares += d * d
		}
		mean := total / runs
		se := math.Sqrt((squares/runs - mean*mean) / runs)
		if math.Abs(mean-want) > 4*se {
			t.Errorf("%v: expected %.1f, simulated %.1f, standard error %.1f", actions, want, mean, se)
		}
		if se > 0.01*mean {
			t.Errorf("%v: a standard error of %.1f is too wide to tell anything", actions, se)
		}
	}
}

// renewalTimes are the years of the actions and then of the renewals that the
// value chooses past the horizon.
func renewalTimes(v *Value, actions []Action) []float64 {
	var times []float64
	seal, since := v.now, 0
	for i, a := range actions {
		since = middle(a.Year)
		seal = v.sealed[a.Treatment][i+1]
		times = append(times, float64(since)/StepsPerYear)
	}
	next := since + seal.at[v.terms.Years*StepsPerYear-since]
	years := float64(next) / StepsPerYear
	for years < 1000 {
		times = append(times, years)
		years += v.next[min(len(actions), generations)].AgeYears
	}
	return times
}

func simulate(r *rand.Rand, renewals []float64, now, fresh []Curve, pace markov.Pace, posterior []float64, terms Terms, consequence, cost float64) float64 {
	delta := math.Log1p(terms.Rate)
	g := pick(r, posterior)
	dollars, since, life := 0.0, 0.0, now[g]
	for _, at := range renewals {
		if fails := since + failsAt(r, life); fails < at {
			dollars += consequence * (math.Exp(-delta*fails) - math.Exp(-delta*at)) / delta
		}
		dollars += cost * math.Exp(-delta*at)
		if r.Float64() >= terms.SiteShare {
			g = pick(r, pace.Prior)
		}
		since, life = at, fresh[g]
	}
	return dollars
}
