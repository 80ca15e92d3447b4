package forecast

import (
	"context"
	"slices"

	"github.com/uptrace/bun"

	"reseal/forecast/markov"
	"reseal/forecast/strategy"
	"reseal/inventory"
)

// PlannedWork is a treatment that a joint is to have in a fiscal year.
type PlannedWork struct {
	Year      int
	Treatment string
}

// PlannedIn is the work of a plan on record, by joint, for Options.Planned.
func PlannedIn(ctx context.Context, db bun.IDB, plan string) (map[int64][]PlannedWork, error) {
	p, err := KeptPlan(ctx, db, plan)
	if err != nil {
		return nil, err
	}
	out := map[int64][]PlannedWork{}
	for _, i := range p.Items { // by year
		out[i.JointID] = append(out[i.JointID], PlannedWork{i.Year, i.Treatment})
	}
	return out, nil
}

// leg is a joint's future from one day on, until work puts an end to it.
type leg struct {
	from    int     // first of the projector's times that it is of
	years   float64 // when it begins, on the scale of the times
	group   *group  // nil: the seal is removed and none goes in
	shares  [4]float64
	weights []float64
}

// treatment is that of a name; ok is false where the table has it no more.
func (t *Tables) treatment(name string) (found Treatment, ok bool) {
	i := slices.IndexFunc(t.Treatments, func(t Treatment) bool { return t.Name == name })
	if i < 0 {
		return found, false
	}
	return t.Treatments[i], true
}

// renewal is the first of the forecast's years in which work puts in a new
// seal, or none for good; -1 where none does.
func (f *Forecast) renewal(t *Tables) int {
	for _, w := range f.planned {
		treatment, ok := t.treatment(w.Treatment)
		if e := treatment.effect(); ok && (e == strategy.Renews || e == strategy.Removes) {
			if at := slices.Index(f.Years, w.Year); at >= 0 {
				return at
			}
		}
	}
	return -1
}

// course cuts a joint's future at its planned work, which is done in the middle
// of its year, and not before the day of the forecast. A new seal keeps its
// site's pace in part; a repair makes the worst feet new, at the mean shares of
// the time.
func (m *projector) course(r *Record, f *Forecast, first leg) []leg {
	m.legs = append(m.legs[:0], first)
	for _, w := range f.planned {
		year := slices.Index(f.Years, w.Year)
		treatment, ok := m.tables.treatment(w.Treatment)
		if year < 0 || !ok {
			continue
		}
		before := m.legs[len(m.legs)-1]
		next := before
		next.from, next.years = year+1, max(m.times[year+1]-0.5, m.times[0])
		switch e := treatment.effect(); {
		case e == strategy.Removes:
			next.group, next.shares = nil, asNew
		case before.group == nil:
			continue
		case e == strategy.Repairs:
			before.group.outlook.Project(&m.projection, before.shares[:], before.weights, []float64{next.years - before.years})
			next.shares = [4]float64(m.projection.Shares)
			repair(&next.shares, treatment.RepairsShare)
		case e == strategy.Renews:
			seal := Seal{Kind: before.group.kind, Installed: inventory.Date{Year: w.Year, Month: 7, Day: 1}}
			if treatment.NewKind != "" {
				seal.Kind = treatment.NewKind
			}
			next.group, next.shares = m.group(r, &seal), asNew
			next.weights = make([]float64, len(before.weights))
			m.pace.Renew(next.weights, before.weights, m.tables.Settings.SiteShare)
		default:
			continue
		}
		m.legs = append(m.legs, next)
	}
	return m.legs
}

// follow projects the legs one after the other, each from its own first time.
func (m *projector) follow(legs []leg) {
	legs[0].group.outlook.Project(&m.projection, legs[0].shares[:], legs[0].weights, m.times)
	var part markov.Projection
	for _, l := range legs[1:] {
		var times []float64
		for _, t := range m.times[l.from:] {
			times = append(times, t-l.years)
		}
		if l.group == nil {
			part.Reset(len(times), 4)
			for i := range times {
				part.Shares[4*i] = 1
			}
		} else {
			l.group.outlook.Project(&part, l.shares[:], l.weights, times)
		}
		copy(m.projection.Shares[4*l.from:], part.Shares)
		copy(m.projection.Variance[4*l.from:], part.Variance)
		copy(m.projection.Failed[l.from:], part.Failed)
	}
}

// ShareBand holds what the share of a joint's length in each state is not below
// with a probability of 90 %, and not above.
type ShareBand struct{ Low, High [4]float64 }

// Bands are those of each year of a joint's forecast, over its pace, the fate
// of its pieces and the draws of the fit's parameters (markov.ShareBand).
func (m *Model) Bands(r *Record, f *Forecast) ([]ShareBand, error) {
	worlds := m.draws
	if len(worlds) == 0 {
		worlds = []*Model{m}
	}
	var courses [][]leg
	times := []float64{f.AsOf.YearsSince(f.Since)}
	for _, y := range f.Years {
		times = append(times, m.endOf(y).YearsSince(f.Since))
	}
	for _, w := range worlds {
		p := &projector{Model: w, times: times}
		courses = append(courses, p.course(r, f, p.first(r, f.AsOf)))
	}
	out := make([]ShareBand, len(f.Years))
	for y := range out {
		var outlooks []*markov.Outlook
		var shares, weights [][]float64
		var years float64
		for _, legs := range courses {
			at := legs[0]
			for _, l := range legs {
				if l.from <= y+1 {
					at = l
				}
			}
			if at.group == nil {
				out[y].Low[0], out[y].High[0] = 1, 1
				continue
			}
			outlooks, shares, weights = append(outlooks, at.group.outlook), append(shares, at.shares[:]), append(weights, at.weights)
			years = times[y+1] - at.years
		}
		for state := range 4 {
			if len(outlooks) == 0 {
				break
			}
			var err error
			if out[y].Low[state], err = markov.ShareBand(outlooks, shares, weights, state, years, 0.1); err != nil {
				return nil, err
			}
			if out[y].High[state], err = markov.ShareBand(outlooks, shares, weights, state, years, 0.9); err != nil {
				return nil, err
			}
		}
	}
	return out, nil
}
