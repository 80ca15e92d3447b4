package life

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
)

// ErrTooFew is wrapped where too few seals have failed to fit a life.
var ErrTooFew = errors.New("too few failures to fit a life")

// ErrNoOptimum is wrapped where the records do not determine the parameters:
// the likelihood has no maximum at a finite, positive spread.
var ErrNoOptimum = errors.New("the records do not determine a life")

// Family is the shape of the distribution of life.
type Family int

// The families. In all of them ln life = mu + sigma Z; what differs is Z.
const (
	Weibull     Family = iota // Z smallest extreme value; shape 1/sigma, scale exp(mu)
	Lognormal                 // Z normal; median exp(mu)
	Exponential               // Weibull with sigma = 1: the same hazard at every age
)

// String is the family's name in lower case.
func (f Family) String() string {
	switch f {
	case Lognormal:
		return "lognormal"
	case Exponential:
		return "exponential"
	}
	return "weibull"
}

func (f Family) standard() standard {
	if f == Lognormal {
		return normal{}
	}
	return smallestExtremeValue{}
}

// Options is how to fit. The zero value fits a Weibull life.
type Options struct {
	Family Family
	// MinFailures is the least number of failed seals to fit from; 0 is 3, below
	// which the spread of lives rests on a single difference. (Our own choice, no
	// source; with fewer than 10 the standard errors are rough.)
	MinFailures float64
}

// Fit is a fitted life: ln life = Mu + Sigma Z.
type Fit struct {
	Family     Family
	Mu, Sigma  float64
	MuSE       float64 // standard error of Mu
	LogSigmaSE float64 // standard error of ln Sigma; 0 for Exponential
	Covariance float64 // of Mu and ln Sigma; 0 for Exponential
	// LogLik is the log-likelihood with densities on the scale of life, not of
	// its logarithm; AIC is -2 LogLik + 2 (number of parameters).
	LogLik, AIC float64
	Counts      Counts
	Iterations  int
	// Decrement is gᵀ(-H)⁻¹g/2 at the estimate, for gradient g and Hessian H: how
	// far below its maximum a quadratic puts the log-likelihood. It is under 1e-9
	// and -H is positive definite, or there is no Fit but [ErrNoOptimum].
	Decrement float64
}

// Estimate fits a life by maximum likelihood to records that are exact,
// right-, left- or interval-censored, and left-truncated at their entry:
//
//	log L = Σ w [ log p(z) - log S(z_entry) ],  z = (ln age - mu)/sigma
//
// with p the density f/(sigma·age) of an exact life, S of one still in service,
// F of one found failed, and S(low) - S(high) of one between two ages. (Meeker &
// Escobar 1998, Statistical Methods for Reliability Data, chapters 7, 8 and 11.)
//
// The maximum is found by Newton's method in (mu, ln sigma) with analytic
// derivatives; standard errors are from the inverse of the observed
// information. Errors wrap [ErrInvalid], [ErrTooFew] or [ErrNoOptimum].
func Estimate(records []Record, opt Options) (Fit, error) {
	var counts Counts
	for i, r := range records {
		if err := r.Validate(); err != nil {
			return Fit{}, fmt.Errorf("record %d: %w", i+1, err)
		}
		counts.add(r)
	}
	need := opt.MinFailures
	if need == 0 {
		need = 3
	}
	if !(counts.Failed() >= need) || counts.Failed() == 0 {
		return Fit{}, fmt.Errorf("%w: %g of %g seals have failed, %.4g of exposure taken together; %g failures are needed",
			ErrTooFew, counts.Failed(), counts.Failed()+counts.Right, counts.Exposure, max(need, 1))
	}
	like := newLikelihood(records, opt.Family)
	at, iterations, err := like.maximise()
	if err != nil {
		return Fit{}, err
	}
	fit := Fit{
		Family: opt.Family, Mu: at.mu, Sigma: math.Exp(at.logSigma),
		LogLik: at.value, Counts: counts, Iterations: iterations,
		Decrement: at.decrement(),
	}
	det := at.hMuMu*at.hSS - at.hMuS*at.hMuS
	parameters := 2.0
	fit.MuSE = math.Sqrt(-at.hSS / det)
	if opt.Family == Exponential {
		parameters = 1
	} else {
		fit.LogSigmaSE = math.Sqrt(-at.hMuMu / det)
		fit.Covariance = at.hMuS / det
	}
	fit.AIC = -2*fit.LogLik + 2*parameters
	// On a plateau the search stops too, but the records say nothing there.
	if !(fit.LogSigmaSE < 3) || !(fit.MuSE < 20*fit.Sigma) {
		return Fit{}, at.noOptimum()
	}
	return fit, nil
}

// Compare fits every family to the same records, the least AIC first. (Akaike
// 1974, IEEE Trans. Autom. Control 19:716.)
func Compare(records []Record, opt Options) ([]Fit, error) {
	var fits []Fit
	for _, family := range []Family{Weibull, Lognormal, Exponential} {
		opt.Family = family
		fit, err := Estimate(records, opt)
		if err != nil {
			return nil, fmt.Errorf("%v: %w", family, err)
		}
		fits = append(fits, fit)
	}
	slices.SortStableFunc(fits, func(a, b Fit) int { return cmp.Compare(a.AIC, b.AIC) })
	return fits, nil
}

// likelihood holds the records ready for many evaluations.
type likelihood struct {
	observations []observation
	standard     standard
	sigmaFixed   bool // at 1
}

type observation struct {
	kind                   kind
	truncated              bool
	lnLow, lnHigh, lnEntry float64
	weight                 float64
}

type kind uint8

const (
	exact kind = iota
	inService
	failedBy
	between
)

func newLikelihood(records []Record, family Family) likelihood {
	l := likelihood{
		observations: make([]observation, 0, len(records)),
		standard:     family.standard(), sigmaFixed: family == Exponential,
	}
	for _, r := range records {
		o := observation{
			kind: between, weight: r.weight(), truncated: r.Entry > 0,
			lnLow: math.Log(r.Low), lnHigh: math.Log(r.High), lnEntry: math.Log(r.Entry),
		}
		switch {
		case r.Low == r.High:
			o.kind = exact
		case math.IsInf(r.High, 1) && r.Low == 0:
			continue // installed and never seen again: nothing is known
		case math.IsInf(r.High, 1):
			o.kind = inService
		case r.Low == 0:
			o.kind = failedBy
		}
		l.observations = append(l.observations, o)
	}
	return l
}

// point is the log-likelihood at one place with its gradient and Hessian in
// (mu, s = ln sigma).
type point struct {
	mu, logSigma     float64
	value            float64
	gMu, gS          float64
	hMuMu, hMuS, hSS float64
}

// add puts in one term, from its derivatives by z. With sigma = exp(s):
//
//	dz/dmu = -1/sigma, dz/ds = -z, d²z/dmu ds = 1/sigma, d²z/ds² = z
//
// The powers of 1/sigma are left out here, and put in once for the whole sum.
func (p *point) add(w float64, d slopes, z1, z2 float64) {
	p.value += w * d.value
	p.gMu -= w * (d.d1 + d.d2)
	p.gS -= w * (z1*d.d1 + z2*d.d2)
	p.hMuMu += w * (d.d11 + 2*d.d12 + d.d22)
	p.hMuS += w * (z1*d.d11 + (z1+z2)*d.d12 + z2*d.d22 + d.d1 + d.d2)
	p.hSS += w * (z1*z1*d.d11 + 2*z1*z2*d.d12 + z2*z2*d.d22 + z1*d.d1 + z2*d.d2)
}

func (l likelihood) at(mu, logSigma float64) point {
	p := point{mu: mu, logSigma: logSigma}
	perSigma := math.Exp(-logSigma)
	for i := range l.observations {
		o := &l.observations[i]
		z1, z2 := (o.lnLow-mu)*perSigma, 0.0
		var d slopes
		switch o.kind {
		case exact:
			d = l.standard.density(z1)
			d.value -= logSigma + o.lnLow
			p.gS -= o.weight
		case inService:
			d = l.standard.survival(z1)
		case failedBy:
			z1 = (o.lnHigh - mu) * perSigma
			d = l.standard.failure(z1)
		case between:
			z2 = (o.lnHigh - mu) * perSigma
			d = l.standard.between(z1, z2)
		}
		p.add(o.weight, d, z1, z2)
		if o.truncated {
			z := (o.lnEntry - mu) * perSigma
			p.add(-o.weight, l.standard.survival(z), z, 0)
		}
	}
	p.gMu *= perSigma
	p.hMuMu *= perSigma * perSigma
	p.hMuS *= perSigma
	if l.sigmaFixed { // leaves mu alone to move
		p.gS, p.hMuS, p.hSS = 0, 0, -1
	}
	return p
}

func (p point) finite() bool {
	sum := p.value + p.gMu + p.gS + p.hMuMu + p.hMuS + p.hSS
	return !math.IsNaN(sum) && !math.IsInf(sum, 0)
}

func (p point) concave() bool { return p.hMuMu < 0 && p.hMuMu*p.hSS-p.hMuS*p.hMuS > 0 }

// decrement is gᵀ(-H)⁻¹g/2.
func (p point) decrement() float64 {
	dMu, dS := p.step(0)
	return (p.gMu*dMu + p.gS*dS) / 2
}

func (p point) converged() bool { return p.concave() && p.decrement() < 1e-9 }

// step is Newton's, with the diagonal of -H raised by ridge times its size
// (Levenberg 1944; Marquardt 1963).
func (p point) step(ridge float64) (dMu, dS float64) {
	a := -p.hMuMu + ridge*math.Abs(p.hMuMu)
	b := -p.hMuS
	c := -p.hSS + ridge*math.Abs(p.hSS)
	det := a*c - b*b
	return (c*p.gMu - b*p.gS) / det, (a*p.gS - b*p.gMu) / det
}

// Bounds on the estimate: beyond them the records say next to nothing, and
// means and variances would leave the range of a float64.
const (
	maxLogSigma = 3.0  // sigma 20: the 10 % and 90 % lives 27 orders apart
	minLogSigma = -9.0 // sigma 0.0001: all lives alike to a part in a thousand
	maxMu       = 200.0
	maxRounds   = 200
)

// maximise climbs from a rough start. It returns ErrNoOptimum where the
// likelihood keeps rising toward a bound or has no strict maximum.
func (l likelihood) maximise() (point, int, error) {
	best := l.at(l.start())
	ridge := 0.0
	for round := 1; round <= maxRounds; round++ {
		if !best.finite() {
			break
		}
		if best.logSigma < minLogSigma || best.logSigma > maxLogSigma || math.Abs(best.mu) > maxMu {
			break
		}
		if best.concave() && best.decrement() < 1e-10 {
			// One more full step squares the error, down to rounding.
			if last := l.at(best.moved(0)); last.finite() && last.converged() {
				best = last
			}
			return best, round, nil
		}
		next := l.at(best.moved(ridge))
		if next.finite() && next.value >= best.value && best.ascends(ridge) {
			best, ridge = next, ridge/10
			if ridge < 1e-6 {
				ridge = 0
			}
		} else {
			ridge = max(10*ridge, 1e-3)
		}
	}
	return point{}, 0, best.noOptimum()
}

func (p point) noOptimum() error {
	return fmt.Errorf("%w: the search ended at a scale of %.4g and a spread of ln life of %.4g; "+
		"the failures may all have one age, or all be older than every seal in service",
		ErrNoOptimum, math.Exp(p.mu), math.Exp(p.logSigma))
}

// moved is the place one step away, no further than one unit of ln life or of
// ln sigma in a round.
func (p point) moved(ridge float64) (mu, logSigma float64) {
	dMu, dS := p.step(ridge)
	shrink := 1 / max(1, math.Abs(dS), math.Abs(dMu)/max(1, math.Exp(p.logSigma)))
	return p.mu + shrink*dMu, p.logSigma + shrink*dS
}

// ascends is whether the ridged -H is positive definite, so that its step goes
// uphill.
func (p point) ascends(ridge float64) bool {
	p.hMuMu -= ridge * math.Abs(p.hMuMu)
	p.hSS -= ridge * math.Abs(p.hSS)
	return p.concave()
}

// start is the mean and spread of the logarithms of the ages, with the mean
// moved out for the seals still in service.
func (l likelihood) start() (mu, logSigma float64) {
	var n, failed, sum, sumSq float64
	for _, o := range l.observations {
		x := o.lnLow
		switch o.kind {
		case failedBy:
			x = o.lnHigh - math.Ln2
		case between:
			x = (o.lnLow + o.lnHigh) / 2
		}
		n += o.weight
		sum += o.weight * x
		sumSq += o.weight * x * x
		if o.kind != inService {
			failed += o.weight
		}
	}
	mean := sum / n
	mu = mean + math.Log(n/failed)/2
	if l.sigmaFixed {
		return mu, 0
	}
	variance := max(sumSq/n-mean*mean, 0.01)
	return mu, min(math.Log(variance)/2, 1)
}
