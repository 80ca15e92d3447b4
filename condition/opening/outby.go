package opening

import (
	"math"
	"slices"
)

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
			e := newEither(p.cov(x, x), p.cov(y, y), p.cov(x, y))
			out += p.weight * e.belowZero(p.mean(x), p.mean(y))
		}
	}
	return min(out, 1)
}

// negligible is the probability below which a part, or an overlap, is left out.
const negligible = 1e-8

// either gives P(X < 0 or Y < 0) for jointly normal X and Y of one covariance.
type either struct {
	sdX, sdY float64
	both     bivariate
}

func newEither(varX, varY, covXY float64) either {
	e := either{sdX: math.Sqrt(max(varX, 0)), sdY: math.Sqrt(max(varY, 0))}
	r := 0.0
	if e.sdX > 0 && e.sdY > 0 {
		r = min(max(covXY/(e.sdX*e.sdY), -1), 1)
	}
	e.both = newBivariate(r)
	return e
}

// belowZero is the probability, given the means.
func (e *either) belowZero(meanX, meanY float64) float64 {
	h, k := ratio(meanX, e.sdX), ratio(meanY, e.sdY)
	x, y := phiRead(-h), phiRead(-k)
	switch { // the answer lies between the greater of the two and their sum
	case min(x, y) < negligible:
		return min(x+y, 1)
	case max(x, y) > 1-negligible:
		return 1
	}
	return x + y - e.both.above(h, k, x, y)
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
//
// Of many years only some are worked out and the others read between them
// (curve), within 1e-5.
func (l *Line) OutByYear(dst []float64, m Limits, nowYear float64, years []float64) []float64 {
	if !m.Known() {
		return append(dst, make([]float64, len(years))...)
	}
	parts := l.drifting(m, nowYear)
	at := func(year float64) float64 {
		if year <= nowYear {
			return l.OutNow(m, nowYear)
		}
		coldThen, hotThen := l.room(m, year)
		var out float64
		for i := range parts {
			out += parts[i].weight * parts[i].outBy(coldThen, hotThen)
		}
		return min(out, 1)
	}
	if len(years) > manyYears {
		if first, last := max(slices.Min(years), nowYear), slices.Max(years); last > first {
			if c, ok := newCurve(at, first, last, len(years)/2); ok {
				for _, year := range years {
					dst = append(dst, min(max(c.at(max(year, first)), 0), 1))
				}
				return dst
			}
		}
	}
	for _, year := range years {
		dst = append(dst, at(year))
	}
	return dst
}

// manyYears is from how many years on OutByYear reads between them.
const manyYears = 33

// drifting is a part with what its probabilities in all years have in common.
// Given its drift the opening moves by a known amount, so that the covariance of
// the room at both limits is that of now.
type drifting struct {
	*part
	either
	sd, turn        float64     // of the drift, and 0 drift in standard deviations from its mean
	coldNow, hotNow combination // room
}

func (l *Line) drifting(m Limits, nowYear float64) []drifting {
	out := make([]drifting, 0, len(l.parts))
	cold, hot := l.room(m, nowYear)
	for i := range l.parts {
		p := &l.parts[i]
		if p.weight <= negligible {
			continue
		}
		d := drifting{part: p, sd: math.Sqrt(p.vcc), coldNow: cold, hotNow: hot}
		d.turn = min(max(-p.c/d.sd, -tail), tail)
		x, y := d.slope(cold), d.slope(hot)
		d.either = newEither(p.cov(cold, cold)-x*x, p.cov(hot, hot)-y*y, p.cov(cold, hot)-x*y)
		out = append(out, d)
	}
	return out
}

// slope is what a combination gains with a standard deviation of drift.
func (d *drifting) slope(x combination) float64 { return d.cov(x, combination{c: 1}) / d.sd }

// outBy integrates the part's probability over its drift, given the room then.
func (d *drifting) outBy(coldThen, hotThen combination) float64 {
	closing := d.pair(d.coldNow, hotThen) // c < 0: widest now, narrowest then
	opening := d.pair(coldThen, d.hotNow)
	return closing.integrate(-tail, d.turn) + opening.integrate(d.turn, tail)
}

// tail is where the integral over drift stops, in standard deviations: it
// leaves out 2e-9.
const tail = 6

// pair is the room at the cold and the hot limit given a drift c = mean + z·sd:
// jointly normal, with means that are linear in z.
type pair struct {
	meanX, meanY, slopeX, slopeY float64
	*either
}

func (d *drifting) pair(x, y combination) pair {
	return pair{meanX: d.mean(x), meanY: d.mean(y), slopeX: d.slope(x), slopeY: d.slope(y), either: &d.either}
}

func (g *pair) at(z float64) float64 {
	return g.belowZero(g.meanX+z*g.slopeX, g.meanY+z*g.slopeY)
}

// integrate returns ∫ P(X < 0 or Y < 0 | z)·φ(z) dz. Each of the two
// probabilities rises from 0 to 1 (or falls) around the z where its mean is 0,
// and where it does so steeply the range is cut there and 6 standard deviations
// to both sides; a stretch where the outcome is settled needs no quadrature.
func (g *pair) integrate(low, high float64) float64 {
	const steep = 1.3 // standard deviations per unit of z: below, 20 points on up to 6 units do
	cuts := [9]float64{0: low, 7: min(max(0, low), high), 8: high}
	for i, turn := range [2]struct{ mean, slope, sd float64 }{{g.meanX, g.slopeX, g.sdX}, {g.meanY, g.slopeY, g.sdY}} {
		centre, reach := low, 0.0
		if math.Abs(turn.slope) > steep*turn.sd {
			centre, reach = -turn.mean/turn.slope, 6*turn.sd/math.Abs(turn.slope)
		}
		for k, z := range [3]float64{centre - reach, centre, centre + reach} {
			cuts[1+3*i+k] = min(max(z, low), high)
		}
	}
	slices.Sort(cuts[:])
	var sum float64
	for i := range cuts[1:] {
		if a, b := cuts[i], cuts[i+1]; b-a > 1e-12 {
			sum += g.stretch(a, b)
		}
	}
	return sum
}

func (g *pair) stretch(a, b float64) float64 {
	xa, xb := phiRead(-ratio(g.meanX+a*g.slopeX, g.sdX)), phiRead(-ratio(g.meanX+b*g.slopeX, g.sdX))
	ya, yb := phiRead(-ratio(g.meanY+a*g.slopeY, g.sdY)), phiRead(-ratio(g.meanY+b*g.slopeY, g.sdY))
	switch {
	case max(xa, xb)+max(ya, yb) < negligible:
		return 0
	case max(min(xa, xb), min(ya, yb)) > 1-negligible:
		return phiRead(b) - phiRead(a)
	}
	if phiRead(b)-phiRead(a) < negligible {
		return 0
	}
	mid, half := (a+b)/2, (b-a)/2
	rule := 1
	if half > 1.5 {
		rule = 2
	}
	var sum float64
	for i, node := range legendreNodes[rule] {
		for _, z := range [2]float64{mid - half*node, mid + half*node} {
			sum += half * legendreWeights[rule][i] * math.Exp(-z*z/2) * g.at(z)
		}
	}
	return sum / math.Sqrt(2*math.Pi)
}
