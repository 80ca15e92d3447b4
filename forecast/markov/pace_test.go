package markov

import (
	"errors"
	"math"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
)

func TestPaceIntegratesTheGamma(t *testing.T) {
	for _, k := range []float64{0.5, 1, 4, 10, 100, 1000} {
		p, err := NewPace(k, 0)
		if err != nil {
			t.Fatal(err)
		}
		// E Z = 1, Var Z = 1/k, E exp(-aZ) = (1 + a/k)^-k
		variance, laplace := 0.0, 0.0
		for g, z := range p.Z {
			variance += p.Prior[g] * (z - 1) * (z - 1)
			laplace += p.Prior[g] * math.Exp(-1.5*z)
		}
		tolerance := 2e-4
		if k <= 1 {
			tolerance = 0.03 * (1.1 - k) // the slowest joints are cut off
		}
		if got := p.Mean(p.Prior); math.Abs(got-1) > 1e-12 {
			t.Errorf("k %v: mean %v", k, got)
		}
		if math.Abs(variance*k-1) > 10*tolerance {
			t.Errorf("k %v: variance %v, want %v", k, variance, 1/k)
		}
		if want := math.Pow(1+1.5/k, -k); math.Abs(laplace-want) > tolerance {
			t.Errorf("k %v: E exp(-1.5 Z) = %v, want %v", k, laplace, want)
		}
	}
}

// The posterior mean against gonum's adaptive quadrature over the density.
func TestPosteriorAgainstQuadrature(t *testing.T) {
	c, _ := NewChain(Worsening(4), []float64{0.2, 0.15, 0.1})
	life := []Interval{
		{Years: 2, Before: []float64{1, 0, 0, 0}, After: []float64{0.4, 0.5, 0.1, 0}},
		{Years: 2.5, Before: []float64{0.4, 0.5, 0.1, 0}, After: []float64{0.2, 0.4, 0.3, 0.1}},
		{Years: 1.5, Before: []float64{0.2, 0.4, 0.3, 0.1}, After: []float64{0, 0.3, 0.4, 0.3}},
	}
	const k, w = 4, 3
	prior := distuv.Gamma{Alpha: k, Beta: k}
	like := func(z float64) float64 {
		logL := 0.0
		for _, v := range life {
			flow, p := make([]float64, 16), c.P(make([]float64, 16), z*v.Years)
			if err := Match(flow, v.Before, v.After); err != nil {
				t.Fatal(err)
			}
			for i, s := range flow {
				if s > 0 {
					logL += w * s * math.Log(p[i])
				}
			}
		}
		return math.Exp(logL) * prior.Prob(z)
	}
	norm := quad.Fixed(like, 0, 8, 400, quad.Legendre{}, 0)
	want := quad.Fixed(func(z float64) float64 { return z * like(z) }, 0, 8, 400, quad.Legendre{}, 0) / norm
	pace, _ := NewPace(k, 0)
	weights := make([]float64, len(pace.Z))
	if err := pace.Posterior(weights, pace.Prior, c, life, w); err != nil {
		t.Fatal(err)
	}
	if got := pace.Mean(weights); math.Abs(got-want) > 1e-3*want {
		t.Errorf("posterior mean pace %v, want %v", got, want)
	}
	renewed := make([]float64, len(weights))
	pace.Renew(renewed, weights, 0.5)
	if got := pace.Mean(renewed); math.Abs(got-(1+want)/2) > 1e-3 {
		t.Errorf("pace of the next seal %v, want %v", got, (1+want)/2)
	}
}

func TestPosteriorRefusesImprovement(t *testing.T) {
	c, _ := WorseningChain(3, 3)
	pace, _ := NewPace(4, 0)
	life := []Interval{{Years: 2, Before: []float64{0.5, 0.5, 0}, After: []float64{0.8, 0.2, 0}}}
	err := pace.Posterior(make([]float64, len(pace.Z)), pace.Prior, c, life, 3)
	if !errors.Is(err, ErrImpossible) {
		t.Errorf("error %v, want ErrImpossible", err)
	}
}

func TestMatch(t *testing.T) {
	for _, test := range []struct {
		name          string
		before, after []float64
		want          []float64
		err           error
	}{
		{"new seal", []float64{1, 0, 0}, []float64{0.5, 0.3, 0.2}, []float64{0.5, 0.3, 0.2, 0, 0, 0, 0, 0, 0}, nil},
		{"worst stay worst", []float64{0.6, 0.4, 0}, []float64{0.3, 0.5, 0.2}, []float64{0.3, 0.3, 0, 0, 0.2, 0.2, 0, 0, 0}, nil},
		{"nothing happened", []float64{0.25, 0.5, 0.25}, []float64{0.25, 0.5, 0.25}, []float64{0.25, 0, 0, 0, 0.5, 0, 0, 0, 0.25}, nil},
		{"improved", []float64{0.25, 0.5, 0.25}, []float64{0.5, 0.25, 0.25}, nil, ErrImpossible},
		{"too much", []float64{0.25, 0.5, 0.5}, []float64{0.5, 0.25, 0.25}, nil, ErrInvalid},
	} {
		got := make([]float64, 9)
		err := Match(got, test.before, test.after)
		if !errors.Is(err, test.err) {
			t.Errorf("%s: error %v, want %v", test.name, err, test.err)
		}
		for i, want := range test.want {
			if math.Abs(got[i]-want) > 1e-12 {
				t.Errorf("%s: flow %d is %v, want %v", test.name, i, got[i], want)
			}
		}
	}
}
