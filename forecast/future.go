package forecast

import (
	"slices"

	"reseal/forecast/strategy"
)

// futureStep is one treatment in a joint's future, in the middle of a fiscal year.
type futureStep struct {
	year      int
	treatment *Treatment
}

// future is what is expected of a joint at the end of each fiscal year of its
// forecast when some things are done to it.
type future struct {
	failed []float64
	shares [][4]float64 // mean, of the length; all 0 once the joint is eliminated
}

// future follows a joint through steps in the order of their years. A new seal
// begins with all feet in CS1 and is taken to fit its opening; a repair makes the
// worst feet new, at the mean shares of the time; each by the rules that the
// strategies go by.
func (m *projector) future(j *Projected, steps []futureStep) (future, error) {
	f := future{slices.Clone(j.Failed), slices.Clone(j.Shares)}
	weights, g := j.weights, j.group
	for _, s := range steps {
		from := s.year - j.Years[0]
		if from < 0 || from >= len(f.failed) {
			continue
		}
		m.times = m.times[:0]
		for y := from; y < len(f.failed); y++ {
			m.times = append(m.times, float64(y-from)+0.5)
		}
		switch s.treatment.effect() {
		case strategy.Renews:
			if s.treatment.NewKind != "" {
				g = m.group(j.Record, &Seal{Kind: s.treatment.NewKind, Installed: m.startOf(s.year, j.AsOf)})
			}
			renewed := make([]float64, len(j.weights))
			m.pace.Renew(renewed, weights, m.tables.Settings.SiteShare)
			weights = renewed
			g.outlook.Project(&m.projection, asNew[:], weights, m.times)
			f.from(from, m.projection.Failed, m.projection.Shares, 0)
		case strategy.Repairs:
			shares, still, err := m.atRepair(j, &f, from, s.treatment.RepairsShare)
			if err != nil {
				return f, err
			}
			g.outlook.Project(&m.projection, shares[:], weights, m.times)
			f.from(from, m.projection.Failed, m.projection.Shares, still)
		case strategy.Removes:
			for y := from; y < len(f.failed); y++ {
				f.failed[y], f.shares[y] = 0, [4]float64{}
			}
		}
	}
	return f, nil
}

// from takes over a projection from a year on, of a seal that with the
// probability still has stayed failed.
func (f *future) from(from int, failed, shares []float64, still float64) {
	for y := from; y < len(f.failed); y++ {
		f.failed[y] = still + (1-still)*failed[y-from]
		f.shares[y] = [4]float64(shares[4*(y-from):])
	}
}

// atRepair is the shares that a repair in the middle of a year leaves, and the
// probability that it does not suffice: more is in CS4 than it can put right.
func (m *projector) atRepair(j *Projected, f *future, year int, share float64) (shares [4]float64, still float64, err error) {
	before := j.NowShares
	if year > 0 {
		before = f.shares[year-1]
	}
	for s := range shares {
		shares[s] = (before[s] + f.shares[year][s]) / 2
	}
	of, err := j.group.treated()
	if err != nil {
		return shares, 0, err
	}
	if beyond := of.beyond[share]; beyond != nil {
		mid := m.startOf(j.Years[year], j.AsOf).YearsSince(j.Since) + 0.5
		beyond.Project(&m.projection, j.shares[:], j.weights, []float64{mid})
		still = m.projection.Failed[0]
	}
	repair(&shares, share)
	return shares, still, nil
}

// projectSteps are the renewals of committed bridge projects, which no budget of
// joints pays for.
func (m *Model) projectSteps(j *Projected) ([]futureStep, error) {
	for _, p := range j.Projects {
		if p.Year >= j.Years[0] && slices.Contains(renewingProjects, p.Kind) {
			usual, err := m.tables.TreatmentFor(j.Kind)
			if err != nil {
				return nil, err
			}
			usual.NewKind = ""
			return []futureStep{{p.Year, &usual}}, nil
		}
	}
	return nil, nil
}
