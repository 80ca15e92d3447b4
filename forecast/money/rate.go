package money

import (
	"fmt"
	"math"
)

// Curve is a published table of real discount rates by length of programme, in
// ascending order of term.
type Curve []Term

// Term is one row of a [Curve]. The rate is a fraction a year.
type Term struct{ Years, Rate float64 }

// At is the rate for a programme of the given length. Between two terms it is
// interpolated linearly; beyond the longest term the longest term's rate
// applies, and below the shortest the shortest's. (US OMB Circular A-94,
// Appendix C.)
func (c Curve) At(years float64) (float64, error) {
	if len(c) == 0 || math.IsNaN(years) {
		return 0, fmt.Errorf("%w: no discount rate for %g years from %d terms", ErrInvalid, years, len(c))
	}
	for i, t := range c {
		if !(t.Rate > -1) || math.IsInf(t.Rate, 0) || !(t.Years > 0) || i > 0 && !(t.Years > c[i-1].Years) {
			return 0, fmt.Errorf("%w: discount rate %g for %g years; terms must ascend", ErrInvalid, t.Rate, t.Years)
		}
	}
	if years <= c[0].Years {
		return c[0].Rate, nil
	}
	for i := 1; i < len(c); i++ {
		a, b := c[i-1], c[i]
		if years <= b.Years {
			return a.Rate + (years-a.Years)/(b.Years-a.Years)*(b.Rate-a.Rate), nil
		}
	}
	return c[len(c)-1].Rate, nil
}
