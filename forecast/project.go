package forecast

import (
	"slices"

	"reseal/forecast/markov"
	"reseal/inventory"
)

// Forecast is the future of one joint as seen on a day.
type Forecast struct {
	AsOf         inventory.Date
	Since        inventory.Date // the inspection, installation or repair that it starts from
	Kind         string         // seal kind
	Basis        string         // what it rests on, in words
	Illustrative bool           // the life table's row is a starting value
	Pace         float64        // how fast the joint wears against its kind; 1 is as fast

	NowShares [4]float64   // mean share of the length in CS1 to CS4 on AsOf
	NowFailed float64      // probability of having failed by AsOf
	Years     []int        // fiscal years from that of AsOf on
	Failed    []float64    // probability of having failed by the end of each year
	Shares    [][4]float64 // mean shares at the end of each year

	// The two ways to fail, where the opening could be checked: by the end of
	// each year, worn out, and out of the seal's range at its coldest or hottest.
	Worn, OutOfRange []float64

	// The first years by whose end the seal has failed with a probability of 50,
	// 10 and 90 %; 0 where that lies beyond the last year.
	ReplaceYear, EarlyYear, LateYear int

	group   *group
	weights []float64 // of each pace
	start   wear      // on the day Since

	planned  []futureStep
	variance [][4]float64 // of Shares, where they were asked for
	draws    []drawn      // the same in each draw of a fit's parameters
}

// drawn is the future of a joint if a draw of the parameters were the truth.
type drawn struct{ shares, failed []float64 } // by year, as markov.Projection

// Reason says why a joint has no forecast; empty where it has one.
type Reason string

// Reasons for having no forecast.
const (
	NeverInspected Reason = "never inspected, and no installation date on record"
	NothingSeen    Reason = "nothing was seen at its inspections, and no installation date on record"
)

// Project returns the forecast of a joint as of a day, by the end of each
// fiscal year through the last, or the reason why there is none.
//
// It starts from the latest inspection in which any feet were seen, by a fit with
// rating errors weighed against those before it, or from a later new seal or repair; a joint never inspected starts at its installation
// with all feet in CS1. The probability of failure is that of markov.Failure
// from there on, averaged over the joint's own pace. Work on the day of an
// inspection counts as done before it.
func (m *Model) Project(r *Record, asOf inventory.Date, throughYear int) (*Forecast, Reason) {
	return (&projector{Model: m}).project(r, asOf, throughYear)
}

// projector is a Model with room to work in; it belongs to one goroutine.
type projector struct {
	*Model
	planned    map[int64][]PlannedWork // by joint; nil: nothing is done, not by a project either
	variance   bool                    // keep that of forecasts
	keepDraws  bool                    // of forecasts
	legs       []leg
	projection markov.Projection
	blended    markov.Projection
	inDraw     markov.Projection
	inDraws    []*projector // as the model's draws
	times      []float64
	fiscal     []int     // the years of forecasts; they share it
	ends       []float64 // of these, in hours since 1970

	lives      []pacedLife // of one joint, for all draws
	livesOf    *Record
	prior      []float64
	ratedOf    *Stretch // of the joint, whose ratings were weighed last and not yet used
	ratedAt    wear
	known      [4]groupOf // those last asked for
	asked      int
	years, out []float64 // of the opening

	spread   markov.Spread // of the last curve; those of one joint share it
	spreadOf spreadOf
}

// groupOf is a group with the seal of a joint that it is of.
type groupOf struct {
	r *Record
	s *Seal
	g *group
}

// group is Model.group; a projection asks for the same few times and again.
func (m *projector) group(r *Record, s *Seal) *group {
	for i := range m.known {
		if k := &m.known[i]; k.r == r && k.s == s {
			return k.g
		}
	}
	g := m.Model.group(r, s)
	m.known[m.asked%len(m.known)] = groupOf{r, s, g}
	m.asked++
	return g
}

// begin sets the times of a forecast: the day, and the ends of its years through
// the last, in years since a day. It returns the years.
func (m *projector) begin(since, asOf inventory.Date, throughYear int) []int {
	first := m.YearOf(asOf)
	if len(m.fiscal) != max(throughYear-first+1, 0) || len(m.fiscal) > 0 && m.fiscal[0] != first {
		m.fiscal, m.ends = nil, nil
		for y := first; y <= throughYear; y++ {
			m.fiscal = append(m.fiscal, y)
			m.ends = append(m.ends, hours(m.endOf(y)))
		}
	}
	from := hours(since)
	m.times = append(m.times[:0], asOf.YearsSince(since))
	for _, end := range m.ends {
		m.times = append(m.times, (end-from)/(24*365.25))
	}
	return m.fiscal
}

// hours are those from the start of 1970 to a day.
func hours(d inventory.Date) float64 { return float64(d.Time().Unix() / 3600) }

// spreadOf is what a curve's spread depends on; weights are known by their place.
type spreadOf struct {
	outlook   *markov.Outlook
	weights   *float64
	fromYears float64
}

func (m *projector) project(r *Record, asOf inventory.Date, throughYear int) (*Forecast, Reason) {
	g := m.group(r, r.sealOn(asOf))
	weights := m.paceOf(r, g)
	start, reason := m.start(r, asOf, weights)
	if reason != "" {
		return nil, reason
	}
	f := &Forecast{
		AsOf: asOf, Since: start.on, Kind: g.kind, Illustrative: g.illustrative, Pace: m.pace.Mean(weights),
		Basis: r.basis(r.latestLook(), start.on) + "; " + g.words(), group: g, weights: weights, start: start.wear,
	}
	if !g.known {
		f.Kind = r.sealOn(asOf).Kind
	}
	f.Years = slices.Clip(m.begin(start.on, asOf, throughYear))
	if m.planned != nil {
		f.planned = withProjects(m.tables.steps(m.planned[r.ID]), r.Projects, m.YearOf(asOf))
	}
	m.projection.Lean = !m.variance
	legs := m.course(r, f, leg{group: g, start: start.wear, weights: weights}, f.planned)
	m.follow(legs)
	m.blend(r, f, legs)
	m.joinOpening(f, r.Gap, m.projection.Failed)
	f.NowShares, f.NowFailed = [4]float64(m.projection.Shares[:4]), m.projection.Failed[0]
	f.Failed = append([]float64(nil), m.projection.Failed[1:]...)
	f.Shares = make([][4]float64, len(f.Years))
	for i := range f.Shares {
		f.Shares[i] = [4]float64(m.projection.Shares[4*i+4:])
		if m.variance {
			f.variance = append(f.variance, [4]float64(m.projection.Variance[4*i+4:]))
		}
	}
	early, middle, late := markov.ReplacementYear(m.times, m.projection.Failed)
	f.EarlyYear, f.ReplaceYear, f.LateYear = m.year(early, asOf), m.year(middle, asOf), m.year(late, asOf)
	return f, ""
}

// year is the fiscal year in which the time of q lies, 0 beyond the horizon.
func (m *projector) year(q markov.Quantile, asOf inventory.Date) int {
	if !q.Reached {
		return 0
	}
	return m.YearOf(asOf) + max(slices.Index(m.times, q.Years)-1, 0)
}

// FailedBy is the probability of having failed by the end of a year, between
// 0 and 1; years before the first have the probability now.
func (f *Forecast) FailedBy(year int) float64 {
	if len(f.Years) == 0 || year < f.Years[0] {
		return f.NowFailed
	}
	return f.Failed[min(year-f.Years[0], len(f.Failed)-1)]
}

// start is what a projection starts from.
type start struct {
	on inventory.Date
	wear
}

var asNew = [4]float64{1, 0, 0, 0}

// part is one stretch on the way to the start.
type part struct {
	lengthFt float64
	on       inventory.Date
	wear
	group *group
}

// start finds the shares on the latest day of which something is on record:
// each stretch from its own inspection, installation and repairs, aged to the
// same day and added up by length.
func (m *projector) start(r *Record, asOf inventory.Date, weights []float64) (start, Reason) {
	look := r.latestLook()
	var parts []part
	for i := range r.Stretches {
		if p, ok := m.part(r, &r.Stretches[i], look, asOf, weights); ok {
			parts = append(parts, p)
		}
	}
	if len(r.Stretches) == 0 && look != nil {
		shares, _ := look.shares()
		parts = append(parts, part{1, look.On, wear{shares: shares}, m.group(r, &noSeal)})
	}
	if len(parts) == 0 {
		if len(r.Looks) > 0 {
			return start{}, NothingSeen
		}
		return start{}, NeverInspected
	}
	var s start
	length := 0.0
	for _, p := range parts {
		length += p.lengthFt
		if s.on.Before(p.on) {
			s.on = p.on
		}
	}
	for i := range parts {
		m.age(&parts[i], s.on, weights)
	}
	s.wear = together(parts, length, len(weights))
	s.average(weights)
	return s, ""
}

// part is one stretch's latest known condition; ok is false where nothing is
// known of it.
func (m *projector) part(r *Record, t *Stretch, look *Look, asOf inventory.Date, weights []float64) (p part, ok bool) {
	p.lengthFt = t.ToFt - t.FromFt
	p.group = m.group(r, &noSeal)
	seal := t.sealOn(asOf)
	if seal != nil {
		p.group = m.group(r, seal)
	}
	if look != nil {
		if p.wear, ok = m.filtered(r, t, p.group, look); ok {
			p.on = look.On
		}
	}
	if seal != nil && !seal.Installed.IsZero() && (!ok || p.on.Before(seal.Installed)) {
		p.on, p.wear, ok = seal.Installed, allNew, true
	}
	for i := range r.Work {
		w := &r.Work[i]
		made := w.overlap(t, r.LengthFt)
		if made == 0 || ok && !p.on.Before(w.On) || !ok && made < 1 {
			continue
		}
		if !ok {
			p.on, p.wear, ok = w.On, allNew, true
			continue
		}
		m.age(&p, w.On, weights)
		p.repair(made)
	}
	return p, ok
}

// age moves the part's shares to a later day by its chain, where ratings may be
// wrong at each pace.
func (m *projector) age(p *part, to inventory.Date, weights []float64) {
	if !p.on.Before(to) {
		return
	}
	years := to.YearsSince(p.on)
	p.on = to
	if m.rated != nil {
		p.byPace = p.spread(len(weights))
		m.pace.Age(p.byPace, p.group.chain, years)
		return
	}
	p.group.outlook.Project(&m.projection, p.shares[:], weights, []float64{years})
	p.shares = [4]float64(m.projection.Shares)
}

// repair makes a share of the length new, the worst feet first: a crew repairs
// what is bad (common practice, no source).
func repair(shares *[4]float64, made float64) {
	left := made
	for s := 3; s > 0; s-- {
		x := min(shares[s], left)
		shares[s] -= x
		shares[0] += x
		left -= x
	}
}

// latestLook is the last look in which anything was seen, or nil.
func (r *Record) latestLook() *Look {
	var last *Look
	for i := range r.Looks {
		l := &r.Looks[i]
		if _, ok := l.shares(); ok {
			last = l
		}
	}
	return last
}

// longest is the stretch that speaks for the joint, or nil.
func (r *Record) longest() *Stretch {
	var t *Stretch
	for i := range r.Stretches {
		s := &r.Stretches[i]
		if t == nil || s.ToFt-s.FromFt > t.ToFt-t.FromFt {
			t = s
		}
	}
	return t
}

// noSeal stands in where none is on record.
var noSeal = Seal{Kind: inventory.KindOther}

// sealOn is the joint's seal on a day.
func (r *Record) sealOn(day inventory.Date) *Seal {
	if t := r.longest(); t != nil {
		if s := t.sealOn(day); s != nil {
			return s
		}
	}
	return &noSeal
}

// basis says in words what the start rests on.
func (r *Record) basis(look *Look, on inventory.Date) string {
	words := "never inspected"
	if look != nil && look.Latest {
		words = "submitted with the element data dated " + look.On.String()
	} else if look != nil {
		words = "inspected " + look.On.String()
	}
	if look != nil && look.OfParent {
		words += ", as part of the bridge's quantity"
	}
	if look == nil || look.On.Before(on) {
		words += ", " + r.renewedHow(on) + " " + on.String()
	}
	if r.Quantity {
		words += ", a quantity for the whole bridge"
	}
	return words
}

func (r *Record) renewedHow(on inventory.Date) string {
	for _, w := range r.Work {
		if w.On == on && !w.NewSeal {
			return "repaired"
		}
	}
	return "sealed"
}

func (g *group) words() string {
	if g.basis != "" {
		return g.basis
	}
	how := "life table"
	if g.illustrative {
		how = "illustrative life table"
	}
	if !g.known {
		return how + ", no row for this kind: other seals"
	}
	return how + ", " + g.kind
}
