package forecast

import (
	"math"
	"slices"

	"reseal/inventory"
)

// Reasons for leaving an inspection or an interval out of a fit.
const (
	DateUnknown   = "inspections of which only the latest possible date is known"
	OfQuantity    = "inspections of a bridge's quantity, not of the joint itself"
	NoWorkFound   = "intervals that end better than they began, with no work on record"
	LengthChanged = "intervals between which the length seen changed"
	ResultUnknown = "intervals with work on the whole length that left the seal"
	NoTimeBetween = "inspections on the day of another"
	RemovedUnseen = "seals removed for wear before anybody found them failed: if they had, the fit finds the last move too slow; see --worn-failed"
)

// sealLife is what the inspections tell of one seal on one stretch.
type sealLife struct {
	seal    Seal
	follows bool // the life before is that of the seal before it on the stretch
	start   sealStart
	spans   []sealSpan
}

// sealStart is how the seal came to its first inspection, where that does not
// begin an interval of its own.
type sealStart struct {
	shares   [4]float64 // at the first inspection
	ages     []float64  // possible ages in years then; nil: nothing is known
	onRecord bool       // older than the records, and in them because it had not failed
	before   float64    // years that the records had run then, where onRecord
	siteAge  float64    // of the joint when the records began, where onRecord
	known    bool       // the installation date is on record, to the year at least
}

// sealSpan is an interval between two looks, or from new to the first.
type sealSpan struct {
	years         float64
	before, after [4]float64
	joined        bool // begins with the look that ended the one before, or that the start is of
	improved      bool // ends better than it began, taken as a rating error
	failed        bool // all that is known of its end: the seal had failed
}

// collector reads lives out of records, and counts what it leaves out.
type collector struct {
	wornFailed   bool // a seal removed for wear had failed
	ratingErrors bool // feet may be rated one state off: so much better without work is no reason to leave out
	recordsSince inventory.Date
	lives        []sealLife // of the record read last
	leftOut      map[string]int
	first, last  inventory.Date // of the inspections in use
}

// stretchEvent is one thing in the life of a stretch.
type stretchEvent struct {
	on   inventory.Date
	what int
	seal Seal    // newSeal
	made float64 // repaired: share of the stretch made new; below 0: not known
	look *Look
}

// read fills lives with those of the record's stretches. Each stretch has its
// own seals. Intervals do not reach over work: a new seal begins a life with
// all feet in CS1 on its date; a repair from one foot to another resets its
// feet, the worst first, on its date; cleaning and temporary plates change
// nothing.
func (c *collector) read(r *Record) {
	c.lives = c.lives[:0]
	for i := range r.Stretches {
		c.stretch(r, &r.Stretches[i])
	}
}

func (r *Record) stretchEvents(t *Stretch) []stretchEvent {
	var out []stretchEvent
	for _, s := range t.Seals {
		if !s.Installed.IsZero() {
			out = append(out, stretchEvent{on: s.Installed, what: newSeal, seal: s})
		}
	}
	for i := range r.Work {
		w := &r.Work[i]
		made := w.overlap(t, r.LengthFt)
		switch {
		case made == 1 && w.NewSeal:
			seal := Seal{Kind: inventory.KindOther}
			if s := t.sealOn(w.On); s != nil {
				seal = *s
			}
			seal.Installed, seal.Precision = w.On, ""
			out = append(out, stretchEvent{on: w.On, what: newSeal, seal: seal})
		case made > 0:
			out = append(out, stretchEvent{on: w.On, what: repaired, made: made})
		case w.wholeWithoutSeal():
			out = append(out, stretchEvent{on: w.On, what: repaired, made: -1})
		}
	}
	for i := range r.Looks {
		out = append(out, stretchEvent{on: r.Looks[i].On, what: looked, look: &r.Looks[i]})
	}
	slices.SortStableFunc(out, func(a, b stretchEvent) int {
		switch {
		case a.on.Before(b.on):
			return -1
		case b.on.Before(a.on):
			return 1
		}
		return a.what - b.what
	})
	return out
}

// wholeWithoutSeal is work on the whole length after which only an inspection
// can tell how the seal is.
func (w *Work) wholeWithoutSeal() bool {
	return !w.changesNothing() && !w.NewSeal && w.ToFt == 0 && w.FromFt == 0
}

// stretchState is how far the reading of a stretch has come.
type stretchState struct {
	open     bool       // a life has begun
	known    bool       // shares hold since then
	worked   bool       // not known because of work
	began    bool       // by a new seal younger than the record
	since    float64    // decimal year
	shares   [4]float64 // then
	lengthFt float64    // seen then; 0: as new, any length agrees
	joined   bool       // seen then, and the end of an interval in use or the start
	worst    [4]float64 // largest share in each state or a worse one, seen since the interval or work before
}

func (c *collector) stretch(r *Record, t *Stretch) {
	var s stretchState
	for _, e := range r.stretchEvents(t) {
		switch e.what {
		case newSeal:
			c.newSeal(&s, e)
		case repaired:
			s.repair(e)
		case looked:
			c.look(r, t, &s, e)
		}
	}
}

func (c *collector) newSeal(s *stretchState, e stretchEvent) {
	if s.open && s.began && s.since == e.on.DecimalYear() && s.shares == asNew {
		return // the seal and the work that put it in
	}
	c.removed(s, e)
	c.lives = append(c.lives, sealLife{seal: e.seal, follows: s.open})
	*s = stretchState{open: true, worst: orWorse(&asNew)}
	if e.on.Before(c.recordsSince) || e.seal.Precision == "year" {
		return // its first inspection says how it came on record
	}
	s.known, s.began, s.since, s.shares = true, true, e.on.DecimalYear(), asNew
}

// removed ends the life of a seal that nobody found failed before it was removed for
// wear. Where an agency renews what has failed it had, and a fit without it finds the
// last move too slow (testdata/degradation); where seals are renewed before, it had
// not: that is for people to say.
func (c *collector) removed(s *stretchState, e stretchEvent) {
	if !s.open || !s.known || s.shares[3] > 0 {
		return
	}
	l := &c.lives[len(c.lives)-1]
	years := e.on.DecimalYear() - s.since
	if l.seal.RemovedWhy != inventory.RemovedForWear || years <= 0 {
		return
	}
	if !c.wornFailed {
		c.leftOut[RemovedUnseen]++
		return
	}
	l.spans = append(l.spans, sealSpan{years: inWeeks(years), before: s.shares, joined: s.joined, failed: true})
}

// repair restarts the interval. The feet made new begin on the day of the work
// and the others on that of the inspection: the interval begins at the mean of
// both, weighted by feet.
func (s *stretchState) repair(e stretchEvent) {
	if !s.known {
		return
	}
	if e.made < 0 {
		s.known, s.worked = false, true
		return
	}
	repair(&s.shares, e.made)
	s.joined, s.worst = false, orWorse(&s.shares)
	s.since += e.made * (e.on.DecimalYear() - s.since)
}

// look ends an interval and begins the next.
func (c *collector) look(r *Record, t *Stretch, s *stretchState, e stretchEvent) {
	ft, ok := feetOn(e.look, t, len(r.Stretches) == 1)
	switch {
	case !ok:
		return
	case !e.look.Observed:
		c.leftOut[DateUnknown]++
		return
	case e.look.OfParent:
		c.leftOut[OfQuantity]++
		return
	}
	after, ok := sharesOf(ft)
	if !ok {
		return
	}
	total := ft[0] + ft[1] + ft[2] + ft[3]
	now := e.on.DecimalYear()
	if !s.open {
		seal := Seal{Kind: inventory.KindOther}
		if in := t.sealOn(e.on); in != nil {
			seal = *in
		}
		c.lives = append(c.lives, sealLife{seal: seal})
		s.open = true
	}
	l := &c.lives[len(c.lives)-1]
	joined := false // from here on
	rated := c.ratingErrors && s.known && mayBeRated(&s.worst, &after)
	switch {
	case !s.known && s.worked:
		c.leftOut[ResultUnknown]++
	case !s.known && len(l.spans) == 0 && l.start.ages == nil:
		l.start, joined = c.startOf(r, l.seal, e.on, after), true
	case !s.known:
	case now <= s.since:
		c.leftOut[NoTimeBetween]++
	case s.lengthFt > 0 && math.Abs(total-s.lengthFt) > max(1, 0.02*s.lengthFt):
		c.leftOut[LengthChanged]++
	default:
		better := !noBetter(&after, s.shares, total)
		if joined = !better || rated; !joined {
			c.leftOut[NoWorkFound]++
			break
		}
		l.spans = append(l.spans, sealSpan{years: inWeeks(now - s.since), before: s.shares, after: after, joined: s.joined, improved: better})
	}
	c.saw(e.on)
	s.known, s.worked, s.began, s.since, s.shares, s.lengthFt = true, false, false, now, after, total
	worst := orWorse(&after)
	for i := range worst {
		if joined {
			worst[i] = max(worst[i], s.worst[i])
		}
	}
	s.joined, s.worst = joined, worst
}

// orWorse are the shares in each state or a worse one.
func orWorse(shares *[4]float64) [4]float64 {
	w := *shares
	for i := 2; i >= 0; i-- {
		w[i] += w[i+1]
	}
	return w
}

// mayBeRated tells whether an error of one state can make what has worn look as
// it does: no foot is more than one state better than the worst that it was
// seen in; worst are the largest shares seen in each state or a worse one. Feet that are have been worked on, more likely than rated wrong twice.
// What is no more than feet can be counted, 2 % of the length, is taken back.
func mayBeRated(worst, after *[4]float64) bool {
	now := orWorse(after)
	for i := range 2 {
		if now[i+1] < worst[i+2]-0.02 {
			return false
		}
		now[i+1] = max(now[i+1], worst[i+2])
	}
	for i := range 3 {
		after[i] = now[i] - now[i+1]
	}
	return true
}

// inWeeks rounds a time to whole weeks, one at least: equal intervals share
// their work in the fit. It is out by 3.5 days at most, either way, which of
// two years is half of one per cent.
func inWeeks(years float64) float64 {
	const weeks = 365.25 / 7
	return max(math.Round(years*weeks), 1) / weeks
}

func (c *collector) saw(on inventory.Date) {
	if c.first.IsZero() || on.Before(c.first) {
		c.first = on
	}
	if c.last.Before(on) {
		c.last = on
	}
}

// feetOn are the feet of a stretch; a joint of one stretch may have been seen
// before a restaging, under another.
func feetOn(l *Look, t *Stretch, only bool) (ft [4]float64, ok bool) {
	for _, f := range l.Feet {
		if f.StretchID == t.ID {
			return f.StateFt, true
		}
		for s, v := range f.StateFt {
			ft[s] += v
		}
	}
	return ft, only && len(l.Feet) > 0
}

// unknownYears is how long before its first inspection a seal may have been
// installed where neither its date nor the bridge's is known.
const unknownYears = 30

// startAges is the number of possible ages of a seal of unknown date.
const startAges = 6

// startOf is how a seal came to its first inspection. A seal of unknown date
// may be as old as its bridge and is older than the records, which would have
// its date.
func (c *collector) startOf(r *Record, s Seal, on inventory.Date, shares [4]float64) sealStart {
	// Equal ages share work, and of an age in years nobody knows the month.
	months := func(years float64) float64 {
		if years > 3 {
			return math.Round(4*years) / 4
		}
		return max(math.Round(12*years), 1) / 12
	}
	out := sealStart{shares: shares, known: !s.Installed.IsZero(), onRecord: s.Installed.Before(c.recordsSince)}
	if out.onRecord {
		out.before = math.Round(4*max(on.YearsSince(c.recordsSince), 0)) / 4
		if out.siteAge = unknownYears; r.Bridge.BuiltYear > 0 {
			out.siteAge = float64(c.recordsSince.Year - r.Bridge.BuiltYear)
		}
	}
	if out.known {
		age := on.YearsSince(s.Installed)
		out.ages = []float64{max(months(age), out.before+1.0/12)}
		if s.Precision == "year" { // any day of it
			out.ages = nil
			for q := range 4 {
				if a := age - (float64(q)+0.5)/4; a > out.before {
					out.ages = append(out.ages, max(months(a), out.before+1.0/12))
				}
			}
		}
		return out
	}
	span := float64(unknownYears)
	if built := r.Bridge.BuiltYear; built > 0 {
		span = float64(on.Year - built)
	}
	span = min(max(span, out.before+1), 60) - out.before
	for k := range startAges {
		out.ages = append(out.ages, out.before+months(span*(float64(k)+0.5)/startAges))
	}
	return out
}
