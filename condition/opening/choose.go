package opening

import (
	"cmp"
	"math"
	"slices"
)

// ChooseOptions say when a seal goes in and how sure to be.
type ChooseOptions struct {
	Year         float64 // decimal year whose opening the seal must fit
	InstallTempF float64 // deck temperature at installation, °F; 0 means the middle of the range
	Confidence   float64 // 0 means the default, 0.9
}

// Limit names what a seal fails.
type Limit string

// The limits of a seal.
const (
	LimitCold       Limit = "largest opening, when cold"
	LimitHot        Limit = "smallest opening, when hot"
	LimitMovement   Limit = "movement"
	LimitRacking    Limit = "racking"
	LimitSkew       Limit = "skew"
	LimitInstallMin Limit = "smallest opening to install at"
	LimitInstallMax Limit = "largest opening to install at"
	LimitInstallF   Limit = "lowest temperature to install at"
)

// Failure is one limit that a seal fails, and by how much.
type Failure struct {
	Limit Limit
	By    float64
	Unit  string  // "in", "°" or "°F"
	Prob  float64 // chance of failing an opening limit; 1 for the others
}

// Trial is one seal held against the line.
type Trial struct {
	Seal     Seal
	Fits     bool
	Failures []Failure
	ProbOut  float64 // chance that an opening limit fails
	// ColdShare and HotShare are the expected openings at the coldest and the
	// hottest deck as shares of the uncompressed width, or of the width at
	// installation for a poured seal; 0 for other kinds.
	ColdShare, HotShare float64
}

// Choice is the outcome for a catalogue.
type Choice struct {
	Best   int // index in Trials of the smallest that fits; -1 where none does
	Trials []Trial
}

// Choose holds every seal of a catalogue against a joint's line, and proposes
// the smallest that fits. Trials are in order of the movement a seal can
// follow, poured seals first, as in the catalogue where equal. A seal fits if, with the confidence
// asked, both its opening limits hold at once, and its racking, skew and
// installation limits hold for the theoretical or expected value. Where an
// opening limit fails, By is what the seal lacks for that limit to hold with
// half of the allowed chance of failure.
func (l *Line) Choose(catalogue []Seal, opt ChooseOptions) Choice {
	if opt.InstallTempF == 0 {
		opt.InstallTempF = (l.rangeF.MinF + l.rangeF.MaxF) / 2
	}
	if opt.Confidence <= 0 || opt.Confidence >= 1 {
		opt.Confidence = DefaultSettings().Confidence
	}
	c := Choice{Best: -1}
	for i := range catalogue {
		c.Trials = append(c.Trials, l.try(catalogue[i], opt))
	}
	slices.SortStableFunc(c.Trials, func(a, b Trial) int { return cmp.Compare(a.Seal.CapacityIn(), b.Seal.CapacityIn()) })
	c.Best = slices.IndexFunc(c.Trials, func(t Trial) bool { return t.Fits })
	return c
}

func (l *Line) try(s Seal, opt ChooseOptions) Trial {
	t := Trial{Seal: s}
	fail := func(limit Limit, by float64, unit string) {
		if by > 1e-9 {
			t.Failures = append(t.Failures, Failure{limit, by, unit, 1})
		}
	}
	cold, hot, set := l.cold(opt.Year), l.hot(opt.Year), l.at(opt.InstallTempF, opt.Year)
	installed := l.distribution(set)
	installIn := installed.MeanIn()

	l.tryOpenings(&t, cold, hot, set, 1-opt.Confidence)
	if s.RackingIn > 0 {
		fail(LimitRacking, l.rackingIn-s.RackingIn, "in")
	}
	if s.SkewMaxDeg > 0 {
		fail(LimitSkew, math.Abs(l.skewDeg)-s.SkewMaxDeg, "°")
	}
	if s.InstallMaxIn > 0 {
		fail(LimitInstallMax, installIn-s.InstallMaxIn, "in")
	}
	fail(LimitInstallMin, s.InstallMinIn-installIn, "in")
	if s.InstallMinF != 0 {
		fail(LimitInstallF, s.InstallMinF-opt.InstallTempF, "°F")
	}
	width := s.WidthIn
	if s.OpenShare > 0 || s.MovementShare > 0 {
		width = installIn
	}
	if width > 0 {
		atCold, atHot := l.distribution(cold), l.distribution(hot)
		t.ColdShare, t.HotShare = atCold.MeanIn()/width, atHot.MeanIn()/width
	}
	t.Fits = len(t.Failures) == 0
	return t
}

// tryOpenings judges the limits on the opening. All are linear in the line's
// coefficients, so their chances are exact.
func (l *Line) tryOpenings(t *Trial, cold, hot, set combination, chance float64) {
	s := &t.Seal
	movement := cold.plus(-1, hot)
	type limit struct {
		name Limit
		room combination // what is left: negative means failed
	}
	var limits []limit
	switch {
	case s.OpenShare > 0:
		limits = []limit{
			{LimitCold, combination{}.plus(1+s.OpenShare, set).plus(-1, cold)},
			{LimitHot, hot.plus(-(1 - s.CloseShare), set)},
		}
	case s.MovementShare > 0:
		limits = []limit{{LimitMovement, combination{}.plus(s.MovementShare, set).plus(-1, movement)}}
	case s.MovementIn > 0:
		limits = []limit{{LimitMovement, combination{shift: s.MovementIn}.plus(-1, movement)}}
	default:
		limits = []limit{
			{LimitCold, combination{shift: s.MaxIn}.plus(-1, cold)},
			{LimitHot, hot.plus(1, combination{shift: -s.MinIn})},
		}
	}
	first, last := limits[0].room, limits[len(limits)-1].room
	t.ProbOut = l.eitherNegative(first, last)
	if t.ProbOut <= chance {
		return
	}
	each := chance / float64(len(limits)) // the chance is over the allowed one, so at least one limit is over its part
	for _, m := range limits {
		left := l.distribution(m.room)
		if p := left.ProbBelow(0); p > each {
			t.Failures = append(t.Failures, Failure{m.name, max(0, -left.QuantileIn(each)), "in", p})
		}
	}
}
