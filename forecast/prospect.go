package forecast

import (
	"fmt"
	"math"
	"slices"

	"reseal/forecast/markov"
	"reseal/forecast/money"
	"reseal/forecast/strategy"
	"reseal/inventory"
)

// maxPlanYears is the longest horizon of strategies and plans.
const maxPlanYears = 30

// repairYears is in how many first years a repair is looked at: each costs a
// projection, and by then the joint has been inspected again.
const repairYears = 10

// prospecting chooses for which joints strategies are worked out, and from
// which fiscal year on.
type prospecting struct {
	firstYear int
	years     int
	wanted    func(*Projected) bool // nil: all
	cs4       bool                  // the share of length in CS4 is asked for too
}

// Prospect is what can be done to a joint and what each strategy is expected to
// cost, in constant dollars of the present fiscal year, as present values at
// the start of its first year.
type Prospect struct {
	FirstYear  int // fiscal
	Treatments []*Treatment
	Value      *strategy.Value // knows the treatments in the same order

	Costs       []money.UnitCosts // constant dollars
	OwnDollars  []float64         // by treatment: for this joint, without the visit
	VisitShare  float64           // of a bridge visit that this joint is taken to bear
	Consequence float64           // dollars a year failed

	now     strategy.Curve // of the seal in place
	terms   strategy.Terms
	project int    // year from FirstYear in which a committed project first renews the joint; -1: none
	renewed []int  // years of all such projects
	usual   int    // the usual renewal of its kind
	allowed []bool // by treatment: may be chosen; others are there because people named them for some year
}

// renewingProjects are the committed bridge projects that put in new seals.
var renewingProjects = []string{"overlay", "deck replacement", "bridge replacement"}

// prospects works out the strategies of a page of joints, which holds whole
// bridges.
func (m *projector) prospects(joints []Projected, want *prospecting) error {
	if want == nil {
		return nil
	}
	for len(joints) > 0 {
		n, feet := 0, 0.0
		for n < len(joints) && joints[n].Bridge.ID == joints[0].Bridge.ID {
			if joints[n].Forecast != nil {
				feet += joints[n].LengthFt
			}
			n++
		}
		for i := range joints[:n] {
			j := &joints[i]
			if j.Forecast == nil || j.LengthFt == 0 || want.wanted != nil && !want.wanted(j) {
				continue
			}
			var err error
			if j.Prospect, err = m.prospect(j, want, j.LengthFt/feet); err != nil {
				return fmt.Errorf("joint %s: %w", j.Tag, err)
			}
		}
		joints = joints[n:]
	}
	return nil
}

// prospect is that of one joint; visitShare is its share of the bridge's
// visits, by length among all joints there.
func (m *projector) prospect(j *Projected, want *prospecting, visitShare float64) (*Prospect, error) {
	m.spreadOf = spreadOf{} // its weights may lie where another joint's were
	settings := &m.tables.Settings
	p := &Prospect{
		FirstYear: want.firstYear, VisitShare: visitShare, project: -1,
		Consequence: m.tables.ConsequenceAYear(j.LengthFt, j.Bridge.Deicing, j.Bridge.VehiclesADay),
		terms:       strategy.Terms{Years: want.years, Rate: settings.RealDiscountRate, SiteShare: settings.SiteShare},
	}
	from := m.startOf(want.firstYear, j.AsOf)
	out := m.outOfRange(j, from)
	joint := strategy.Joint{
		Now:                m.curve(j.group, &j.start, j.weights, from.YearsSince(j.Since), out),
		ConsequenceDollars: p.Consequence,
	}
	if want.cs4 {
		joint.NowCS4 = m.cs4(j.group, &j.start, j.weights, from.YearsSince(j.Since))
	}
	p.now = joint.Now
	if err := m.choose(p, j); err != nil {
		return nil, err
	}
	for i := range p.Treatments {
		t := p.Treatments[i]
		u, err := m.tables.costs(t, j.LengthFt, j.Bridge.District, m.YearOf(j.AsOf))
		if err != nil {
			return nil, err
		}
		if d := j.decided(FixCost); d != nil && (d.Treatment == "" && i == p.usual || d.Treatment == t.Name) {
			rise, err := m.tables.Prices.Factor(d.PriceYear, m.YearOf(j.AsOf))
			if err != nil {
				return nil, err
			}
			u.PerFootCents, u.FixedCents, u.AgreedCents = 0, 0, int64(math.Round(float64(d.CostCents)*rise))
		}
		own := u.OwnCents(j.LengthFt) / 100
		p.Costs, p.OwnDollars = append(p.Costs, u), append(p.OwnDollars, own)
		joint.Treatments = append(joint.Treatments, strategy.Treatment{
			Name: t.Name, CostDollars: own + visitShare*float64(u.VisitCents())/100, Effect: t.effect(),
		})
		m.effect(&joint.Treatments[i], j, t, want, from, out)
	}
	m.addProject(p, j, &joint)
	var err error
	p.Value, err = strategy.NewValue(&joint, p.terms)
	return p, err
}

// startOf is when a strategy's first year begins: a year that has begun counts
// from the day of the forecast.
func (m *Model) startOf(year int, asOf inventory.Date) inventory.Date {
	if start := m.endOf(year - 1); asOf.Before(start) {
		return start
	}
	return asOf
}

// curve is the probability of failure of a seal by half-years, from some years
// after the day of its shares on, joined with that of leaving its range.
func (m *projector) curve(g *group, from *wear, weights []float64, fromYears float64, out []float64) strategy.Curve {
	c := strategy.Curve(m.failures(g, from, weights, max(fromYears, 0)))
	if out != nil {
		markov.JoinOpening(c, out)
	}
	for i := 1; i < len(c); i++ {
		c[i] = max(c[i], c[i-1])
	}
	return c
}

// failures are those of curve by wear alone.
func (m *projector) failures(g *group, from *wear, weights []float64, fromYears float64) []float64 {
	of := spreadOf{g.outlook, &weights[0], fromYears}
	if m.spreadOf != of || from.byPace != nil {
		m.times = m.times[:0]
		for _, t := range strategy.Times() {
			m.times = append(m.times, t+fromYears)
		}
	}
	if from.byPace != nil {
		g.outlook.Project(&m.projection, from.byPace, weights, m.times)
		return slices.Clone(m.projection.Failed)
	}
	if m.spreadOf != of {
		g.outlook.Spread(&m.spread, weights, m.times)
		m.spreadOf = of
	}
	return g.outlook.Failures(make([]float64, 0, strategy.Points), &m.spread, from.shares[:])
}

// cs4 is the mean share of length in CS4 of the seal whose curve has the same
// arguments, by half-years.
func (m *projector) cs4(g *group, from *wear, weights []float64, fromYears float64) strategy.Curve {
	times := strategy.Times()
	for i := range times {
		times[i] += max(fromYears, 0)
	}
	g.outlook.Project(&m.projection, from.all(), weights, times)
	c := make(strategy.Curve, len(times))
	for i := range c {
		c[i] = m.projection.Shares[4*i+3]
	}
	return c
}

// outOfRange is the probability, by half-years from a day on, that the opening
// has left the seal's range; nil where it could not be checked.
func (m *projector) outOfRange(j *Projected, from inventory.Date) []float64 {
	if len(j.OutOfRange) == 0 {
		return nil
	}
	line, err := j.Gap.Line(m.tables.Gaps)
	if err != nil {
		return nil
	}
	m.years = m.years[:0]
	for _, t := range strategy.Times() {
		m.years = append(m.years, from.DecimalYear()+t)
	}
	return line.OutByYear(nil, j.Gap.Limits, j.AsOf.DecimalYear(), m.years)
}

// choose lists the treatments open to the joint: those proposed for its kind
// and its findings, the ones that people named, and always its usual renewal,
// which is what goes on for ever.
func (m *Model) choose(p *Prospect, j *Projected) error {
	named := map[string]bool{}
	for i := range j.Decided {
		named[j.Decided[i].Treatment] = true
	}
	only := j.decided(FixTreatment)
	usual, err := m.tables.TreatmentFor(j.Kind)
	if err != nil {
		return err
	}
	for i := range m.tables.Treatments {
		t := &m.tables.Treatments[i]
		open := !t.OnlyDecided && m.opens(t, j)
		if t.Name == usual.Name {
			p.usual = len(p.Treatments)
		} else if !open && !named[t.Name] {
			continue
		}
		p.Treatments = append(p.Treatments, t)
		p.allowed = append(p.allowed, only == nil && (open || t.Name == usual.Name) || only != nil && only.Treatment == t.Name)
	}
	return nil
}

// opens tells whether a treatment suits the joint's kind and open findings. One
// for any kind stands back where another renewal names the kind.
func (m *Model) opens(t *Treatment, j *Projected) bool {
	suits, names := t.suits(j.Kind)
	if !suits {
		return false
	}
	if t.ForFindings != "" {
		return slices.ContainsFunc(j.Findings, func(f Finding) bool { return listed(t.ForFindings, f.Kind) })
	}
	if names || t.effect() != strategy.Renews {
		return true
	}
	usual, err := m.tables.TreatmentFor(j.Kind)
	return err == nil && usual.Name == t.Name
}

// effect fills in the life after a treatment. A new seal is taken to fit its
// opening.
func (m *projector) effect(to *strategy.Treatment, j *Projected, t *Treatment, want *prospecting, from inventory.Date, out []float64) {
	switch to.Effect {
	case strategy.Renews:
		g := j.group
		if t.NewKind != "" {
			g = m.group(j.Record, &Seal{Kind: t.NewKind, Installed: from})
		}
		unknown := g.fresh()
		to.Site, to.Group = m.curve(g, &allNew, j.weights, 0, nil), unknown.failed
		if want.cs4 {
			to.SiteCS4, to.GroupCS4 = m.cs4(g, &allNew, j.weights, 0), unknown.cs4
		}
	case strategy.Repairs:
		times := make([]float64, min(want.years, repairYears)+1)
		for y := range times {
			times[y] = max(from.YearsSince(j.Since), 0) + float64(y) + 0.5
		}
		m.repaired(to, j, j.group.beyond[t.RepairsShare], t.RepairsShare, times, out, want.cs4)
	}
}

// repaired is the life of the seal after a repair of at most a share of its
// length in the middle of each year, given as times after the day of its
// shares. With r the share, φ the limit of failure and s the share in CS4
// at the time, the repair leaves the seal failed with the probability that
// s ≥ φ + r, by the rule of markov.Failure, which is that of beyond; else all of
// CS4 is made new, and then the next worst feet up to r, at the mean shares of
// the time.
func (m *projector) repaired(to *strategy.Treatment, j *Projected, beyond *markov.Outlook, share float64, times, out []float64, cs4 bool) {
	beyond.Project(&m.projection, j.start.all(), j.weights, times)
	still := append([]float64(nil), m.projection.Failed...)
	means := append([]float64(nil), m.projection.Shares...)
	for y := range times {
		shares := [4]float64(means[4*y:])
		if more := shares[3] - share; more > 0 {
			shares[2], shares[3] = shares[2]+more, share
		}
		repair(&shares, share)
		left := wear{shares: shares}
		life := m.curve(j.group, &left, j.weights, 0, later(out, y*strategy.StepsPerYear+strategy.StepsPerYear/2))
		for i, f := range life {
			life[i] = still[y] + (1-still[y])*f
		}
		to.After = append(to.After, life)
		if cs4 {
			to.AfterCS4 = append(to.AfterCS4, m.cs4(j.group, &left, j.weights, 0))
		}
	}
}

// later is a curve from some steps on; its last value goes on.
func later(out []float64, steps int) []float64 {
	if out == nil {
		return nil
	}
	shifted := make([]float64, len(out))
	for i := range shifted {
		shifted[i] = out[min(i+steps, len(out)-1)]
	}
	return shifted
}

// addProject adds the committed projects that will renew the joint at no cost
// to this budget, as one more treatment that only strategies use.
func (m *Model) addProject(p *Prospect, j *Projected, joint *strategy.Joint) {
	for _, s := range withProjects(nil, j.Projects, p.FirstYear) {
		if year := s.year - p.FirstYear; year < p.terms.Years {
			p.renewed = append(p.renewed, year)
		}
	}
	if len(p.renewed) == 0 {
		return
	}
	p.project = p.renewed[0]
	usual := joint.Treatments[p.usual]
	joint.Treatments = append(joint.Treatments, strategy.Treatment{Name: "project", Effect: strategy.Renews, Site: usual.Site, Group: usual.Group, SiteCS4: usual.SiteCS4, GroupCS4: usual.GroupCS4, CostDollars: usual.CostDollars})
}
