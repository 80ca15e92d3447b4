package opening

import "math"

// Opening is the uncertain true opening of a joint at one temperature and
// time, in inches: a mixture of four normal distributions.
type Opening struct {
	weight, mean, sd [4]float64
}

// combination is a·k.a + b·k.b + c·k.c + k.shift: an opening, or what is left
// between an opening and a limit.
type combination struct{ a, b, c, shift float64 }

// plus returns k + scale·m.
func (k combination) plus(scale float64, m combination) combination {
	return combination{k.a + scale*m.a, k.b + scale*m.b, k.c + scale*m.c, k.shift + scale*m.shift}
}

func (p *part) mean(k combination) float64 { return k.a*p.a + k.b*p.b + k.c*p.c + k.shift }

func (p *part) cov(k, m combination) float64 {
	return m.a*(k.a*p.vaa+k.b*p.vab+k.c*p.vac) + m.b*(k.a*p.vab+k.b*p.vbb+k.c*p.vbc) + m.c*(k.a*p.vac+k.b*p.vbc+k.c*p.vcc)
}

// distribution returns the mixture that a combination follows.
func (l *Line) distribution(k combination) Opening {
	var o Opening
	for i := range l.parts {
		p := &l.parts[i]
		o.weight[i], o.mean[i], o.sd[i] = p.weight, p.mean(k), math.Sqrt(max(p.cov(k, k), 0))
	}
	return o
}

func (l *Line) at(deckTempF, year float64) combination {
	return combination{1, deckTempF - l.meanTempF, year - l.meanYear, 0}
}

func (l *Line) cold(year float64) combination {
	return combination{1, l.loadFactor * (l.rangeF.MinF - l.meanTempF), year - l.meanYear, l.shrinkageIn}
}

func (l *Line) hot(year float64) combination {
	return combination{1, l.loadFactor * (l.rangeF.MaxF - l.meanTempF), year - l.meanYear, 0}
}

// At returns the opening at a deck temperature in °F and a decimal year, no
// load factor and no shrinkage added: what a crew should find.
func (l *Line) At(deckTempF, year float64) Opening { return l.distribution(l.at(deckTempF, year)) }

// ReadingAt returns what a tape should read at a temperature in °F and a
// decimal year, of the deck or where air of the air: the opening of At, and
// beside its uncertainty the noise of a reading.
func (l *Line) ReadingAt(tempF, year float64, air bool, s Settings) Opening {
	s = s.filled()
	o := l.At(tempF, year)
	v := (&Reading{AirTemp: air}).variance(l.slope0, &s)
	for k := range o.sd {
		o.sd[k] = math.Sqrt(o.sd[k]*o.sd[k] + v)
	}
	return o
}

// Cold returns the opening at the coldest deck in a decimal year. The load
// factor multiplies the movement away from the readings' mean temperature, and
// shrinkage still to come is taken as having come.
func (l *Line) Cold(year float64) Opening { return l.distribution(l.cold(year)) }

// Hot returns the opening at the hottest deck in a decimal year, load factor
// included, and shrinkage still to come left out.
func (l *Line) Hot(year float64) Opening { return l.distribution(l.hot(year)) }

// MeanIn returns the mean.
func (o *Opening) MeanIn() float64 {
	var m float64
	for k, w := range o.weight {
		m += w * o.mean[k]
	}
	return m
}

// SDIn returns the standard deviation.
func (o *Opening) SDIn() float64 {
	m := o.MeanIn()
	var v float64
	for k, w := range o.weight {
		d := o.mean[k] - m
		v += w * (o.sd[k]*o.sd[k] + d*d)
	}
	return math.Sqrt(v)
}

// ProbBelow returns the probability that the opening is under xIn inches.
func (o *Opening) ProbBelow(xIn float64) float64 {
	var p float64
	for k, w := range o.weight {
		p += w * below(xIn, o.mean[k], o.sd[k])
	}
	return min(p, 1)
}

// ProbAbove returns the probability that the opening is over xIn inches.
// It keeps its digits where 1 − ProbBelow would lose them.
func (o *Opening) ProbAbove(xIn float64) float64 {
	var p float64
	for k, w := range o.weight {
		p += w * below(-xIn, -o.mean[k], o.sd[k])
	}
	return min(p, 1)
}

// QuantileIn returns the opening that is not exceeded with probability p,
// 0 < p < 1, to 1e-12 in: bisection, hastened by Newton steps that stay within
// the bracket. A p outside is taken as the nearest of 1e-9 and 1 − 1e-9.
func (o *Opening) QuantileIn(p float64) float64 {
	p = min(max(p, 1e-9), 1-1e-9)
	z := math.Sqrt2 * math.Erfinv(2*p-1)
	// A mixture's quantile lies between the least and the greatest of its parts'.
	low, high, x := math.Inf(1), math.Inf(-1), 0.0
	for k, w := range o.weight {
		q := o.mean[k] + z*o.sd[k]
		low, high = min(low, q), max(high, q)
		x += w * q
	}
	for high-low > 1e-12 {
		x = min(max(x, low), high)
		miss := o.ProbBelow(x) - p
		if miss < 0 {
			low = x
		} else {
			high = x
		}
		next := x - miss/o.density(x)
		if math.Abs(next-x) < 1e-13*(1+math.Abs(x)) {
			return x
		}
		if !(next > low && next < high) { // also where the density is 0
			if next = low + (high-low)/2; next <= low || next >= high {
				break
			}
		}
		x = next
	}
	return low + (high-low)/2
}

func (o *Opening) density(x float64) float64 {
	var f float64
	for k, w := range o.weight {
		if o.sd[k] > 0 {
			z := (x - o.mean[k]) / o.sd[k]
			f += w * math.Exp(-z*z/2) / (o.sd[k] * math.Sqrt(2*math.Pi))
		}
	}
	return f
}

// below returns P(X < x) for X ~ N(mean, sd²); a step where sd is 0.
func below(x, mean, sd float64) float64 {
	if sd == 0 {
		if mean < x {
			return 1
		}
		return 0
	}
	return 0.5 * math.Erfc((mean-x)/(sd*math.Sqrt2))
}

// Expected is the opening to expect at one deck temperature.
type Expected struct {
	DeckTempF     float64
	GapIn         float64 // mean
	LowIn, HighIn float64 // 80 % band
}

// ExpectedOpenings returns the opening to expect in a decimal year at every
// 5 °F from the coldest to the hottest deck, for the crew on the day.
func (l *Line) ExpectedOpenings(year float64) []Expected {
	first, last := math.Floor(l.rangeF.MinF/5)*5, math.Ceil(l.rangeF.MaxF/5)*5
	out := make([]Expected, 0, int((last-first)/5)+1)
	for f := first; f <= last; f += 5 {
		o := l.At(f, year)
		out = append(out, Expected{f, o.MeanIn(), o.QuantileIn(0.1), o.QuantileIn(0.9)})
	}
	return out
}
