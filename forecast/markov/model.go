package markov

import (
	"fmt"
	"math"
)

// Model is what to estimate from a panel. The zero value is the plain chain:
// one rate for each move, each covariate with an effect of its own on each
// move, no differences between joints, one piece, no prior.
//
// Its parameters are, in this order: the logarithm of each rate per year with
// all covariates at 0, the effects of each covariate in turn (log hazard
// ratios), and log k where k is estimated.
//
//	log q_rs(x) = β_rs0 + β_rs · x
type Model struct {
	// Covariates are the names of the covariates, for the names of estimates;
	// where they are missing they are x1, x2 and so on.
	Covariates []string
	// RateGroups gives for each move the number of its rate, from 0: moves of
	// one number share a rate. Nil is a rate for each move.
	RateGroups []int
	// EffectGroups gives for each covariate and each move the number of its
	// effect, from 0 within the covariate, or -1 for none. Nil, or nil for a
	// covariate, is an effect for each move.
	EffectGroups [][]int
	// K is the k of the pace, Z ~ Gamma(k, k); 0 means no differences between
	// joints. With EstimateK it is the value to start from (0 means 4).
	K         float64
	EstimateK bool
	// Pieces is the number w of independent pieces in a joint, 0 means 1. With
	// EstimatePieces it is the value to start from (0 means 3).
	Pieces         float64
	EstimatePieces bool
	// SiteShare is the probability ρ, 0 to 1, that a life begun with Renew has the
	// pace of the one before it; 0 means that each life has a pace of its own. It
	// is estimated by FitSiteShare alone.
	SiteShare float64
	// GridPoints for the pace; 0 means GridPoints.
	GridPoints int
	// Prior gives a normal prior for parameters in their order. Missing ones,
	// and those with an SD of 0, are flat.
	Prior []Prior
	// Start gives parameters to start from; nil means crude rates from the
	// data, and no effects.
	Start []float64
}

// Prior is a normal prior on one parameter, on the scale of the parameter: for
// a rate its logarithm, so that an SD of 0.7 is a factor of 2 either way.
type Prior struct{ Mean, SD float64 }

// SharedEffects returns effect groups in which each covariate has one effect,
// the same on every move.
func SharedEffects(moves Moves, covariates int) [][]int {
	groups := make([][]int, covariates)
	for c := range groups {
		groups[c] = make([]int, len(moves))
	}
	return groups
}

// Chain returns the chain for a row of covariates at given parameters: those of
// a fit, or a draw of them.
func (m Model) Chain(moves Moves, theta, x []float64) (Chain, error) {
	d, err := newDesign(moves, len(x), m)
	if err != nil {
		return Chain{}, err
	}
	if len(theta) < d.params {
		return Chain{}, fmt.Errorf("%w chain: %d parameters, the model has %d", ErrInvalid, len(theta), d.params)
	}
	rates := make([]float64, len(moves))
	d.rates(rates, theta, x)
	return NewChain(moves, rates)
}

// Pace returns the grid of paces at given parameters of a model of the moves
// and number of covariates.
func (m Model) Pace(moves Moves, covariates int, theta []float64) (Pace, error) {
	d, err := newDesign(moves, covariates, m)
	if err != nil {
		return Pace{}, err
	}
	if len(theta) < d.params {
		return Pace{}, fmt.Errorf("%w pace: %d parameters, the model has %d", ErrInvalid, len(theta), d.params)
	}
	k := d.k(m, theta)
	if k == 0 {
		k = math.Inf(1)
	}
	return NewPace(k, m.GridPoints)
}

// design maps parameters to rates.
type design struct {
	rate   []int   // parameter of each move's rate
	effect [][]int // parameter of each covariate's effect on each move, or -1
	names  []string
	logK   int // parameter, or -1
	params int
}

func newDesign(moves Moves, covariates int, m Model) (*design, error) {
	d := &design{logK: -1}
	groups := m.RateGroups
	if groups == nil {
		groups = ownGroups(len(moves))
	}
	var err error
	if d.rate, err = d.add(moves, groups, "rate", false); err != nil {
		return nil, err
	}
	if m.EffectGroups != nil && len(m.EffectGroups) != covariates {
		return nil, fmt.Errorf("%w model: effect groups for %d covariates, the panel has %d", ErrInvalid, len(m.EffectGroups), covariates)
	}
	for c := range covariates {
		groups := ownGroups(len(moves))
		if m.EffectGroups != nil && m.EffectGroups[c] != nil {
			groups = m.EffectGroups[c]
		}
		at, err := d.add(moves, groups, m.covariate(c), true)
		if err != nil {
			return nil, err
		}
		d.effect = append(d.effect, at)
	}
	if m.EstimateK {
		d.logK = d.params
		d.names = append(d.names, "k")
		d.params++
	}
	switch {
	case len(m.Prior) > d.params:
		return nil, fmt.Errorf("%w model: %d priors for %d parameters", ErrInvalid, len(m.Prior), d.params)
	case m.Start != nil && len(m.Start) != d.params:
		return nil, fmt.Errorf("%w model: %d starting values for %d parameters", ErrInvalid, len(m.Start), d.params)
	case !(m.SiteShare >= 0 && m.SiteShare <= 1):
		return nil, fmt.Errorf("%w model: a site share of %v", ErrInvalid, m.SiteShare)
	case m.K < 0 || m.Pieces < 0 || math.IsNaN(m.K) || math.IsNaN(m.Pieces):
		return nil, fmt.Errorf("%w model: k %v, pieces %v", ErrInvalid, m.K, m.Pieces)
	}
	return d, nil
}

func (m Model) covariate(c int) string {
	if c < len(m.Covariates) {
		return m.Covariates[c]
	}
	return fmt.Sprintf("x%d", c+1)
}

func ownGroups(n int) []int {
	groups := make([]int, n)
	for i := range groups {
		groups[i] = i
	}
	return groups
}

// add gives parameters to groups of moves and returns the parameter of each
// move.
func (d *design) add(moves Moves, groups []int, name string, optional bool) ([]int, error) {
	if len(groups) != len(moves) {
		return nil, fmt.Errorf("%w model: %d groups for %d moves", ErrInvalid, len(groups), len(moves))
	}
	at := make([]int, len(moves))
	count := 0
	for i, g := range groups {
		if g < 0 && optional {
			at[i] = -1
			continue
		}
		if g < 0 || g > count {
			return nil, fmt.Errorf("%w model: groups of %s must be numbered from 0 as they appear", ErrInvalid, name)
		}
		if g == count {
			count++
			d.names = append(d.names, name+" "+moves[i].String())
		}
		at[i] = d.params + g
	}
	d.params += count
	return at, nil
}

// rates writes the rates for a row of covariates.
func (d *design) rates(dst, theta, x []float64) {
	for m, at := range d.rate {
		eta := theta[at]
		for c, v := range x {
			if e := d.effect[c][m]; e >= 0 {
				eta += theta[e] * v
			}
		}
		dst[m] = math.Exp(eta)
	}
}

// addGradient adds to gradient the derivative by the parameters, given that by
// the log rates for a row of covariates.
func (d *design) addGradient(gradient, byMove, x []float64) {
	for m, at := range d.rate {
		gradient[at] += byMove[m]
		for c, v := range x {
			if e := d.effect[c][m]; e >= 0 {
				gradient[e] += v * byMove[m]
			}
		}
	}
}

// logs returns the logarithms.
func logs(x []float64) []float64 {
	y := make([]float64, len(x))
	for i, v := range x {
		y[i] = math.Log(v)
	}
	return y
}
