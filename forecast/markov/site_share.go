package markov

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// SiteShare is an estimate of ρ, the probability that a new seal keeps the pace of
// the one before it, with its interval.
type SiteShare struct {
	Value float64 `json:"estimate"`
	Lower float64 `json:"lower_95"`
	Upper float64 `json:"upper_95"`
}

// Ends of the search for ρ.
const (
	leastShare = 0.01
	mostShare  = 0.99
)

// FitSiteShare is FitPanel with the model's SiteShare estimated beside its
// parameters: at the top of the posterior of both, with the prior Beta(2, 2), so
// that records which tell nothing give one half. See shareInterval for the
// interval.
func FitSiteShare(p *Panel, m Model) (*Fit, SiteShare, error) {
	if m.SiteShare == 0 {
		m.SiteShare = 0.5
	}
	m.SiteShare = min(max(m.SiteShare, leastShare), mostShare)
	e, f, err := fitPanel(p, m, true)
	if err != nil {
		return nil, SiteShare{}, err
	}
	s := SiteShare{Value: e.siteShare, Upper: 1}
	if e.best.hessian != nil {
		c := e.shareCurve(f.Model, &e.best)
		scores, slopes := e.shareScores(&e.best, c)
		s.Lower, s.Upper = e.shareInterval(f, c, slopes)
		e.carryShare(f, c, scores, slopes)
	}
	return f, s, nil
}

// shareCurve is how the log posterior at given parameters, ρ's own prior left out,
// changes with ρ.
type shareCurve struct {
	h           float64 // step of the differences
	slope       float64 // by ρ
	cross       []float64
	solved      []float64 // H⁻¹ · cross: how the best parameters change with ρ
	information float64   // about ρ, the parameters being estimated: −∂²/∂ρ² − cross' H⁻¹ cross
}

// shareCurve takes differences of the posterior and its gradient.
func (e *evaluator) shareCurve(m Model, o *optimum) shareCurve {
	rho, n := e.siteShare, len(o.theta)
	c := shareCurve{h: min(0.02, rho/2, (1-rho)/2), cross: make([]float64, n)}
	var failed error // not at an optimum
	f := e.posterior(m, &failed)
	up, down := make([]float64, n), make([]float64, n)
	e.siteShare = rho + c.h
	above := f(o.theta, up, nil)
	e.siteShare = rho - c.h
	below := f(o.theta, down, nil)
	for i := range c.cross {
		c.cross[i] = (up[i] - down[i]) / (2 * c.h)
	}
	e.siteShare = rho
	here := f(o.theta, up, nil)
	c.slope = (above - below) / (2 * c.h)
	c.information = -(above - 2*here + below) / (c.h * c.h)
	c.solved = o.solve(c.cross)
	for i, x := range c.solved {
		c.information -= x * c.cross[i]
	}
	return c
}

// moveShare takes a Newton step of logit ρ up the profile of the posterior, moves
// the parameters along with it and returns them. It reports whether no step is
// left. The profile's slope is that of the posterior at the best parameters; its
// bend is less by what they make good:
//
//	−d²/dρ² = −∂²/∂ρ² − c' H⁻¹ c,  dθ/dρ = H⁻¹ c
//
// with H minus the second derivatives by the parameters θ, and c those by θ and ρ
// (Barndorff-Nielsen & Cox 1994, Inference and Asymptotics, section 3.4).
func (e *evaluator) moveShare(m Model, o *optimum) (theta []float64, settled bool) {
	c, rho := e.shareCurve(m, o), e.siteShare
	byLogit := rho * (1 - rho)
	slope := c.slope*byLogit + 1 - 2*rho // the prior Beta(2, 2) is ρ(1 − ρ), but for a factor
	bend := c.information*byLogit*byLogit - c.slope*byLogit*(1-2*rho) + 2*byLogit
	step := slope / max(bend, byLogit)
	step = min(max(step, -1.5), 1.5)
	to := 1 / (1 + (1-rho)/rho*math.Exp(-step))
	to = min(max(to, leastShare), mostShare)
	if math.Abs(to-rho) < 1e-4*min(1, 10*byLogit) {
		return o.theta, true
	}
	e.siteShare = to
	theta = make([]float64, len(o.theta))
	for i, x := range o.theta {
		theta[i] = x + c.solved[i]*(to-rho)
	}
	if !e.d.inRange(theta) {
		copy(theta, o.theta)
	}
	return theta, false
}

// shareInterval is the 95 % interval of ρ: those values at which the profile of
// the log-likelihood l, ρ's prior left out, is less than 1.92 below its top within
// 0 to 1, once it is scaled to what clusters of lives tell:
//
//	2 · (J/B) · (max l − l(ρ)) < 3.84
//
// J is the information about ρ and B the sum over clusters of the squares of what
// each adds to the slope of the profile. They would be the same if the likelihood
// were true, and clusters of one site each (Chandler & Bate 2007, Biometrika
// 94:167, the vertical adjustment).
func (e *evaluator) shareInterval(f *Fit, c shareCurve, slopes []float64) (lower, upper float64) {
	if !(c.information > 0) {
		return 0, 1
	}
	scale := 1.0
	if spread := spreadOf(slopes); spread > 0 {
		scale = c.information / spread
	}
	limit := z95 * z95 / 2 / scale
	profile := e.shareProfile(f.Model, &e.best, c)
	best := min(max(e.siteShare+c.slope/c.information, 0), 1) // without the prior, by a parabola
	top := max(profile(best), profile(e.siteShare))
	lower, upper = profileEnd(profile, best, 0, top, limit), profileEnd(profile, best, 1, top, limit)
	return min(lower, e.siteShare), max(upper, e.siteShare)
}

// shareProfile is the log posterior at a share and the best parameters there, ρ's
// own prior left out: those go along a straight line, and what is still to gain
// from there is ½ g' H⁻¹ g.
func (e *evaluator) shareProfile(m Model, o *optimum, c shareCurve) func(rho float64) float64 {
	var failed error // then the value is −Inf, outside any interval
	f, at := e.posterior(m, &failed), e.siteShare
	theta, gradient := make([]float64, len(o.theta)), make([]float64, len(o.theta))
	return func(rho float64) float64 {
		for i, x := range o.theta {
			theta[i] = x + c.solved[i]*(rho-at)
		}
		e.siteShare = rho
		value := f(theta, gradient, nil)
		e.siteShare = at
		for i, x := range o.solve(gradient) {
			value += x * gradient[i] / 2
		}
		return value
	}
}

// profileEnd is where on the way from the best value to an end a profile falls to
// the limit below its top; the end where it does not. The root of the fall is next
// to straight, so that false position finds it in a few steps (Illinois method;
// Dowell & Jarratt 1971, BIT 11:168).
func profileEnd(profile func(float64) float64, best, end, top, limit float64) float64 {
	over := func(x float64) float64 { return math.Sqrt(max(top-profile(x), 0)) - math.Sqrt(limit) }
	a, b := best, end
	fa, fb := -math.Sqrt(limit), over(end)
	if fb <= 0 {
		return end
	}
	for range 20 {
		x := a + (b-a)*fa/(fa-fb)
		fx := over(x)
		switch {
		case math.Abs(fx) < 2e-3:
			return x
		case fx > 0:
			b, fb, fa = x, fx, fa/2
		default:
			a, fa, fb = x, fx, fb/2
		}
	}
	return (a + b) / 2
}

// shareScores returns the clusters' scores, one row after the other, and what
// each cluster adds to the slope of the profile, s_ρ + c' H⁻¹ s_θ.
func (e *evaluator) shareScores(o *optimum, c shareCurve) (scores, slopes []float64) {
	scores, slopes = e.clusterScores(o.theta), e.clusterSlopes(c.h)
	n := len(o.theta)
	for k := range slopes {
		for i, x := range c.solved {
			slopes[k] += x * scores[k*n+i]
		}
	}
	return scores, slopes
}

// spreadOf is the sum of the squares about their mean.
func spreadOf(slopes []float64) float64 {
	mean, square, count := 0.0, 0.0, float64(len(slopes))
	for _, u := range slopes {
		mean += u / count
		square += u * u
	}
	return square - count*mean*mean
}

// carryShare carries the uncertainty of ρ into that of the parameters θ, which
// the fit has as if ρ were known. With i the information about ρ, its prior's
// counted, and d = H⁻¹c how the best parameters go with it, the inverse of the
// information about both has
//
//	H⁻¹ + d d'/i
//
// for θ (Barndorff-Nielsen & Cox 1994, section 3.4). For the sandwich a cluster
// moves θ by H⁻¹ s_θ + d u/i, with u what it adds to the profile's slope. At an end
// of the search the prior is steep, and little is carried.
func (e *evaluator) carryShare(f *Fit, c shareCurve, scores, slopes []float64) {
	if f.Covariance == nil || !(c.information > 0) {
		return
	}
	rho, n := e.siteShare, len(f.Theta)
	prior := 1/(rho*rho) + 1/((1-rho)*(1-rho)) // of Beta(2, 2)
	information := c.information + prior

	moves := mat.NewDense(n, n+1, nil) // θ by a score and a slope
	for i, d := range c.solved {
		copy(moves.RawRowView(i), f.Covariance[i*n:(i+1)*n])
		moves.Set(i, n, d/information)
	}
	spread, both := make([]float64, (n+1)*(n+1)), make([]float64, n+1)
	for k, u := range slopes {
		copy(both, scores[k*n:(k+1)*n])
		both[n] = u
		addOuter(spread, both, 1)
	}
	for i, p := range f.Model.Prior {
		if p.SD > 0 {
			clear(both)
			both[i], both[n] = 1/p.SD, c.solved[i]/p.SD
			addOuter(spread, both, 1)
		}
	}
	spread[len(spread)-1] += prior

	var half, full mat.Dense
	half.Mul(moves, mat.NewDense(n+1, n+1, spread))
	full.Mul(&half, moves.T())
	f.Sandwich = full.RawMatrix().Data
	addOuter(f.Covariance, c.solved, 1/information)
	f.Estimates = e.estimates(f)
}

// clusterSlopes are how the clusters' log-likelihoods change with ρ, by
// differences of a step to either side.
func (e *evaluator) clusterSlopes(step float64) []float64 {
	rho := e.siteShare
	e.siteShare = rho + step
	slopes := e.clusterValues()
	e.siteShare = rho - step
	for k, below := range e.clusterValues() {
		slopes[k] = (slopes[k] - below) / (2 * step)
	}
	e.siteShare = rho
	return slopes
}

// clusterValues are the clusters' log-likelihoods by the table as it stands.
func (e *evaluator) clusterValues() []float64 {
	p := e.p
	bySite := make([]float64, len(p.lives)) // at the first life of each
	parallel(stepBlocks, func(block int) {
		var s lifeScratch
		byPace := make([]float64, 2*len(e.grid.Z))
		for l, last := p.siteRange(block, stepBlocks); l < last; {
			value, lives := e.site(l, &s, byPace, nil, noFlows, nil)
			bySite[l] = value
			l += lives
		}
	})
	values := make([]float64, len(p.clusterOf))
	for l, c := range p.clusters {
		values[c] += bySite[l]
	}
	return values
}
