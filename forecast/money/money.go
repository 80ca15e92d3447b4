package money

import (
	"errors"
	"fmt"
	"math"
)

// ErrInvalid is wrapped by every error about an argument that cannot be used.
var ErrInvalid = errors.New("invalid money input")

// ErrNoPrice is wrapped when a price index does not reach the period asked for.
var ErrNoPrice = errors.New("no price level for that period")

// Nominal is cents as paid in the year of spending. Budgets are nominal.
type Nominal int64

// Constant is cents at the price level of one year, which the holder states
// beside it. Objectives of the plan are constant.
type Constant int64

// Present is cents discounted to the start of one year, which the holder
// states beside it.
type Present int64

// RealRate discounts constant dollars, as a fraction a year: 0.03 is 3 %.
type RealRate float64

// NominalRate discounts nominal dollars, as a fraction a year.
type NominalRate float64

// maxCents is the largest amount that a float64 holds to the cent:
// 90 trillion dollars.
const maxCents = 1 << 53

// scale multiplies an amount by a factor and rounds half away from zero.
func scale(cents int64, factor float64) (int64, error) {
	product := float64(cents) * factor
	// Written so that NaN fails too.
	if !(math.Abs(product) <= maxCents) || cents > maxCents || cents < -maxCents {
		return 0, fmt.Errorf("%w: %d cents times %g is not an amount; check the factor", ErrInvalid, cents, factor)
	}
	return int64(math.Round(product)), nil
}

// Present discounts constant dollars spent years from now by a real rate:
//
//	PV = c (1 + r)^-years
//
// Years may be fractional or negative. The rate must be above -1.
// (US OMB Circular A-94, section 8.)
func (c Constant) Present(r RealRate, years float64) (Present, error) {
	pv, err := discount(int64(c), float64(r), years)
	return Present(pv), err
}

// Present discounts nominal dollars spent years from now by a nominal rate.
// See [Constant.Present].
func (n Nominal) Present(r NominalRate, years float64) (Present, error) {
	pv, err := discount(int64(n), float64(r), years)
	return Present(pv), err
}

func discount(cents int64, rate, years float64) (int64, error) {
	f, err := DiscountFactor(rate, years)
	if err != nil {
		return 0, err
	}
	return scale(cents, f)
}

// DiscountFactor is (1 + rate)^-years: what a dollar spent years from now is
// worth today. The rate must be above -1 and both finite.
func DiscountFactor(rate, years float64) (float64, error) {
	f := math.Pow(1+rate, -years)
	if !(rate > -1) || math.IsNaN(f) || math.IsInf(f, 0) {
		return 0, fmt.Errorf("%w: discount rate %g over %g years; the rate is a fraction above -1", ErrInvalid, rate, years)
	}
	return f, nil
}

// AnnuityFactor is the present value of one dollar at the end of each of the
// next years:
//
//	a = (1 - (1 + rate)^-years) / rate,  years where rate = 0
//
// Its inverse is the yearly payment that repays one dollar. The rate must be
// above -1 and years not negative.
func AnnuityFactor(rate float64, years int) (float64, error) {
	if years < 0 || !(rate > -1) || math.IsInf(rate, 0) {
		return 0, fmt.Errorf("%w: annuity at rate %g over %d years", ErrInvalid, rate, years)
	}
	n := float64(years)
	if rate == 0 {
		return n, nil
	}
	// expm1 and log1p keep all digits when the rate is tiny.
	a := -math.Expm1(-n*math.Log1p(rate)) / rate
	if math.IsInf(a, 0) {
		return 0, fmt.Errorf("%w: annuity at rate %g over %d years is beyond any amount", ErrInvalid, rate, years)
	}
	return a, nil
}

// Real is the real rate that goes with a nominal rate at the given yearly
// inflation: (1 + n)/(1 + inflation) - 1. (Fisher 1930, The Theory of Interest.)
func (n NominalRate) Real(inflation float64) (RealRate, error) {
	r := (1+float64(n))/(1+inflation) - 1
	if !(inflation > -1) || !(r > -1) || math.IsInf(r, 0) {
		return 0, fmt.Errorf("%w: nominal rate %g with inflation %g", ErrInvalid, n, inflation)
	}
	return RealRate(r), nil
}

// Split divides an amount among weights so that the parts sum to it exactly:
// each part is rounded toward zero and the cents left over go to the largest
// remainders, the earlier part first where they tie. Where all weights are zero
// the parts are equal. Weights must be finite and not negative, at least one.
func Split(cents int64, weights []float64) ([]int64, error) {
	total := 0.0
	for _, w := range weights {
		if !(w >= 0) {
			return nil, fmt.Errorf("%w: share weight %g", ErrInvalid, w)
		}
		total += w
	}
	if len(weights) == 0 || math.IsInf(total, 0) || cents > maxCents || cents < -maxCents {
		return nil, fmt.Errorf("%w: cannot share %d cents among %d weights of sum %g", ErrInvalid, cents, len(weights), total)
	}
	parts := make([]int64, len(weights))
	remainders := make([]float64, len(weights))
	left := cents
	for i, w := range weights {
		share := 1 / float64(len(weights))
		if total > 0 {
			share = w / total
		}
		whole, frac := math.Modf(float64(cents) * share)
		parts[i], remainders[i] = int64(whole), math.Abs(frac)
		left -= parts[i]
	}
	step := int64(1)
	if left < 0 {
		step = -1
	}
	for ; left != 0; left -= step {
		best := 0
		for i := range remainders {
			if remainders[i] > remainders[best] {
				best = i
			}
		}
		parts[best] += step
		remainders[best]--
	}
	return parts, nil
}
