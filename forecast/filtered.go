package forecast

import (
	"slices"

	"reseal/forecast/markov"
	"reseal/inventory"
)

// wear is the shares of a length in CS1 to CS4. By a fit with rating errors
// they are not known for certain, and what was seen says other things of a joint
// that wears fast than of one that wears slowly.
type wear struct {
	shares [4]float64 // where byPace is not nil, their mean on the day of a start
	byPace []float64  // a row of markov.LikelyWidth for each pace; nil: known for certain
}

var wide = markov.LikelyWidth(4)

// all is what a projection starts from.
func (c *wear) all() []float64 {
	if c.byPace != nil {
		return c.byPace
	}
	return c.shares[:]
}

// repair is repair at every pace, by the mean shares at each.
func (c *wear) repair(made float64) {
	repair(&c.shares, made)
	for row := range slices.Chunk(c.byPace, wide) {
		shares := [4]float64(row)
		repair(&shares, made)
		markov.Certainly(row, shares[:])
	}
}

// spread are the rows at each of so many paces.
func (c *wear) spread(paces int) []float64 {
	if c.byPace != nil {
		return c.byPace
	}
	row := make([]float64, wide)
	markov.Certainly(row, c.shares[:])
	return slices.Repeat(row, paces)
}

// average sets the mean by the weights of the paces.
func (c *wear) average(weights []float64) {
	if c.byPace == nil {
		return
	}
	c.shares = [4]float64{}
	for g, w := range weights {
		for i, s := range c.byPace[wide*g : wide*g+4] {
			c.shares[i] += w * s
		}
	}
}

// together is the wear of parts of a length, on one day.
func together(parts []part, lengthFt float64, paces int) (c wear) {
	switch doubtful := slices.ContainsFunc(parts, func(p part) bool { return p.byPace != nil }); {
	case doubtful && len(parts) == 1:
		return parts[0].wear
	case doubtful:
		c.byPace = make([]float64, wide*paces)
	}
	for i := range parts {
		p := &parts[i]
		if c.byPace == nil {
			for k, v := range p.shares {
				c.shares[k] += v * p.lengthFt / lengthFt
			}
			continue
		}
		for k, v := range p.spread(paces) {
			c.byPace[k] += v * p.lengthFt / lengthFt
		}
	}
	return c
}

// ratedLife goes through what is on record of a stretch, whose ratings may be wrong.
type ratedLife struct {
	*projector
	group *group
	prior []float64 // of the paces, before anything was seen of the seal
	told  []float64 // logarithm of the probability, at each pace, of what was seen of it before the run

	known bool           // how the stretch was when the run began
	since inventory.Date // of the last look, or the beginning
	first wear
	worst [4]float64 // largest share in each state or a worse one
	looks []markov.Interval

	filtered bool      // the two below hold
	now      wear      // at the last look
	logs     []float64 // told with the run
}

// begin begins a run: how the stretch is then is taken for certain.
func (v *ratedLife) begin(on inventory.Date, c wear) {
	v.known, v.since, v.first, v.worst, v.looks, v.filtered = true, on, c, orWorse(&c.shares), nil, false
}

// look adds a look, or begins with it. Where it is better than errors can explain,
// there was work that is not on record, and what was seen before tells nothing of
// the seal.
func (v *ratedLife) look(on inventory.Date, shares [4]float64) {
	years := on.YearsSince(v.since)
	switch {
	case !v.known:
		v.begin(on, wear{shares: shares})
		return
	case years <= 0:
		v.end()
		v.begin(on, wear{shares: shares})
		return
	case !mayBeRated(&v.worst, &shares):
		clear(v.told)
		v.begin(on, wear{shares: shares})
		return
	}
	v.looks, v.filtered = append(v.looks, markov.Interval{Years: years, After: shares[:]}), false
	v.since = on
	for i, s := range orWorse(&shares) {
		v.worst[i] = max(v.worst[i], s)
	}
}

// filter works out how the stretch is likely to be at the last look, and what the
// run tells of its pace.
func (v *ratedLife) filter() {
	if v.filtered {
		return
	}
	v.filtered, v.now, v.logs = true, v.first, append(v.logs[:0], v.told...)
	if len(v.looks) == 0 {
		return
	}
	last, run := v.looks[len(v.looks)-1].After, markov.Run{True: v.first.all(), Looks: v.looks}
	byPace := make([]float64, wide*len(v.logs))
	if v.pace.Filter(byPace, v.logs, v.group.chain, run, v.rated, v.tables.Settings.Pieces) != nil {
		v.now = wear{shares: [4]float64(last)} // what errors cannot explain is taken at its word
		clear(v.logs)
		return
	}
	v.now = wear{byPace: byPace}
}

// end ends the run.
func (v *ratedLife) end() {
	v.filter()
	copy(v.told, v.logs)
	v.known = false
}

// weights are those of the paces.
func (v *ratedLife) weights() []float64 {
	v.filter()
	out := make([]float64, len(v.prior))
	v.pace.Weigh(out, v.prior, v.logs)
	return out
}

// repair ends the run at a repair of a part of the length, and begins the next with
// what it left.
func (v *ratedLife) repair(on inventory.Date, made float64) {
	weights := v.weights()
	p := part{on: v.since, wear: v.now, group: v.group}
	p.byPace = slices.Clone(p.byPace)
	v.end()
	v.age(&p, on, weights)
	p.repair(made)
	p.average(weights)
	v.begin(on, p.wear)
}

// renew begins the life of a new seal.
func (v *ratedLife) renew(r *Record, e *stretchEvent) {
	if v.known && v.since == e.on && len(v.looks) == 0 && v.first.byPace == nil && v.first.shares == asNew {
		return // the seal and the work that put it in
	}
	v.end()
	if slices.ContainsFunc(v.told, func(x float64) bool { return x != 0 }) {
		posterior := slices.Clone(v.prior)
		v.pace.Weigh(posterior, v.prior, v.told)
		v.prior = make([]float64, len(posterior))
		v.pace.Renew(v.prior, posterior, v.tables.Settings.SiteShare)
		clear(v.told)
	}
	v.group = v.Model.group(r, &e.seal)
	v.begin(e.on, allNew)
}

var allNew = wear{shares: asNew}

// rate weighs a stretch's ratings by their errors, all back to its installation
// or the last work that left it in a condition not known: how it is likely to be at
// a look, at each pace, and what the ratings tell of the pace, by
// markov.Pace.Filter. g is the group of a seal that was there when
// the records begin.
func (m *projector) rate(r *Record, t *Stretch, g *group, look *Look) (at wear, weights []float64) {
	v := ratedLife{projector: m, group: g, prior: m.pace.Prior, told: make([]float64, len(m.pace.Z))}
	taken := look == nil
	take := func() {
		v.filter()
		at, taken = v.now, true
	}
	for _, e := range r.stretchEvents(t) {
		if !taken && look.On.Before(e.on) {
			take()
		}
		switch {
		case e.what == newSeal:
			v.renew(r, &e)
		case e.what == repaired && e.made < 0:
			v.end()
		case e.what == repaired && v.known:
			v.repair(e.on, e.made)
		case e.what == looked && e.look.Observed && !e.look.OfParent:
			if seen, ok := e.look.sharesOn(t.ID); ok {
				v.look(e.on, seen)
			}
		}
	}
	if !taken {
		take()
	}
	return at, v.weights()
}

// filtered is the condition of a stretch at a look: as rate has it by a fit with
// rating errors; without those, and where nothing before the look is on record, as
// it was seen.
func (m *projector) filtered(r *Record, t *Stretch, g *group, look *Look) (c wear, ok bool) {
	if c.shares, ok = look.sharesOn(t.ID); !ok || m.rated == nil || !look.Observed || look.OfParent {
		return c, ok
	}
	if m.ratedOf == t {
		m.ratedOf = nil // it is aged from here on
		return m.ratedAt, true
	}
	c, _ = m.rate(r, t, g, look)
	return c, true
}
