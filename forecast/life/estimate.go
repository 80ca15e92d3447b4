package life

import (
	"fmt"
	"math"
)

// Years is an estimate with its standard error, in the unit of the records.
type Years struct {
	Value, SE float64
}

// Interval is the range that covers the true value with the given confidence,
// 0.95 for 95 %, by the normal approximation on the logarithm, so that it stays
// above zero. (Meeker & Escobar 1998, section 8.4.) A confidence outside 0 to 1
// gives the value alone.
func (y Years) Interval(confidence float64) (low, high float64) {
	if !(confidence > 0 && confidence < 1) || y.Value == 0 {
		return y.Value, y.Value
	}
	spread := math.Exp(min(math.Sqrt2*math.Erfinv(confidence)*y.SE/y.Value, 300))
	return y.Value / spread, min(y.Value*spread, math.MaxFloat64)
}

// Scale is exp(mu): the age by which 63.2 % of seals have failed (Weibull and
// Exponential), or half of them (Lognormal).
func (f Fit) Scale() Years {
	eta := math.Exp(f.Mu)
	return Years{eta, eta * f.MuSE}
}

// Shape is 1/sigma with its standard error: for Weibull the exponent of age in
// the cumulative hazard, above 1 where seals wear out.
func (f Fit) Shape() (shape, se float64) { return 1 / f.Sigma, f.LogSigmaSE / f.Sigma }

// Quantile is the age by which a share p of seals has failed, 0 < p < 1, with
// its standard error by the delta method:
//
//	ln t = mu + sigma z_p
//	var(ln t) = var(mu) + 2 sigma z_p cov + (sigma z_p)² var(ln sigma)
//
// (Meeker & Escobar 1998, section 8.4.2.)
func (f Fit) Quantile(p float64) (Years, error) {
	if !(p > 0 && p < 1) {
		return Years{}, fmt.Errorf("%w: share %g of seals; it is between 0 and 1", ErrInvalid, p)
	}
	sz := f.Sigma * f.Family.standard().quantile(math.Log1p(-p))
	t := math.Exp(f.Mu + sz)
	variance := f.MuSE*f.MuSE + 2*sz*f.Covariance + sz*sz*f.LogSigmaSE*f.LogSigmaSE
	se := t * math.Sqrt(max(variance, 0))
	return Years{t, se}, finite(se)
}

// QuantileFrom is the age by which a share p of those seals has failed that are
// in service at the given age.
func (f Fit) QuantileFrom(age, p float64) (float64, error) {
	if !(p > 0 && p < 1) || !(age >= 0) || math.IsInf(age, 0) {
		return 0, fmt.Errorf("%w: share %g of seals in service at %g", ErrInvalid, p, age)
	}
	logSurvival := 0.0
	if age > 0 {
		logSurvival = f.logSurvival(age)
	}
	t := math.Exp(f.Mu + f.Sigma*f.Family.standard().quantile(logSurvival+math.Log1p(-p)))
	return max(t, age), finite(t)
}

// FailedBy is the probability that a new seal has failed by the given age;
// 0 where the age is not above 0.
func (f Fit) FailedBy(age float64) float64 {
	if !(age > 0) {
		return 0
	}
	return -math.Expm1(f.logSurvival(age))
}

func (f Fit) logSurvival(age float64) float64 {
	return f.Family.standard().survival((math.Log(age) - f.Mu) / f.Sigma).value
}

// Mean is the expected life:
//
//	exp(mu) Γ(1 + sigma)      Weibull, Exponential
//	exp(mu + sigma²/2)        Lognormal
//
// Where few have failed it rests on ages that no seal has reached.
func (f Fit) Mean() float64 {
	if f.Family == Lognormal {
		return math.Exp(f.Mu + f.Sigma*f.Sigma/2)
	}
	return math.Exp(f.Mu) * math.Gamma(1+f.Sigma)
}

// SD is the standard deviation of life.
func (f Fit) SD() float64 {
	if f.Family == Lognormal {
		return f.Mean() * math.Sqrt(math.Expm1(f.Sigma*f.Sigma))
	}
	g := math.Gamma(1 + f.Sigma)
	return math.Exp(f.Mu) * math.Sqrt(max(math.Gamma(1+2*f.Sigma)-g*g, 0))
}

func finite(t float64) error {
	if math.IsInf(t, 0) || math.IsNaN(t) {
		return fmt.Errorf("%w: the age asked for is beyond any number", ErrInvalid)
	}
	return nil
}
