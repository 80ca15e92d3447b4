package forecast

import (
	"slices"

	"reseal/forecast/strategy"
)

// FirstWork is a first treatment of a joint, the year of it and what it brings.
type FirstWork struct {
	Treatment int // index into Prospect.Treatments
	Year      int // from FirstYear
	Dollars   float64
	Wait      float64 // cost of waiting one year more
}

// outright is the expected cost of a treatment in a year and of the best that
// can follow it, which a committed project cuts short; ok is false where it
// cannot be.
func (p *Prospect) outright(treatment, year int) (dollars float64, ok bool) {
	switch {
	case p.project < 0:
		return p.Value.Outright(treatment, year)
	case year > p.project:
		return 0, false
	}
	actions := p.projectOnly()
	if year < p.project { // else the project comes first
		actions = append([]strategy.Action{{Treatment: treatment, Year: year}}, actions...)
	}
	c, err := p.Value.Cost(actions...)
	return c.Total(), err == nil
}

// Wait is the cost of waiting one year with a treatment, in constant dollars:
// strategy.Value.Wait, or up to the committed project that renews the joint.
// With a repair, which may come too late a year on, it is no more than that of
// doing the best other thing then.
func (p *Prospect) Wait(treatment, year int) (dollars float64, ok bool) {
	repairs := p.Treatments[treatment].effect() == strategy.Repairs
	if p.project < 0 && !repairs {
		return p.Value.Wait(treatment, year)
	}
	now, ok := p.outright(treatment, year)
	later, can := p.outright(treatment, year+1)
	for i := range p.Treatments {
		if d, open := p.outright(i, year+1); repairs && open && p.allowed[i] && (!can || d < later) {
			later, can = d, true
		}
	}
	return later - now, ok && can && (p.project < 0 || year < p.project)
}

// BestIn is the treatment of least expected cost when something is done in a
// year; ok is false where nothing can be.
func (p *Prospect) BestIn(year int) (best FirstWork, ok bool) {
	for i := range p.Treatments {
		if !p.allowed[i] || p.project >= 0 && year >= p.project {
			continue
		}
		d, can := p.outright(i, year)
		if can && (!ok || d < best.Dollars) {
			best, ok = FirstWork{Treatment: i, Year: year, Dollars: d}, true
		}
	}
	if ok {
		best.Wait, ok = p.Wait(best.Treatment, year)
	}
	return best, ok
}

// Best is the first treatment and year of least cost with no limit of money; ok
// is false where it is best to do nothing within the horizon.
func (p *Prospect) Best() (best FirstWork, ok bool) {
	idle, _ := p.Value.Cost(p.projectOnly()...)
	best.Dollars = idle.Total()
	for y := range p.terms.Years {
		if w, can := p.BestIn(y); can && w.Dollars < best.Dollars {
			best, ok = w, true
		}
	}
	return best, ok
}

// projectOnly is what the committed projects do, and nothing else.
func (p *Prospect) projectOnly() (actions []strategy.Action) {
	for _, year := range p.renewed {
		actions = append(actions, strategy.Action{Treatment: len(p.Treatments), Year: year})
	}
	return actions
}

// leftToProject tells whether leaving the joint to its committed project costs
// no more than the work.
func (p *Prospect) leftToProject(work FirstWork) bool {
	if p.project < 0 {
		return false
	}
	idle, err := p.Value.Cost(p.projectOnly()...)
	return err == nil && idle.Total() <= work.Dollars
}

// StopsPaying is the first fiscal year in which waiting with a treatment costs;
// 0 where that lies beyond the horizon.
func (p *Prospect) StopsPaying(treatment int) int {
	for y := range p.terms.Years {
		if d, ok := p.Wait(treatment, y); ok && d > 0 {
			return p.FirstYear + y
		}
	}
	return 0
}

// index is that of a treatment by its name, or -1.
func (p *Prospect) index(name string) int {
	return slices.IndexFunc(p.Treatments, func(t *Treatment) bool { return t.Name == name })
}

// bestOfAll is the least cost in the first year over every treatment that the
// joint would have without a person's choice.
func (p *Prospect) bestOfAll() (dollars float64, ok bool) {
	for i, t := range p.Treatments {
		if d, can := p.outright(i, 0); can && !t.OnlyDecided && (!ok || d < dollars) {
			dollars, ok = d, true
		}
	}
	return dollars, ok
}
