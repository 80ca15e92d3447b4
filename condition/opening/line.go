package opening

import (
	"fmt"
	"math"
)

// Reading is one measured opening, ready for the line: square to the joint
// line, the whole of the joint. Measurement makes one from what was written
// down in the field.
type Reading struct {
	Year      float64 // when, as a decimal year (365.25 days)
	DeckTempF float64 // deck temperature, or air temperature where AirTemp
	GapIn     float64 // opening square to the joint line
	TapeIn    float64 // standard deviation of this measurement; 0 means the setting
	AirTemp   bool    // only the air temperature is known
}

// part is one conjugate normal model: its posterior weight, and the posterior
// mean and covariance of (a, b, c).
type part struct {
	weight                       float64
	a, b, c                      float64
	vaa, vab, vac, vbb, vbc, vcc float64
}

// Line is the opening line of one joint after its readings: an exact mixture
// of four normal models, free or stuck by steady or drifting. On a Still joint
// "stuck" stands for its opposite, "moves though it should not".
type Line struct {
	parts       [4]part // free steady, free drifting, stuck steady, stuck drifting
	meanTempF   float64
	meanYear    float64
	spanTempF   float64
	sigmaIn     float64
	slope0      float64
	shrinkageIn float64 // square to the joint line
	rackingIn   float64
	skewDeg     float64
	loadFactor  float64
	rangeF      TempRange
	readings    int
	still       bool
}

// Fit returns the opening line of a joint from its readings, the one at
// installation included, in any order. Theory is the prior, so one reading is
// enough for an answer (Line.FromTheory then says so).
//
//	gap_i = a + b·(T_i − T_mean) + c·(t_i − t_mean) + ε_i,  ε_i ~ N(0, σ_i²)
//	σ_i²  = NoiseFactor · (tape² + (b0·τ)²),  b0 = −12·α·L·cos θ
//	a ~ N(0, 10²)
//	b ~ 0.97 N(b0, (0.25 b0)²) + 0.03 N(0, (0.1 b0)²)     free or stuck
//	c ~ 0.90 N(0, 0.01²) + 0.10 N(0, 0.1²)                steady or drifting
//
// The four combinations are conjugate normal models (Gelman et al., 2013,
// Bayesian Data Analysis, 3rd ed., section 14.8); their posterior weights are
// prior weight times marginal likelihood. On a Still joint b is 0, or
// N(0, 0.005²) with weight 0.03.
//
// Fit returns ErrInvalid for no reading, a value that is not finite, or a
// joint without an expansion length. It does not allocate unless it fails.
func Fit(j Joint, readings []Reading, s Settings) (Line, error) {
	if err := j.validate(); err != nil {
		return Line{}, err
	}
	if len(readings) == 0 {
		return Line{}, fmt.Errorf("%w: no reading: measure the gap and the deck temperature once", ErrInvalid)
	}
	for i := range readings {
		if err := readings[i].validate(); err != nil {
			return Line{}, fmt.Errorf("reading %d: %w", i+1, err)
		}
	}
	l, _ := fit(&j, readings, s.filled())
	return l, nil
}

func (r *Reading) validate() error {
	ok := func(x, limit float64) bool { return math.Abs(x) <= limit } // false for NaN
	switch {
	case !ok(r.GapIn, 1000):
		return fmt.Errorf("%w: gap %g in", ErrInvalid, r.GapIn)
	case !ok(r.DeckTempF, 250):
		return fmt.Errorf("%w: temperature %g °F", ErrInvalid, r.DeckTempF)
	case !ok(r.Year, 10000):
		return fmt.Errorf("%w: year %g", ErrInvalid, r.Year)
	case !(r.TapeIn >= 0) || !ok(r.TapeIn, 100):
		return fmt.Errorf("%w: tape error %g in", ErrInvalid, r.TapeIn)
	}
	return nil
}

// variance returns σ_i² of a reading on a joint with theoretical slope slope0.
func (r *Reading) variance(slope0 float64, s *Settings) float64 {
	tape, tau := s.TapeIn, s.DeckTempErrF
	if r.TapeIn > 0 {
		tape = r.TapeIn
	}
	if r.AirTemp {
		tau = s.AirTempErrF
	}
	return s.NoiseFactor * (tape*tape + slope0*slope0*tau*tau)
}

// fit does the work of Fit on checked input with filled settings, and returns
// the log of the marginal likelihood too.
func fit(j *Joint, readings []Reading, s Settings) (Line, float64) {
	b0 := j.SlopeInPerF()
	l := Line{
		slope0: b0, readings: len(readings), still: j.Still, loadFactor: s.LoadFactor,
		rangeF: j.TempRange(), skewDeg: j.SkewDeg, shrinkageIn: j.SquareIn(j.ShrinkageIn), rackingIn: j.RangeRackingIn(s.LoadFactor),
	}
	low, high := math.Inf(1), math.Inf(-1)
	var sumVar float64
	for i := range readings {
		r := &readings[i]
		l.meanTempF += r.DeckTempF
		l.meanYear += r.Year
		low, high = min(low, r.DeckTempF), max(high, r.DeckTempF)
		sumVar += r.variance(b0, &s)
	}
	n := float64(len(readings))
	l.meanTempF /= n
	l.meanYear /= n
	l.spanTempF = high - low
	l.sigmaIn = math.Sqrt(sumVar / n)

	slopes := [2]struct{ mean, sd, share float64 }{
		{b0, s.SlopeSpread * b0, 1 - s.StuckShare},
		{0, s.StuckSpread * b0, s.StuckShare},
	}
	if j.Still {
		slopes[0].sd, slopes[1].sd = 0, s.StraySlopeInPerF
	}
	drifts := [2]struct{ sd, share float64 }{
		{s.SteadyInPerYr, 1 - s.DriftShare},
		{s.DriftInPerYr, s.DriftShare},
	}
	var logs [4]float64
	best := math.Inf(-1)
	for k := range l.parts {
		b, c := slopes[k/2], drifts[k%2]
		l.parts[k] = part{b: b.mean, vaa: s.OpeningSDIn * s.OpeningSDIn, vbb: b.sd * b.sd, vcc: c.sd * c.sd}
		logs[k] = math.Log(b.share*c.share) + l.parts[k].learn(readings, &l, b0, &s)
		best = max(best, logs[k])
	}
	var sum float64
	for k := range l.parts {
		l.parts[k].weight = math.Exp(logs[k] - best)
		sum += l.parts[k].weight
	}
	for k := range l.parts {
		l.parts[k].weight /= sum
	}
	return l, best + math.Log(sum)
}

// learn takes the readings in one after another (the Kalman form of the
// conjugate update, which allows a prior variance of 0) and returns the log
// marginal likelihood.
func (p *part) learn(readings []Reading, l *Line, slope0 float64, s *Settings) float64 {
	var squares, logs float64
	scale := 1.0
	for i := range readings {
		r := &readings[i]
		x, t := r.DeckTempF-l.meanTempF, r.Year-l.meanYear
		ga := p.vaa + p.vab*x + p.vac*t
		gb := p.vab + p.vbb*x + p.vbc*t
		gc := p.vac + p.vbc*x + p.vcc*t
		v := ga + gb*x + gc*t + r.variance(slope0, s)
		miss := r.GapIn - (p.a + p.b*x + p.c*t)
		squares += miss * miss / v
		if scale *= v; scale < 1e-200 || scale > 1e200 { // one logarithm per model, not one per reading
			logs += math.Log(scale)
			scale = 1
		}
		ka, kb, kc := ga/v, gb/v, gc/v
		p.a += ka * miss
		p.b += kb * miss
		p.c += kc * miss
		p.vaa -= ka * ga
		p.vab -= ka * gb
		p.vac -= ka * gc
		p.vbb -= kb * gb
		p.vbc -= kb * gc
		p.vcc -= kc * gc
	}
	logs += math.Log(scale)
	return -0.5 * (squares + logs + float64(len(readings))*math.Log(2*math.Pi))
}

// Readings returns how many readings the line rests on.
func (l *Line) Readings() int { return l.readings }

// FromTheory reports whether the slope rests on theory alone: there is one
// reading, or all were taken at one temperature.
func (l *Line) FromTheory() bool { return l.spanTempF == 0 }

// Weights returns the posterior weights of the four models: free and steady,
// free and drifting, stuck and steady, stuck and drifting. They sum to 1.
func (l *Line) Weights() [4]float64 {
	var w [4]float64
	for i := range l.parts {
		w[i] = l.parts[i].weight
	}
	return w
}

// StuckWeight returns the posterior weight, 0 to 1, of "does not move"; 0 on a
// Still joint, which is never called stuck.
func (l *Line) StuckWeight() float64 {
	if l.still {
		return 0
	}
	return l.parts[2].weight + l.parts[3].weight
}

// StrayWeight returns the posterior weight, 0 to 1, of a fixed or longitudinal
// joint opening and closing with temperature; 0 on any other joint.
func (l *Line) StrayWeight() float64 {
	if !l.still {
		return 0
	}
	return l.parts[2].weight + l.parts[3].weight
}

// DriftWeight returns the posterior weight, 0 to 1, of "drifting".
func (l *Line) DriftWeight() float64 { return l.parts[1].weight + l.parts[3].weight }

// CannotTell reports whether the theoretical movement between the readings'
// temperatures is under 3 σ, so that they cannot show whether the joint moves.
// A Still joint has no movement due: there it takes one reading only.
func (l *Line) CannotTell() bool {
	if l.still {
		return l.readings < 2
	}
	return math.Abs(l.slope0)*l.spanTempF < 3*l.sigmaIn
}

// SlopeInPerF returns the posterior mean of the slope, in/°F, and theory's.
func (l *Line) SlopeInPerF() (mean, theory float64) {
	for k := range l.parts {
		mean += l.parts[k].weight * l.parts[k].b
	}
	return mean, l.slope0
}

// DriftInPerYr returns the posterior mean of the drift, in/yr.
func (l *Line) DriftInPerYr() float64 {
	var mean float64
	for k := range l.parts {
		mean += l.parts[k].weight * l.parts[k].c
	}
	return mean
}

// TempRange returns the temperature range the line is judged over, °F.
func (l *Line) TempRange() TempRange { return l.rangeF }

// RackingIn returns the theoretical racking over the temperature range, in,
// load factor included.
func (l *Line) RackingIn() float64 { return l.rackingIn }

// LoadFactor returns the load factor on movement that Cold and Hot use, so
// that it can be shown beside them.
func (l *Line) LoadFactor() float64 { return l.loadFactor }

// Shift returns the line moved by an offset in inches: the line at one
// position along a joint that opens as a wedge.
func (l *Line) Shift(offsetIn float64) Line {
	moved := *l
	for k := range moved.parts {
		moved.parts[k].a += offsetIn
	}
	return moved
}
