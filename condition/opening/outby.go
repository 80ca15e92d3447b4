package opening

import "math"

// Limits are the openings a seal works between, square to the joint line, in
// inches. The zero value means that no seal, or no limits, are on record.
type Limits struct {
	MinIn, MaxIn float64
	RackingIn    float64 // movement along the joint line that the seal allows; 0 means not given
}

// Known reports whether the limits are on record.
func (m Limits) Known() bool { return m.MaxIn > m.MinIn }

// room returns what is left at the cold and at the hot limit in a year.
func (l *Line) room(m Limits, year float64) (cold, hot combination) {
	cold = combination{shift: m.MaxIn}.plus(-1, l.cold(year))
	hot = l.hot(year).plus(1, combination{shift: -m.MinIn})
	return cold, hot
}

// OutNow returns the probability that, in a decimal year, the opening at the
// coldest deck is over the seal's largest, or at the hottest under its
// smallest; 0 where the limits are not Known.
func (l *Line) OutNow(m Limits, year float64) float64 {
	if !m.Known() {
		return 0
	}
	return l.eitherNegative(l.room(m, year))
}

// eitherNegative returns the probability that one or both combinations are
// under 0.
func (l *Line) eitherNegative(x, y combination) float64 {
	var out float64
	for i := range l.parts {
		if p := &l.parts[i]; p.weight > negligible {
			out += p.weight * eitherBelowZero(p.mean(x), p.mean(y), p.cov(x, x), p.cov(y, y), p.cov(x, y))
		}
	}
	return min(out, 1)
}

// negligible is the probability below which a part is left out.
const negligible = 1e-9

// eitherBelowZero returns P(X < 0 or Y < 0) for jointly normal X and Y.
func eitherBelowZero(meanX, meanY, varX, varY, covXY float64) float64 {
	sdX, sdY := math.Sqrt(max(varX, 0)), math.Sqrt(max(varY, 0))
	h, k := ratio(meanX, sdX), ratio(meanY, sdY)
	x, y := phi(-h), phi(-k)
	if min(x, y) < negligible {
		return x + y
	}
	r := 0.0
	if sdX > 0 && sdY > 0 {
		r = min(max(covXY/(sdX*sdY), -1), 1)
	}
	return x + y - bothAbove(h, k, r)
}

// ratio is x/sd, kept finite where sd is 0 or next to it.
func ratio(x, sd float64) float64 {
	const far = 38 // beyond, the normal tail is 0 in a float64
	if sd == 0 {
		return math.Copysign(far, x)
	}
	return min(max(x/sd, -far), far)
}

// OutByYear appends to dst, for each of the decimal years, the probability
// that the opening has left the seal's limits by then: at the coldest or the
// hottest deck, now or in any year up to it. Position, slope and drift belong
// to the joint, so the whole horizon is judged on one draw of them; the
// probabilities are never multiplied up year by year and never fall. A year
// before nowYear counts as nowYear. 0 is appended where the limits are not
// Known.
//
// For a given drift c the opening moves one way, so the extremes are at the
// ends of the horizon and what remains is a bivariate normal probability; c is
// integrated by Gauss–Legendre quadrature on both sides of 0, to about 1e-7.
func (l *Line) OutByYear(dst []float64, m Limits, nowYear float64, years []float64) []float64 {
	for _, year := range years {
		switch {
		case !m.Known():
			dst = append(dst, 0)
		case year <= nowYear:
			dst = append(dst, l.OutNow(m, nowYear))
		default:
			var out float64
			for i := range l.parts {
				if p := &l.parts[i]; p.weight > negligible {
					out += p.weight * l.outBy(p, m, nowYear, year)
				}
			}
			dst = append(dst, min(out, 1))
		}
	}
	return dst
}

// outBy integrates one part's probability over its drift.
func (l *Line) outBy(p *part, m Limits, nowYear, year float64) float64 {
	coldNow, hotNow := l.room(m, nowYear)
	coldThen, hotThen := l.room(m, year)
	drift := combination{c: 1}
	sd := math.Sqrt(p.vcc)

	// Given c = mean + z·sd, a combination k has mean m_k + z·cov(k, c)/sd, and
	// the covariance of two loses cov(k, c)·cov(m, c)/vcc.
	type pair struct{ meanX, meanY, zX, zY, varX, varY, covXY float64 }
	given := func(x, y combination) pair {
		g := pair{meanX: p.mean(x), meanY: p.mean(y), zX: p.cov(x, drift) / sd, zY: p.cov(y, drift) / sd}
		g.varX = p.cov(x, x) - g.zX*g.zX
		g.varY = p.cov(y, y) - g.zY*g.zY
		g.covXY = p.cov(x, y) - g.zX*g.zY
		return g
	}
	integrate := func(g pair, low, high float64) float64 {
		// The integrand turns within 1/steep of z: stretches must not be much longer.
		steep := max(math.Abs(g.zX)/math.Sqrt(max(g.varX, 1e-12)), math.Abs(g.zY)/math.Sqrt(max(g.varY, 1e-12)))
		stretches := math.Ceil((high - low) / min(3, max(8/steep, 0.05)))
		half := (high - low) / stretches / 2
		var sum float64
		for s := 0.0; s < stretches; s++ {
			mid := low + (2*s+1)*half
			for i, node := range legendreNodes[2] {
				for _, z := range [2]float64{mid - half*node, mid + half*node} {
					sum += half * legendreWeights[2][i] * math.Exp(-z*z/2) *
						eitherBelowZero(g.meanX+z*g.zX, g.meanY+z*g.zY, g.varX, g.varY, g.covXY)
				}
			}
		}
		return sum / math.Sqrt(2*math.Pi)
	}
	const tail = 6 // standard deviations: leaves out 2e-9
	turn := min(max(-p.c/sd, -tail), tail)
	closing := integrate(given(coldNow, hotThen), -tail, turn) // c < 0: widest now, narrowest then
	return closing + integrate(given(coldThen, hotNow), turn, tail)
}
