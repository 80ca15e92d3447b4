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

// bothAbove returns P(X > h, Y > k) for standard normal X and Y with
// correlation r, to about 1e-15: A. Genz (2004), Numerical computation of
// rectangular bivariate and trivariate normal and t probabilities, Statistics
// and Computing 14:251, after Drezner and Wesolowsky (1990).
func bothAbove(h, k, r float64) float64 {
	rule := 2
	switch {
	case math.Abs(r) < 0.3:
		rule = 0
	case math.Abs(r) < 0.75:
		rule = 1
	}
	if math.Abs(r) >= 0.925 {
		return bothAboveNearlyEqual(h, k, r)
	}
	hk, hs, asr := h*k, (h*h+k*k)/2, math.Asin(r)
	var sum float64
	for i, x := range legendreNodes[rule] {
		for _, side := range [2]float64{1 - x, 1 + x} {
			sn := math.Sin(asr * side / 2)
			sum += legendreWeights[rule][i] * math.Exp((sn*hk-hs)/(1-sn*sn))
		}
	}
	return sum*asr/(4*math.Pi) + phi(-h)*phi(-k)
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
