package forecast

import (
	"reseal/forecast/markov"
	"reseal/inventory"
)

// lookRun is what was seen of a stretch since its shares were last taken as
// certain: new, repaired, or at a look that no rating error joins to those before.
type lookRun struct {
	known bool
	since inventory.Date // of the last look, or the beginning
	first [4]float64
	worst [4]float64 // largest share in each state or a worse one
	looks []markov.Interval
}

func (v *lookRun) begin(on inventory.Date, shares [4]float64) {
	*v = lookRun{known: true, since: on, first: shares, worst: orWorse(&shares)}
}

// look adds a look, or begins with it.
func (v *lookRun) look(on inventory.Date, shares [4]float64) {
	years := on.YearsSince(v.since)
	if !v.known || years <= 0 || !mayBeRated(&v.worst, &shares) {
		v.begin(on, shares)
		return
	}
	v.looks = append(v.looks, markov.Interval{Years: years, After: shares[:]})
	v.since = on
	for i, s := range orWorse(&shares) {
		v.worst[i] = max(v.worst[i], s)
	}
}

// filtered are the shares of a stretch at a look. By a fit with rating errors that
// look may be wrong: then they are those that are likely after it and all looks
// before it back to the installation or the last repair, by markov.Pace.Filter and
// markov.Found.
// Without rating errors, and where nothing before the look is on record, they are
// as seen.
func (m *projector) filtered(r *Record, t *Stretch, g *group, look *Look, weights []float64) (shares [4]float64, ok bool) {
	if shares, ok = look.sharesOn(t.ID); !ok || m.rated == nil || !look.Observed || look.OfParent {
		return shares, ok
	}
	var v lookRun
	for _, e := range r.stretchEvents(t) {
		if look.On.Before(e.on) {
			break
		}
		switch {
		case e.what == newSeal:
			v.begin(e.on, asNew)
		case e.what == repaired && e.made < 0:
			v.known = false
		case e.what == repaired && v.known:
			p := part{on: v.since, shares: m.filter(&v, g, weights), group: g}
			m.age(&p, e.on, weights)
			repair(&p.shares, e.made)
			v.begin(e.on, p.shares)
		case e.what == looked && e.look.Observed && !e.look.OfParent:
			if seen, ok := e.look.sharesOn(t.ID); ok {
				v.look(e.on, seen)
			}
		}
	}
	return m.filter(&v, g, weights), true
}

// filter are the shares at the last look of a run.
func (m *projector) filter(v *lookRun, g *group, weights []float64) (shares [4]float64) {
	if len(v.looks) == 0 {
		return v.first
	}
	run, last := markov.Run{True: v.first[:], Looks: v.looks}, v.looks[len(v.looks)-1].After
	if m.pace.Filter(shares[:], weights, g.chain, run, m.rated) != nil {
		return [4]float64(last) // what errors cannot explain is taken at its word
	}
	markov.Found(shares[:], last)
	return shares
}
