package life

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// slopes is a record's log-likelihood as a function of the standardised log
// ages z1 = (ln low - mu)/sigma and z2 = (ln high - mu)/sigma, with its first
// and second derivatives. A record with one age uses z1 alone.
type slopes struct {
	value         float64
	d1, d2        float64
	d11, d12, d22 float64
}

// standard is a distribution of z. Each method gives the logarithm of a
// probability or density, and its derivatives.
type standard interface {
	density(z float64) slopes
	survival(z float64) slopes
	failure(z float64) slopes
	between(z1, z2 float64) slopes
	// quantile is z where the logarithm of the survival is logSurvival, below 0.
	quantile(logSurvival float64) float64
}

// smallestExtremeValue is ln of a Weibull life: S(z) = exp(-exp(z)).
// (Meeker & Escobar 1998, section 4.8.)
type smallestExtremeValue struct{}

func (smallestExtremeValue) density(z float64) slopes {
	w := math.Exp(z)
	return slopes{value: z - w, d1: 1 - w, d11: -w}
}

func (smallestExtremeValue) survival(z float64) slopes {
	w := math.Exp(z)
	return slopes{value: -w, d1: -w, d11: -w}
}

func (smallestExtremeValue) failure(z float64) slopes {
	w := math.Exp(z)
	if w > 700 {
		return slopes{} // certain, to more digits than there are
	}
	if w < 1e-300 {
		return slopes{value: z, d1: 1} // F(z) is w itself
	}
	e := math.Expm1(w)
	b := w / e
	return slopes{value: -math.Log1p(1 / e), d1: b, d11: b*(1-w) - b*b}
}

// between rests on S(z1) - S(z2) = exp(-w1) (1 - exp(-d)) with w = exp(z) and
// d = w2 - w1, and with e = exp(d) - 1 on 1 - exp(-d) = e/(1 + e).
func (smallestExtremeValue) between(z1, z2 float64) slopes {
	w1, widening := math.Exp(z1), math.Expm1(z2-z1)
	d := w1 * widening // keeps the digits of a narrow interval
	w2 := w1 + d
	if d < 1e-300 {
		// Both ages are far below all lives: the probability is d itself.
		r := 1 / widening
		q := r * (1 + r)
		return slopes{value: z1 + math.Log(widening), d1: -r, d2: 1 + r, d11: -q, d12: q, d22: -q}
	}
	e := math.Expm1(d)
	a, b := w1+w1/e, w2/e // densities at z1 and z2 over the probability
	if math.IsInf(e, 1) {
		a, b, w2 = w1, 0, 0 // as good as endless
	}
	return slopes{
		value: -w1 - math.Log1p(1/e),
		d1:    -a, d2: b,
		d11: -a*(1-w1) - a*a, d12: a * b, d22: b*(1-w2) - b*b,
	}
}

func (smallestExtremeValue) quantile(logSurvival float64) float64 {
	return math.Log(-logSurvival)
}

// log1mexp is ln(1 - exp(-x)) for x > 0. (Mächler 2012, Accurately Computing
// log(1 - exp(-|a|)).)
func log1mexp(x float64) float64 {
	if x < math.Ln2 {
		return math.Log(-math.Expm1(-x))
	}
	return math.Log1p(-math.Exp(-x))
}

// normal is ln of a lognormal life.
type normal struct{}

func logNormalDensity(z float64) float64 { return -z*z/2 - math.Log(2*math.Pi)/2 }

// logNormalSurvival keeps its digits in both tails. Beyond z = 25 it is the
// asymptotic series of Mills' ratio (Abramowitz & Stegun 1964, 26.2.12).
func logNormalSurvival(z float64) float64 {
	switch {
	case z < 0:
		return math.Log1p(-math.Erfc(-z/math.Sqrt2) / 2)
	case z < 25:
		return math.Log(math.Erfc(z/math.Sqrt2) / 2)
	}
	u := 1 / (z * z)
	return logNormalDensity(z) - math.Log(z) + math.Log1p(-u*(1-3*u*(1-5*u*(1-7*u))))
}

func (normal) density(z float64) slopes {
	return slopes{value: logNormalDensity(z), d1: -z, d11: -1}
}

func (normal) survival(z float64) slopes {
	v := logNormalSurvival(z)
	h := math.Exp(logNormalDensity(z) - v) // hazard
	return slopes{value: v, d1: -h, d11: h * (z - h)}
}

func (n normal) failure(z float64) slopes {
	s := n.survival(-z)
	return slopes{value: s.value, d1: -s.d1, d11: s.d11}
}

func (n normal) between(z1, z2 float64) slopes {
	if z1+z2 < 0 { // mirror, so that the nearer tail is the small one
		s := n.between(-z2, -z1)
		return slopes{value: s.value, d1: -s.d2, d2: -s.d1, d11: s.d22, d12: s.d12, d22: s.d11}
	}
	s1, s2 := logNormalSurvival(z1), logNormalSurvival(z2)
	v := s1 + log1mexp(s1-s2)
	a := math.Exp(logNormalDensity(z1) - v)
	b := math.Exp(logNormalDensity(z2) - v)
	return slopes{
		value: v,
		d1:    -a, d2: b,
		d11: a * (z1 - a), d12: a * b, d22: -b * (z2 + b),
	}
}

func (n normal) quantile(logSurvival float64) float64 {
	switch {
	case logSurvival > -math.Ln2: // from the complement, which holds the digits
		return mathext.NormalQuantile(-math.Expm1(logSurvival))
	case logSurvival > -600:
		return -mathext.NormalQuantile(math.Exp(logSurvival))
	}
	// The survival itself is too small for a float64: Newton on its logarithm,
	// from its leading term.
	z := math.Sqrt(-2 * logSurvival)
	for range 5 {
		s := n.survival(z)
		z -= (s.value - logSurvival) / s.d1
	}
	return z
}
