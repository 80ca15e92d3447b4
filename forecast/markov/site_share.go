package markov

import (
	"math"
	"slices"
)

// SiteShare is an estimate of ρ, the probability that a new seal keeps the pace of
// the one before it, with its 95 % interval.
type SiteShare struct {
	Value float64 `json:"estimate"`
	Lower float64 `json:"lower_95"`
	Upper float64 `json:"upper_95"`
}

// Ends and fineness of the search for ρ.
const (
	leastShare = 0.01
	mostShare  = 0.99
	shareStep  = 0.01
)

// FitSiteShare is FitPanel with the model's SiteShare estimated beside its
// parameters: at the top of the profile of the posterior, with the prior
// Beta(2, 2), so that records which tell nothing give one half. Pieces are held
// while the profile is climbed, for it weighs the likelihood by them. The interval
// is that of a parabola through the top (Meeker & Escobar 1998, chapter 8, on
// profiles and normal approximations).
func FitSiteShare(p *Panel, m Model) (*Fit, SiteShare, error) {
	first, err := FitPanel(p, m)
	if err != nil {
		return nil, SiteShare{}, err
	}
	at := first.Model
	at.Pieces, at.EstimatePieces, at.Start = first.Pieces, false, first.Theta
	profile := func(share float64) float64 {
		if err != nil {
			return math.Inf(-1)
		}
		at.SiteShare = share
		var f *Fit
		if f, err = FitPanel(p, at); err != nil {
			return math.Inf(-1)
		}
		if len(f.Theta) == len(at.Start) { // else joints don't differ at this share
			at.Start = f.Theta
		}
		return -f.MinusTwoLogL/2 + at.logPrior(f.Theta) + math.Log(4*share*(1-share))
	}
	var s SiteShare
	s.Value = highest(profile, leastShare, mostShare, shareStep)
	s.Lower, s.Upper = around(profile, s.Value)
	if err != nil {
		return nil, SiteShare{}, err
	}
	m.SiteShare, m.Start = s.Value, slices.Clone(at.Start)
	if len(m.Start) != len(first.Theta) {
		m.Start = nil
	}
	fit, err := FitPanel(p, m)
	if err != nil {
		return nil, SiteShare{}, err
	}
	fit.Model.Start = nil
	return fit, s, nil
}

// logPrior is the logarithm of the priors' density, but for a constant.
func (m Model) logPrior(theta []float64) float64 {
	sum := 0.0
	for i, prior := range m.Prior {
		if prior.SD > 0 && i < len(theta) {
			d := (theta[i] - prior.Mean) / prior.SD
			sum -= d * d / 2
		}
	}
	return sum
}

// highest is where a function with one top is highest between lo and hi, to within
// step, by golden sections.
func highest(f func(float64) float64, lo, hi, step float64) float64 {
	const golden = 0.6180339887498949
	a, b := hi-golden*(hi-lo), lo+golden*(hi-lo)
	fa, fb := f(a), f(b)
	for hi-lo > step {
		if fa >= fb {
			hi, b, fb = b, a, fa
			a = hi - golden*(hi-lo)
			fa = f(a)
		} else {
			lo, a, fa = a, b, fb
			b = lo + golden*(hi-lo)
			fb = f(b)
		}
	}
	return (lo + hi) / 2
}

// around is the 95 % interval about the top of a log-likelihood of a share: by
// its second difference there, within 0 and 1.
func around(f func(float64) float64, top float64) (lower, upper float64) {
	h := min(0.1, top-leastShare/2, mostShare+leastShare/2-top)
	bend := (2*f(top) - f(top-h) - f(top+h)) / (h * h)
	if !(bend > 0) {
		return 0, 1
	}
	wide := 1.959963984540054 / math.Sqrt(bend)
	return max(top-wide, 0), min(top+wide, 1)
}
