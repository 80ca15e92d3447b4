package opening

import "math"

// Gauss–Legendre half rules of 6, 12 and 20 points on (-1, 1): Abramowitz and
// Stegun (1964), Handbook of Mathematical Functions, Table 25.4.
var (
	legendreNodes = [3][]float64{
		{0.9324695142031522, 0.6612093864662647, 0.2386191860831970},
		{
			0.9815606342467191, 0.9041172563704750, 0.7699026741943050,
			0.5873179542866171, 0.3678314989981802, 0.1252334085114692,
		},
		{
			0.9931285991850949, 0.9639719272779138, 0.9122344282513259, 0.8391169718222188, 0.7463319064601508,
			0.6360536807265150, 0.5108670019508271, 0.3737060887154196, 0.2277858511416451, 0.07652652113349733,
		},
	}
	legendreWeights = [3][]float64{
		{0.1713244923791705, 0.3607615730481384, 0.4679139345726904},
		{
			0.04717533638651177, 0.1069393259953183, 0.1600783285433464,
			0.2031674267230659, 0.2334925365383547, 0.2491470458134029,
		},
		{
			0.01761400713915212, 0.04060142980038694, 0.06267204833410906, 0.08327674157670475, 0.1019301198172404,
			0.1181945319615184, 0.1316886384491766, 0.1420961093183821, 0.1491729864726037, 0.1527533871307259,
		},
	}
)

// bivariate is a pair of standard normal variables of one correlation, with what
// does not depend on where they are cut.
type bivariate struct {
	r, asin  float64
	n        int
	sn, rest [40]float64 // at each point the sine s, and 1 − s²
	weight   [40]float64
}

// nearlyEqual is the correlation from which another series is used.
const nearlyEqual = 0.925

func newBivariate(r float64) bivariate {
	b := bivariate{r: r}
	rule := 2
	switch {
	case math.Abs(r) < 0.3:
		rule = 0
	case math.Abs(r) < 0.75:
		rule = 1
	case math.Abs(r) >= nearlyEqual:
		return b
	}
	b.asin = math.Asin(r)
	for i, x := range legendreNodes[rule] {
		for _, side := range [2]float64{1 - x, 1 + x} {
			sn := math.Sin(b.asin * side / 2)
			b.sn[b.n], b.rest[b.n], b.weight[b.n] = sn, 1-sn*sn, legendreWeights[rule][i]
			b.n++
		}
	}
	return b
}

// above returns P(X > h, Y > k), to about 1e-15; x and y are the probabilities
// of each alone. The method: A. Genz (2004), Numerical computation of
// rectangular bivariate and trivariate normal and t probabilities, Statistics
// and Computing 14:251, after Drezner and Wesolowsky (1990).
func (b *bivariate) above(h, k, x, y float64) float64 {
	if math.Abs(b.r) >= nearlyEqual {
		return bothAboveNearlyEqual(h, k, b.r)
	}
	hk, hs := h*k, (h*h+k*k)/2
	var sum float64
	for i, sn := range b.sn[:b.n] {
		if e := (sn*hk - hs) / b.rest[i]; e > -40 {
			sum += b.weight[i] * math.Exp(e)
		}
	}
	return sum*b.asin/(4*math.Pi) + x*y
}

func bothAboveNearlyEqual(h, k, r float64) float64 {
	if r < 0 {
		k = -k
	}
	hk := h * k
	var sum float64
	if as := (1 - r) * (1 + r); as > 0 {
		a, bs := math.Sqrt(as), (h-k)*(h-k)
		c, d := (4-hk)/8, (12-hk)/16
		if e := -(bs/as + hk) / 2; e > -100 {
			sum = a * math.Exp(e) * (1 - c*(bs-as)*(1-d*bs/5)/3 + c*d*as*as/5)
		}
		if hk > -100 {
			b := math.Sqrt(bs)
			sum -= math.Exp(-hk/2) * math.Sqrt(2*math.Pi) * phi(-b/a) * b * (1 - c*bs*(1-d*bs/5)/3)
		}
		a /= 2
		for i, x := range legendreNodes[2] {
			for _, side := range [2]float64{1 - x, 1 + x} {
				xs := a * side * a * side
				if e := -(bs/xs + hk) / 2; e > -100 {
					rs := math.Sqrt(1 - xs)
					sum += a * legendreWeights[2][i] * math.Exp(e) *
						(math.Exp(-hk*(1-rs)/(2*(1+rs)))/rs - (1 + c*xs*(1+d*xs)))
				}
			}
		}
		sum /= -2 * math.Pi
	}
	switch {
	case r > 0:
		return sum + phi(-max(h, k))
	case k <= h:
		return -sum
	case h < 0:
		return -sum + phi(k) - phi(h)
	default:
		return -sum + phi(-h) - phi(-k)
	}
}

// phi is the standard normal distribution function.
func phi(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

// phiStep is between the points of phiTable, a power of 2.
const phiStep = 1.0 / 64

// phiTable holds at points from -8 to 8 the normal distribution function and
// phiStep times the density.
var phiTable = func() (t [16/phiStep + 1][2]float64) {
	for i := range t {
		z := float64(i)*phiStep - 8
		t[i] = [2]float64{phi(z), phiStep * math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)}
	}
	return t
}()

// phiRead is phi within 3e-10, several times as fast, for integrals of no more
// than that: the cubic between the points of phiTable with the density as its
// slope, whose error is step⁴/384 times the greatest fourth derivative.
func phiRead(z float64) float64 {
	switch {
	case math.IsNaN(z):
		return z
	case z <= -8:
		return 0
	case z >= 8:
		return 1
	}
	x := (z + 8) / phiStep
	i := int(x)
	x -= float64(i)
	a, b := &phiTable[i], &phiTable[i+1]
	rise := b[0] - a[0]
	return a[0] + x*(a[1]+x*(3*rise-2*a[1]-b[1]+x*(a[1]+b[1]-2*rise)))
}
