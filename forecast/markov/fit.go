package markov

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Fit is an estimated model, with what it was estimated from.
type Fit struct {
	Moves      Moves
	Model      Model
	Covariates int        // how many
	Estimates  []Estimate // in the order of the parameters
	Theta      []float64  // the parameters; see Model
	K          float64    // of the pace; 0: joints don't differ, then Theta has no log k either
	Pieces     float64    // w

	MinusTwoLogL float64 // −2 log L at the estimates, priors not counted
	Converged    bool    // the gradient is 0 and the Hessian negative definite
	Evaluations  int     // of the likelihood with its gradient
	Counts       Counts

	// Covariance of the parameters, row by row: the inverse of the observed
	// information, and the sandwich clustered as the lives are. Both take in
	// the priors. Nil where the information is singular: too few data.
	Covariance, Sandwich []float64
}

// Estimate is one parameter as people read it: a rate per year, a hazard ratio
// per unit of a covariate, or k, with its standard error on the log scale and
// its 95 % interval. SE is by the information, RobustSE by the sandwich, and
// the interval is by the sandwich where the likelihood is weighted (pieces not
// 1) or lives share clusters, else by the information. For the probability of a
// rating error the scale is the logit. Errors and limits are 0 where the data
// were too few.
type Estimate struct {
	Name         string
	Value        float64
	LogSE        float64
	RobustLogSE  float64
	Lower, Upper float64
}

// FitPanel estimates the model from the panel by maximum likelihood, or by the
// posterior mode where there are priors. A panel without intervals gives the
// priors back, if each parameter has one, and else an error that wraps
// ErrInvalid.
func FitPanel(p *Panel, m Model) (*Fit, error) {
	_, f, err := fitPanel(p, m, false)
	return f, err
}

// fitPanel fits the panel, with the site share as given or estimated, and returns
// beside the fit the evaluator as it stands there.
func fitPanel(p *Panel, m Model, withShare bool) (*evaluator, *Fit, error) {
	d, err := newDesign(p.moves, p.covariates, m)
	if err != nil {
		return nil, nil, err
	}
	if len(p.spans) == 0 && !fullPrior(m, d) {
		return nil, nil, fmt.Errorf("%w panel: no interval is left and not every parameter has a prior", ErrInvalid)
	}
	e := newEvaluator(p, d)
	e.w, e.siteShare, e.withShare = m.Pieces, m.SiteShare, withShare
	if e.w == 0 {
		e.w = 1
		if m.EstimatePieces {
			e.w = 3
		}
	}
	f, err := e.fit(m, d.start(p, m))
	if errors.Is(err, errAlike) {
		return fitPanel(p, m.alike(d.logK), withShare)
	}
	if err != nil || !p.ambiguous(e.w) {
		return e, f, err
	}
	e.p = e.reflow(f.Theta)
	again, err := e.fit(m, f.Theta)
	if errors.Is(err, errAlike) {
		return e, f, nil
	}
	return e, again, err
}

// alike is the model with joints that don't differ.
func (m Model) alike(logK int) Model {
	m.EstimateK, m.K = false, 0
	if len(m.Prior) > logK {
		m.Prior = slices.Delete(slices.Clone(m.Prior), logK, logK+1)
	}
	if len(m.Start) > logK {
		m.Start = slices.Delete(slices.Clone(m.Start), logK, logK+1)
	}
	return m
}

// fit maximises from theta, in turn with the number of pieces and the site share
// where those are estimated, and gathers the result.
func (e *evaluator) fit(m Model, theta []float64) (*Fit, error) {
	p := e.p
	var o optimum
	var err error
	for round := 0; ; round++ {
		if e.withShare && round > 0 {
			o, err = e.follow(m, theta, o.hessian)
		} else {
			o, err = e.optimise(m, theta)
		}
		if err != nil {
			return nil, err
		}
		theta = o.theta
		settled := true
		if e.withShare {
			if theta, settled = e.moveShare(m, &o); !settled && round < mostRounds {
				continue // pieces after that: near it they hardly depend on it
			}
		}
		if m.EstimatePieces && len(p.spans) > 0 {
			before := e.w
			if e.w, err = e.pieces(theta); err != nil {
				return nil, err
			}
			settled = settled && math.Abs(math.Log(e.w/before)) < 1e-4
		}
		if settled || round >= mostRounds {
			break
		}
	}
	if e.d.logK >= 0 && e.d.k(m, o.theta) > mostAlike {
		return nil, errAlike
	}
	if e.withShare {
		if o, err = e.optimise(m, o.theta); err != nil {
			return nil, err
		}
	}
	e.best, m.SiteShare = o, e.siteShare
	return e.result(m, o)
}

// mostRounds is how often the rates, the pieces and the site share are estimated
// in turn.
const mostRounds = 30

// errAlike says that the joints don't differ: k has run off to infinity.
var errAlike = errors.New("joints do not differ")

// LogLikelihood returns the log-likelihood of the panel at the given
// parameters, and its gradient. Priors are not counted.
func LogLikelihood(p *Panel, m Model, theta []float64) (value float64, gradient []float64, err error) {
	d, err := newDesign(p.moves, p.covariates, m)
	if err != nil {
		return 0, nil, err
	}
	e := newEvaluator(p, d)
	e.siteShare = m.SiteShare
	if m.Pieces > 0 {
		e.w = m.Pieces
	}
	return e.at(m, theta)
}

// at is the log-likelihood and its gradient at given parameters.
func (e *evaluator) at(m Model, theta []float64) (value float64, gradient []float64, err error) {
	if len(theta) != e.d.params {
		return 0, nil, fmt.Errorf("%w parameters: %d given, the model has %d", ErrInvalid, len(theta), e.d.params)
	}
	if err := e.setPace(e.d.k(m, theta), m.GridPoints); err != nil {
		return 0, nil, err
	}
	gradient = make([]float64, e.d.params)
	return e.value(theta, gradient, nil), gradient, nil
}

func fullPrior(m Model, d *design) bool {
	for _, p := range m.Prior {
		if !(p.SD > 0) {
			return false
		}
	}
	return len(m.Prior) == d.params
}

// k is the k of the pace under the parameters, 0 for none.
func (d *design) k(m Model, theta []float64) float64 {
	if d.logK < 0 {
		return m.K
	}
	return min(max(math.Exp(theta[d.logK]), leastAlike), 1e4) // a draw may lie outside
}

// mostAlike is the k beyond which joints are taken not to differ: a standard
// deviation of pace of 4 %.
const mostAlike = 600

// leastAlike is the least k, just inside the range of NewPace.
const leastAlike = 0.12

func (d *design) inRange(theta []float64) bool {
	for _, x := range theta {
		if math.Abs(x) > 30 {
			return false
		}
	}
	return d.logK < 0 || theta[d.logK] > math.Log(leastAlike) && theta[d.logK] < math.Log(1.2*mostAlike)
}

// optimise maximises the likelihood and priors at the present number of pieces.
func (e *evaluator) optimise(m Model, theta []float64) (optimum, error) {
	var failed error
	o := maximise(e.posterior(m, &failed), theta)
	if failed == nil && math.IsInf(o.value, 0) {
		failed = fmt.Errorf("the data are %w and rating errors, or the starting values are out of range", ErrImpossible)
	}
	return o, failed
}

// follow is optimise from parameters next to the best ones, with the Hessian that
// was found near by instead of one of its own.
func (e *evaluator) follow(m Model, theta []float64, near *mat.SymDense) (optimum, error) {
	var failed error
	o, ok := climb(e.posterior(m, &failed), theta, near)
	if !ok && failed == nil {
		return e.optimise(m, theta)
	}
	return o, failed
}

// posterior is the logarithm of the likelihood and priors, but for a constant.
func (e *evaluator) posterior(m Model, failed *error) objective {
	n := e.d.params
	return func(theta, gradient, curvature []float64) float64 {
		if !e.d.inRange(theta) {
			return math.Inf(-1)
		}
		if err := e.setPace(e.d.k(m, theta), m.GridPoints); err != nil {
			*failed = err
			return math.Inf(-1)
		}
		value := e.value(theta, gradient, curvature)
		if at := e.d.logK; at >= 0 && curvature != nil {
			// information on log k if every pace were seen, for k well over 1
			curvature[at*n+at] += float64(len(e.p.lives)) / 2
		}
		for i, p := range m.Prior {
			if p.SD > 0 {
				r := (theta[i] - p.Mean) / p.SD
				value -= r * r / 2
				gradient[i] -= r / p.SD
				if curvature != nil {
					curvature[i*n+i] += 1 / (p.SD * p.SD)
				}
			}
		}
		return value
	}
}

// result gathers the estimates and their errors.
func (e *evaluator) result(m Model, o optimum) (*Fit, error) {
	k := e.d.k(m, o.theta)
	if err := e.setPace(k, m.GridPoints); err != nil {
		return nil, err
	}
	n := e.d.params
	f := &Fit{
		Moves: e.p.moves, Theta: o.theta, K: k, Pieces: e.w, Converged: o.converged,
		Evaluations: o.evaluations, Counts: e.p.Counts(), Model: m, Covariates: e.p.covariates,
	}
	if math.IsInf(k, 1) {
		f.K = 0
	}
	f.MinusTwoLogL = -2 * e.value(o.theta, make([]float64, n), nil)
	var chol mat.Cholesky
	var inverse mat.SymDense
	if chol.Factorize(o.hessian) && chol.InverseTo(&inverse) == nil {
		f.Covariance = denseOf(&inverse)
		f.Sandwich = e.sandwich(o.theta, m, &inverse)
	}
	f.Estimates = e.estimates(f)
	return f, nil
}

// estimates are the parameters of the fit as people read them.
func (e *evaluator) estimates(f *Fit) []Estimate {
	n, out := e.d.params, make([]Estimate, 0, e.d.params)
	robust := e.w != 1 || f.Counts.Clusters < f.Counts.Lives
	for i, name := range e.d.names {
		if e.h != nil && i >= e.h.at {
			out = append(out, e.h.estimate(f, i, name))
			continue
		}
		est := Estimate{Name: name, Value: math.Exp(f.Theta[i])}
		if f.Covariance != nil {
			est.LogSE = math.Sqrt(f.Covariance[i*n+i])
			est.RobustLogSE = math.Sqrt(max(f.Sandwich[i*n+i], 0))
			se := est.LogSE
			if robust {
				se = est.RobustLogSE
			}
			est.Lower, est.Upper = est.Value*math.Exp(-z95*se), est.Value*math.Exp(z95*se)
		}
		out = append(out, est)
	}
	return out
}

// z95 is the 97.5 % point of the standard normal.
const z95 = 1.959963984540054

func denseOf(s *mat.SymDense) []float64 {
	n := s.SymmetricDim()
	a := make([]float64, n*n)
	for i := range n {
		for j := range n {
			a[i*n+j] = s.At(i, j)
		}
	}
	return a
}

// Chain returns the fitted chain for a row of covariates.
func (f *Fit) Chain(x []float64) (Chain, error) {
	if len(x) != f.Covariates {
		return Chain{}, fmt.Errorf("%w chain: %d covariates, the fit has %d", ErrInvalid, len(x), f.Covariates)
	}
	return f.Model.Chain(f.Moves, f.Theta, x)
}

// Pace returns the fitted grid of paces.
func (f *Fit) Pace() (Pace, error) { return f.Model.Pace(f.Moves, f.Covariates, f.Theta) }

// Draws returns so many draws of the parameters from the normal distribution
// about the estimates with the sandwich covariance, to carry the uncertainty of
// the fit into a forecast: a Chain, a Pace and an Outlook for each. Draws go in
// pairs that mirror each other about the estimates, so that their mean is the
// estimate. Without a covariance the error wraps ErrInvalid.
func (f *Fit) Draws(count int, r *rand.Rand) ([][]float64, error) {
	n := len(f.Theta)
	var chol mat.Cholesky
	if f.Sandwich == nil || !chol.Factorize(symmetric(f.Sandwich, n)) {
		return nil, fmt.Errorf("%w draws: the fit has no covariance; there are too few data", ErrInvalid)
	}
	var lower mat.TriDense
	chol.LTo(&lower)
	draws := make([][]float64, 0, count)
	for len(draws) < count {
		noise := make([]float64, n)
		for i := range noise {
			noise[i] = r.NormFloat64()
		}
		up, down := make([]float64, n), make([]float64, n)
		for i := range n {
			move := 0.0
			for j := range i + 1 {
				move += lower.At(i, j) * noise[j]
			}
			up[i], down[i] = f.Theta[i]+move, f.Theta[i]-move
		}
		if draws = append(draws, up); len(draws) < count {
			draws = append(draws, down)
		}
	}
	return draws, nil
}
