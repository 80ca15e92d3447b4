package opening

import "math"

// curve reads a smooth function on an interval between Chebyshev points of the
// interval stretched by
//
//	year = first + scale (base^u − 1),  0 ≤ u ≤ 1,  base = 1 + (last − first)/scale
//
// which lie closer at its beginning, by the barycentric formula: J.-P. Berrut
// and L. N. Trefethen (2004), Barycentric Lagrange interpolation, SIAM Review
// 46:501, section 5.
type curve struct {
	first, last, base float64
	u, f              []float64
}

const (
	curveScale = 5    // years
	curveClose = 2e-6 // how near new points must come to be enough, for 1e-5 everywhere between them
)

// newCurve works out f at twice as many steps between points again and again,
// keeping those it has, until the new ones lie where the old ones say. ok is
// false where that takes more than most points.
func newCurve(f func(year float64) float64, first, last float64, most int) (c curve, ok bool) {
	c = curve{first: first, last: last, base: 1 + (last-first)/curveScale}
	for steps := 8; steps < most; steps *= 2 {
		old := c
		c.u, c.f = make([]float64, steps+1), make([]float64, steps+1)
		worst := 0.0
		for i := range c.u {
			c.u[i] = (1 - math.Cos(math.Pi*float64(i)/float64(steps))) / 2
			if i%2 == 0 && len(old.u) > 0 {
				c.f[i] = old.f[i/2]
				continue
			}
			year := first + curveScale*(math.Pow(c.base, c.u[i])-1)
			c.f[i] = f(min(year, last))
			if len(old.u) > 0 {
				worst = max(worst, math.Abs(c.f[i]-old.read(c.u[i])))
			}
		}
		if len(old.u) > 0 && worst < curveClose {
			return c, true
		}
	}
	return c, false
}

// at is the function in a year of the interval.
func (c *curve) at(year float64) float64 {
	return c.read(math.Log1p((year-c.first)/curveScale) / math.Log(c.base))
}

func (c *curve) read(u float64) float64 {
	var above, below float64
	for i, x := range c.u {
		d := u - x
		if d == 0 {
			return c.f[i]
		}
		w := 1 / d
		if i%2 == 1 {
			w = -w
		}
		if i == 0 || i == len(c.u)-1 {
			w /= 2
		}
		above += w * c.f[i]
		below += w
	}
	return above / below
}
