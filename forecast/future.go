package forecast

import (
	"cmp"
	"slices"

	"reseal/forecast/markov"
	"reseal/forecast/strategy"
	"reseal/inventory"
)

// futureStep is one treatment in a joint's future, in the middle of a fiscal year and
// not before the day of the forecast.
type futureStep struct {
	year      int
	treatment *Treatment
	project   bool // by a committed bridge project, which no budget of joints pays for
}

// renews is true of a step that puts in a new seal, or none for good.
func (s futureStep) renews() bool {
	e := s.treatment.effect()
	return e == strategy.Renews || e == strategy.Removes
}

// leg is a joint's future from one day on, until a step puts an end to it.
type leg struct {
	from    int     // first of the projector's times that it is of
	years   float64 // when it begins, on the scale of the times
	group   *group  // nil: the seal is removed and none goes in
	start   wear
	weights []float64
	still   float64 // probability that the seal has failed and that no repair since sufficed
}

// firstRenewal is the index among years of the first step that puts in a new
// seal, or none for good; -1 where none does.
func firstRenewal(steps []futureStep, years []int) int {
	for _, s := range steps {
		if s.renews() {
			if at := slices.Index(years, s.year); at >= 0 {
				return at
			}
		}
	}
	return -1
}

// course cuts a joint's future at steps in the order of their years. The times
// are the day of the forecast and the ends of its years. A new seal begins with
// all feet in CS1 and keeps its site's pace in part; a repair makes the worst
// feet new, at the mean shares of the time, where it suffices: by the rules that
// the strategies go by (projector.repaired).
func (m *projector) course(r *Record, f *Forecast, first leg, steps []futureStep) []leg {
	m.legs = append(m.legs[:0], first)
	for _, s := range steps {
		year := slices.Index(f.Years, s.year)
		if year < 0 {
			continue
		}
		before := m.legs[len(m.legs)-1]
		next := before
		next.from, next.years = year+1, max(m.times[year+1]-0.5, m.times[0])
		switch e := s.treatment.effect(); {
		case before.group == nil:
			continue
		case e == strategy.Removes:
			next.group, next.start, next.still = nil, allNew, 0
		case e == strategy.Repairs:
			m.repairs(&next, before, s.treatment.RepairsShare)
		case e == strategy.Renews:
			seal := Seal{Kind: before.group.kind, Installed: m.startOf(s.year, f.AsOf)}
			if s.treatment.NewKind != "" {
				seal.Kind = s.treatment.NewKind
			}
			next.group, next.start, next.still = m.group(r, &seal), allNew, 0
			next.weights = make([]float64, len(before.weights))
			m.pace.Renew(next.weights, before.weights, m.tables.Settings.SiteShare)
		default:
			continue
		}
		m.legs = append(m.legs, next)
	}
	return m.legs
}

// repairs begins a leg with a repair of at most a share of the length: more may
// be in CS4 than it can put right.
func (m *projector) repairs(next *leg, before leg, share float64) {
	at := []float64{next.years - before.years}
	before.group.beyond[share].Project(&m.projection, before.start.all(), before.weights, at)
	next.still = before.still + (1-before.still)*m.projection.Failed[0]
	before.group.outlook.Project(&m.projection, before.start.all(), before.weights, at)
	next.start = wear{shares: [4]float64(m.projection.Shares)}
	next.start.repair(share)
}

// follow projects the legs one after the other, each from its own first time. A
// joint that was removed has no length in any state.
func (m *projector) follow(legs []leg) {
	legs[0].group.outlook.Project(&m.projection, legs[0].start.all(), legs[0].weights, m.times)
	part := markov.Projection{Lean: m.projection.Lean}
	for _, l := range legs[1:] {
		var times []float64
		for _, t := range m.times[l.from:] {
			times = append(times, t-l.years)
		}
		if l.group == nil {
			part.Reset(len(times), 4)
		} else {
			l.group.outlook.Project(&part, l.start.all(), l.weights, times)
		}
		for i, failed := range part.Failed {
			part.Failed[i] = l.still + (1-l.still)*failed
		}
		copy(m.projection.Shares[4*l.from:], part.Shares)
		copy(m.projection.Variance[4*l.from:], part.Variance)
		copy(m.projection.Failed[l.from:], part.Failed)
	}
}

// future is what is expected of a joint at the end of each fiscal year of its
// forecast when some things are done to it.
type future struct {
	failed   []float64
	shares   [][4]float64 // mean, of the length; all 0 once the joint is eliminated
	variance [][4]float64 // of shares, where the forecast keeps it
}

// future follows a joint that was projected with nothing done to it through
// steps. Up to the first the forecast holds as it is. A new seal is taken to fit
// its opening; a repair leaves the opening's chance as it was.
func (m *projector) future(j *Projected, steps []futureStep) future {
	f := future{slices.Clone(j.Failed), slices.Clone(j.Shares), slices.Clone(j.variance)}
	m.times = append(m.times[:0], j.AsOf.YearsSince(j.Since))
	for _, y := range j.Years {
		m.times = append(m.times, m.endOf(y).YearsSince(j.Since))
	}
	legs := m.course(j.Record, j.Forecast, leg{group: j.group, start: j.start, weights: j.weights}, steps)
	if len(legs) == 1 {
		return f
	}
	m.follow(legs)
	renewed := firstRenewal(steps, j.Years)
	for y := legs[1].from - 1; y < len(f.failed); y++ {
		f.failed[y], f.shares[y] = m.projection.Failed[y+1], [4]float64(m.projection.Shares[4*(y+1):])
		if f.variance != nil {
			f.variance[y] = [4]float64(m.projection.Variance[4*(y+1):])
		}
		if len(j.OutOfRange) > 0 && (renewed < 0 || y < renewed) {
			f.failed[y] = 1 - (1-f.failed[y])*(1-j.OutOfRange[y])
		}
	}
	return f
}

// withProjects adds to steps of work the renewals by committed bridge projects from
// a fiscal year on, in the order of years. Where both fall in one year the seal is
// renewed once, and it is not repaired in a year in which a project renews it.
func withProjects(work []futureStep, projects []inventory.Project, fromYear int) []futureStep {
	steps := slices.Clone(work)
	for _, p := range projects {
		if p.Year < fromYear || !slices.Contains(renewingProjects, p.Kind) ||
			slices.ContainsFunc(steps, func(s futureStep) bool { return s.year == p.Year && s.renews() }) {
			continue
		}
		steps = slices.DeleteFunc(steps, func(s futureStep) bool { return s.year == p.Year })
		steps = append(steps, futureStep{p.Year, &Treatment{Name: p.Kind, Effect: "renews"}, true})
	}
	slices.SortStableFunc(steps, func(a, b futureStep) int { return cmp.Compare(a.year, b.year) })
	return steps
}
