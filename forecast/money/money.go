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

// DiscountFactor is (1 + rate)^-years: what a dollar spent years from now is
// worth today (US OMB Circular A-94, section 8). Years may be fractional or
// negative; the rate must be above -1 and both finite.
func DiscountFactor(rate, years float64) (float64, error) {
	f := math.Pow(1+rate, -years)
	if !(rate > -1) || math.IsNaN(f) || math.IsInf(f, 0) {
		return 0, fmt.Errorf("%w: discount rate %g over %g years; the rate is a fraction above -1", ErrInvalid, rate, years)
	}
	return f, nil
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
