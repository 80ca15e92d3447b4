package forecast

import (
	"context"
	"slices"
	"strings"

	"github.com/uptrace/bun"

	"reseal/forecast/markov"
)

// PlannedWork is a treatment that a joint is to have in a fiscal year, or a
// committed project of its bridge that renews it.
type PlannedWork struct {
	Year      int
	Treatment string
	Project   bool // Treatment is the kind of the project
}

// PlannedIn is the work of a plan on record, by joint, for Options.Planned.
func PlannedIn(ctx context.Context, db bun.IDB, plan string) (map[int64][]PlannedWork, error) {
	p, err := KeptPlan(ctx, db, plan)
	if err != nil {
		return nil, err
	}
	out := map[int64][]PlannedWork{}
	for _, i := range p.Items { // by year
		out[i.JointID] = append(out[i.JointID], PlannedWork{Year: i.Year, Treatment: i.Treatment})
	}
	return out, nil
}

// steps are the planned treatments of a joint that the table still has.
func (t *Tables) steps(work []PlannedWork) (steps []futureStep) {
	for _, w := range work {
		if i := slices.IndexFunc(t.Treatments, func(t Treatment) bool { return strings.EqualFold(t.Name, w.Treatment) }); i >= 0 {
			steps = append(steps, futureStep{year: w.Year, treatment: &t.Treatments[i]})
		}
	}
	return steps
}

// Planned is the work to come that the forecast takes in, by year.
func (f *Forecast) Planned() (work []PlannedWork) {
	for _, s := range f.planned {
		work = append(work, PlannedWork{s.year, s.treatment.Name, s.project})
	}
	return work
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
		courses = append(courses, p.course(r, f, p.first(r, f.AsOf), f.planned))
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
				continue
			}
			outlooks, shares, weights = append(outlooks, at.group.outlook), append(shares, at.start.all()), append(weights, at.weights)
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
