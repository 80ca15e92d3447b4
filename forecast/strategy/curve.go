package strategy

import (
	"errors"
	"fmt"
)

// ErrInvalid is wrapped by every error about an argument that cannot be used.
var ErrInvalid = errors.New("invalid strategy input")

// StepsPerYear is how many points a Curve has in a year.
const StepsPerYear = 2

// ReachYears is how far a Curve reaches. A seal older than that is renewed at
// that age, so that discounting leaves next to nothing beyond.
const ReachYears = 60

// Points is the length of a Curve.
const Points = ReachYears*StepsPerYear + 1

// Curve is the probability that a seal has failed, averaged over the joint's
// pace: element i is that after i half-years. It lies between 0 and 1 and never
// falls. Because the years of a strategy are fixed, its expected cost is linear
// in the probability of failure, and averaging the curve over the pace is
// averaging the cost.
type Curve []float64

// Times are the years at which a Curve is to be given.
func Times() []float64 {
	t := make([]float64, Points)
	for i := range t {
		t[i] = float64(i) / StepsPerYear
	}
	return t
}

func (c Curve) validate(what string) error {
	if len(c) != Points {
		return fmt.Errorf("%w: the curve of %s has %d points, not %d", ErrInvalid, what, len(c), Points)
	}
	before := 0.0
	for _, f := range c {
		// Written so that NaN fails too; a curve read from a table may dip by a rounding.
		if !(f >= before-1e-9 && f <= 1+1e-9) {
			return fmt.Errorf("%w: the curve of %s is %g after %g", ErrInvalid, what, f, before)
		}
		before = max(f, before)
	}
	return nil
}

// FailedYears is the expected time spent failed between two ages in years,
// which are multiples of half a year.
func (c Curve) FailedYears(from, to float64) float64 {
	sum := 0.0
	for i := int(from * StepsPerYear); i < int(to*StepsPerYear); i++ {
		sum += step(c, i)
	}
	return sum
}

// harm is, by age, the discounted time spent failed up to it:
//
//	H(a) = ∫ F(t) v^t dt from 0 to a
//
// with v^t in factors.
func (c Curve) harm(factors []float64) []float64 {
	discounted := make(Curve, len(c))
	for i, f := range c {
		discounted[i] = f * factors[i]
	}
	h := make([]float64, len(c))
	for i := range len(c) - 1 {
		h[i+1] = h[i] + step(discounted, i)
	}
	return h
}

// step is the integral from point i to the next of the cubic through the four
// points about it, or of the parabola through three at the ends.
func step(f []float64, i int) float64 {
	const h = 1.0 / StepsPerYear
	last := len(f) - 1
	switch {
	case i == 0:
		return h / 12 * (5*f[0] + 8*f[1] - f[2])
	case i == last-1:
		return h / 12 * (5*f[last] + 8*f[last-1] - f[last-2])
	}
	return h / 24 * (-f[i-1] + 13*f[i] + 13*f[i+1] - f[i+2])
}
