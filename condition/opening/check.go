package opening

import (
	"cmp"
	"context"
	"math"
	"runtime"
	"sync"
	"sync/atomic"
)

// Finding is a set of things found at one joint. The zero value: nothing
// wrong, and the seal fits.
type Finding uint16

// The findings, in the order they are told.
const (
	NotChecked       Finding = 1 << iota // the input is not usable: Fit says why
	TooWideCold                          // chance over 1 − Confidence that it opens beyond the seal when cold
	CrushedHot                           // chance over 1 − Confidence that it closes beyond the seal when hot
	RackingOver                          // theory racks it beyond what the seal allows
	DoesNotMove                          // weight of stuck over 0.9
	MovesThoughStill                     // a fixed or longitudinal joint that moves with temperature, weight over 0.9
	Drifting                             // weight of drifting over 0.9
	CannotTell                           // the readings are too close in temperature to show movement
	OneReading                           // theory through one reading
	NoLimits                             // the seal's limits are not on record: fit not judged
)

// Has reports whether all of the findings in other are in f.
func (f Finding) Has(other Finding) bool { return f&other == other }

// NeedsAttention reports whether anything calls for a person: all but "cannot
// tell", "one reading" and "no limits" alone.
func (f Finding) NeedsAttention() bool { return f&^(CannotTell|OneReading|NoLimits) != 0 }

// sure is the posterior weight over which a state of the joint is named.
const sure = 0.9

// Margin is what is left between the opening and the seal's limit, in inches,
// negative where it is beyond.
type Margin struct {
	MeanIn        float64
	LowIn, HighIn float64 // 80 % band
	ProbNegative  float64
}

// Check is the answer for one joint in one year.
type Check struct {
	Cold, Hot    Margin  // zero where the limits are not on record
	ProbOut      float64 // chance that either margin is negative
	RackingIn    float64 // theoretical racking over the temperature range
	StuckWeight  float64
	StrayWeight  float64
	DriftWeight  float64
	DriftInPerYr float64
	Limits       Limits
	Range        TempRange
	Findings     Finding
}

// Judge checks a line against a seal's limits in a decimal year. It does not
// allocate.
func (l *Line) Judge(m Limits, year float64, s Settings) Check {
	return l.judge(m, year, 1-s.filled().Confidence)
}

func (l *Line) judge(m Limits, year, chance float64) Check {
	c := Check{
		RackingIn: l.rackingIn, Limits: m, Range: l.rangeF, DriftInPerYr: l.DriftInPerYr(),
		StuckWeight: l.StuckWeight(), StrayWeight: l.StrayWeight(), DriftWeight: l.DriftWeight(),
	}
	note := func(f Finding, when bool) {
		if when {
			c.Findings |= f
		}
	}
	note(NoLimits, !m.Known())
	if m.Known() {
		cold, hot := l.room(m, year)
		c.Cold, c.Hot = l.margin(cold), l.margin(hot)
		c.ProbOut = l.eitherNegative(cold, hot)
		note(TooWideCold, c.Cold.ProbNegative > chance)
		note(CrushedHot, c.Hot.ProbNegative > chance)
	}
	note(RackingOver, m.RackingIn > 0 && c.RackingIn > m.RackingIn)
	note(DoesNotMove, c.StuckWeight > sure)
	note(MovesThoughStill, c.StrayWeight > sure)
	note(Drifting, c.DriftWeight > sure)
	note(CannotTell, l.CannotTell())
	note(OneReading, l.readings == 1)
	return c
}

func (l *Line) margin(k combination) Margin {
	o := l.distribution(k)
	return Margin{o.MeanIn(), o.QuantileIn(0.1), o.QuantileIn(0.9), o.ProbBelow(0)}
}

// Compare orders checks by how much they need attention, worst first: the
// chance of being out of the seal's range, then how sure it is that the joint
// is stuck, strays or drifts. For slices.SortStableFunc.
func Compare(a, b *Check) int {
	trouble := func(c *Check) float64 { return max(c.StuckWeight, c.StrayWeight, c.DriftWeight) }
	return cmp.Or(
		cmp.Compare(b.ProbOut, a.ProbOut),
		cmp.Compare(trouble(b), trouble(a)),
	)
}

// Case is one joint of a network: theory, limits of the seal in it, readings.
type Case struct {
	Joint    Joint
	Limits   Limits
	Readings []Reading
}

// CheckAll checks every case in a decimal year into the same place of out,
// which must be as long as cases. A case that Fit refuses is marked NotChecked;
// CheckAll returns how many were. Memory does not grow with the network, and
// the answer is the same for any number of workers (0: one a processor). It
// stops early with ctx's error.
func CheckAll(ctx context.Context, cases []Case, year float64, s Settings, workers int, out []Check) (notChecked int, err error) {
	if len(out) != len(cases) {
		panic("opening: CheckAll: out and cases differ in length")
	}
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	s = s.filled()
	const block = 512 // about 5 ms of work between looks at ctx
	var next, refused atomic.Int64
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for ctx.Err() == nil {
				first := int(next.Add(block)) - block
				if first >= len(cases) {
					return
				}
				for i := first; i < min(first+block, len(cases)); i++ {
					l, err := Fit(cases[i].Joint, cases[i].Readings, s)
					if err != nil || math.IsNaN(year) {
						out[i] = Check{Findings: NotChecked}
						refused.Add(1)
						continue
					}
					out[i] = l.judge(cases[i].Limits, year, 1-s.Confidence)
				}
			}
		})
	}
	wg.Wait()
	return int(refused.Load()), ctx.Err()
}
