package forecast

import (
	"sort"

	"reseal/forecast/markov"
	"reseal/inventory"
)

// event is one thing in a joint's life that bears on its pace.
type event struct {
	on   inventory.Date
	what int // in the order of their effect on one day
	seal *Seal
	look *Look
}

const (
	newSeal = iota
	repaired
	looked
)

// events are the joint's new seals, repairs and observed looks in order of
// time. A seal that the joint had when nothing was on record is not one.
func (r *Record) events() []event {
	var out []event
	longest := r.longest()
	for i := range r.Stretches {
		t := &r.Stretches[i]
		for j := range t.Seals {
			s := &t.Seals[j]
			switch {
			case s.Installed.IsZero():
			case t == longest:
				out = append(out, event{on: s.Installed, what: newSeal, seal: s})
			default:
				out = append(out, event{on: s.Installed, what: repaired})
			}
		}
	}
	for i := range r.Work {
		w := &r.Work[i]
		if longest == nil {
			break
		}
		switch made := w.overlap(longest, r.LengthFt); {
		case made == 1 && w.NewSeal:
			out = append(out, event{on: w.On, what: newSeal, seal: r.sealOn(w.On)})
		case made > 0:
			out = append(out, event{on: w.On, what: repaired})
		}
	}
	for i := range r.Looks {
		if l := &r.Looks[i]; l.Observed && !l.OfParent {
			out = append(out, event{on: l.On, what: looked, look: l})
		}
	}
	sort.SliceStable(out, func(i, j int) bool {
		if out[i].on != out[j].on {
			return out[i].on.Before(out[j].on)
		}
		return out[i].what < out[j].what
	})
	return out
}

// paceOf weighs the paces by the joint's own inspections. Each seal's life is
// judged on its own: it begins with all feet in CS1 at its installation, an
// interval with a repair in it is left out, and an improvement without work on
// record begins the life anew. A new seal keeps its site's pace in part
// (markov.Pace.Renew).
func (m *projector) paceOf(r *Record, g *group) []float64 {
	prior := append([]float64(nil), m.pace.Prior...)
	var life []markov.Interval
	var before *[4]float64 // nil: not known since the last repair
	var since inventory.Date
	posterior := make([]float64, len(prior))
	weigh := func() []float64 {
		if len(life) == 0 || g.outlook.Posterior(posterior, prior, life) != nil {
			copy(posterior, prior) // what the chain cannot produce tells nothing of its pace
		}
		return posterior
	}
	for _, e := range r.events() {
		switch e.what {
		case newSeal:
			if before != nil && e.on == since && *before == asNew {
				continue // the seal and the work that put it in
			}
			if len(life) > 0 {
				m.pace.Renew(prior, weigh(), m.tables.Settings.SiteShare)
			}
			life, before, since = nil, &[4]float64{1}, e.on
			g = m.group(r, e.seal)
		case repaired:
			before = nil
		case looked:
			after, ok := e.look.shares()
			years := e.on.YearsSince(since)
			if !ok || before != nil && years <= 0 {
				continue
			}
			if before != nil {
				if noBetter(&after, *before, r.LengthFt) {
					life = append(life, markov.Interval{Years: years, Before: append([]float64(nil), before[:]...), After: append([]float64(nil), after[:]...)})
				} else {
					life = nil
				}
			}
			before, since = &after, e.on
		}
	}
	return weigh()
}

// noBetter takes back what is better after than before by no more than feet
// can be counted, 1 ft or 2 % of the length; it returns false where the
// improvement is larger.
func noBetter(after *[4]float64, before [4]float64, lengthFt float64) bool {
	slack := 0.02
	if lengthFt > 0 {
		slack = max(slack, 1/lengthFt)
	}
	worseAfter, worseBefore := 0.0, 0.0 // share in this state or a worse one
	var worse [5]float64
	for s := 3; s > 0; s-- {
		worseAfter += after[s]
		worseBefore += before[s]
		if worseBefore-worseAfter > slack+1e-9 {
			return false
		}
		worse[s] = max(worseAfter, worseBefore)
	}
	worse[0] = 1
	for s := range after {
		after[s] = max(worse[s]-worse[s+1], 0)
	}
	return true
}
