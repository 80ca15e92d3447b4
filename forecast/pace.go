package forecast

import (
	"cmp"
	"slices"

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
	out := make([]event, 0, len(r.Stretches)+len(r.Work)+len(r.Looks))
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
	slices.SortStableFunc(out, func(a, b event) int { return cmp.Or(a.on.Compare(b.on), a.what-b.what) })
	return out
}

// pacedLife is what inspections tell of one seal's pace.
type pacedLife struct {
	seal      *Seal // nil: not on record when the records begin
	intervals []markov.Interval
}

// pacedLives are those of a joint's seals one after the other, the last of them the
// present one's; those of which nothing was seen before are left out. A life
// begins with all feet in CS1 at its installation, an interval with a repair in
// it is left out, and an improvement without work on record begins the life anew.
func (r *Record) pacedLives() []pacedLife {
	events := r.events()
	var out []pacedLife
	var life pacedLife
	var before *[4]float64 // nil: not known since the last repair
	var since inventory.Date
	for _, e := range events {
		switch e.what {
		case newSeal:
			if before != nil && e.on == since && *before == asNew {
				continue // the seal and the work that put it in
			}
			if len(life.intervals) > 0 {
				out = append(out, life)
			}
			life, before, since = pacedLife{seal: e.seal}, &[4]float64{1}, e.on
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
					life.intervals = append(life.intervals, markov.Interval{Years: years, Before: before[:], After: after[:]})
				} else {
					life.intervals = nil
				}
			}
			before, since = &after, e.on
		}
	}
	return append(out, life)
}

// paceOf weighs the paces by the joint's own inspections, of a joint whose first
// seal on record is of group g. Each seal's life is judged on its own; a new seal
// keeps its site's pace in part (markov.Pace.Renew). By a fit with rating errors
// the longest stretch's ratings are weighed by them.
func (m *projector) paceOf(r *Record, g *group) []float64 {
	if m.rated != nil {
		if m.ratedOf = r.longest(); m.ratedOf != nil {
			var weights []float64
			m.ratedAt, weights = m.rate(r, m.ratedOf, g, r.latestLook())
			return weights
		}
	}
	if m.livesOf != r {
		m.lives, m.livesOf = r.pacedLives(), r
	}
	posterior, prior := make([]float64, len(m.pace.Prior)), m.pace.Prior
	for i, life := range m.lives {
		if life.seal != nil {
			g = m.group(r, life.seal)
		}
		if len(life.intervals) == 0 || g.outlook.Posterior(posterior, prior, life.intervals) != nil {
			copy(posterior, prior) // what the chain cannot produce tells nothing of its pace
		}
		if i < len(m.lives)-1 {
			m.prior = append(m.prior[:0], posterior...)
			m.pace.Renew(m.prior, posterior, m.tables.Settings.SiteShare)
			prior = m.prior
		}
	}
	return posterior
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
