package markov

import (
	"math"

	"reseal/condition/valley"
)

// SiteShare is an estimate of ρ, the probability that a new seal keeps the pace of
// the one before it, with its interval.
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
// is that of a parabola through the top (normal approximation; Meeker & Escobar
// 1998, chapter 8); in trials it held the truth in 85 to 90 % rather than 95 %.
func FitSiteShare(p *Panel, m Model) (*Fit, SiteShare, error) {
	first, err := FitPanel(p, m)
	if err != nil {
		return nil, SiteShare{}, err
	}
	at, theta := first.Model, first.Theta
	d, err := newDesign(p.moves, p.covariates, at)
	if err != nil {
		return nil, SiteShare{}, err
	}
	e := newEvaluator(p, d)
	e.w, e.siteShare = first.Pieces, at.SiteShare
	if p.ambiguous(e.w) {
		e.p = e.reflow(theta)
	}
	var failed error
	below := func(share float64) float64 { // minus the log posterior, its parameters at their best
		e.siteShare = share
		o, err := e.optimise(at, theta)
		if err != nil {
			failed = err
			return math.Inf(1)
		}
		theta = o.theta // the next share is near: so is its best
		return -o.value - math.Log(4*share*(1-share))
	}
	var s SiteShare
	s.Value = valley.Lowest(below, leastShare, mostShare, shareStep)
	s.Lower, s.Upper = around(below, s.Value)
	if failed != nil {
		return nil, SiteShare{}, failed
	}
	at.SiteShare, at.Start = s.Value, theta
	fit, err := FitPanel(p, at)
	if err != nil {
		return nil, SiteShare{}, err
	}
	fit.Model.Start = nil
	return fit, s, nil
}

// around is the 95 % interval about the share at which minus a log-likelihood is
// lowest: by its second difference there, within 0 and 1.
func around(below func(float64) float64, share float64) (lower, upper float64) {
	h := min(0.1, share-leastShare/2, mostShare+leastShare/2-share)
	bend := (below(share-h) - 2*below(share) + below(share+h)) / (h * h)
	if !(bend > 0) {
		return 0, 1
	}
	wide := 1.959963984540054 / math.Sqrt(bend)
	return max(share-wide, 0), min(share+wide, 1)
}
