package forecast

import (
	"math"

	"reseal/forecast/strategy"
)

// course is everything that is done to a joint over a plan's horizon, and its money.
type course struct {
	outline
	cost    float64  // expected discounted dollars, without visits
	charges [2]int64 // nominal cents, of each step
}

// outline is a course without its money, small, for a large network has millions:
// none, one or two treatments.
type outline struct {
	failed float32 // probability of having failed at the end of the horizon
	steps  [2]step
	count  int8
	funds  [2]int8 // that pay: 0 is own money, else one more than the fund
	leads  [2]int8 // years before the work in which the money is drawn
}

type step struct{ treatment, year int8 }

func (c *outline) actions() []strategy.Action {
	var out []strategy.Action
	for _, s := range c.steps[:c.count] {
		out = append(out, strategy.Action{Treatment: int(s.treatment), Year: int(s.year)})
	}
	return out
}

// courses lists what a plan may do to a joint, doing nothing first. What costs
// money and saves none is left out, except where people pinned it.
//
// A second treatment follows a renewal near the best age of the seal, and a
// repair within secondAfterRepair years; it is the best renewal for ever.
func (m *Model) courses(j *Projected, rises []float64) ([]course, error) {
	p := j.Prospect
	idle, err := m.course(p, rises)
	if err != nil {
		return nil, err
	}
	pin := j.decided(Pin)
	pinned := pin != nil && pin.Year >= p.FirstYear && pin.Year < p.FirstYear+p.terms.Years
	if j.decided(Exclude) != nil {
		return []course{idle}, nil
	}
	from := 0
	if hold := j.decided(Hold); hold != nil {
		from = hold.Year - p.FirstYear
	}
	if j.claimed(j.AsOf) { // the first season is the contractor's
		from = max(from, 1)
	}
	var out []course
	if !pinned {
		out = append(out, idle)
	}
	add := func(than *course, steps ...step) (*course, error) {
		c, err := m.course(p, rises, steps...)
		if err != nil || !pinned && c.cost >= than.cost {
			return nil, err
		}
		out = append(out, c)
		return &c, nil
	}
	for i := range p.Treatments {
		for y := max(from, 0); y < p.terms.Years; y++ {
			switch {
			case pinned && (y != pin.Year-p.FirstYear || pin.Treatment != "" && p.Treatments[i].Name != pin.Treatment):
				continue
			case !p.allowed[i] && !(pinned && pin.Treatment == p.Treatments[i].Name), p.project >= 0 && y >= p.project:
				continue
			}
			if _, ok := p.outright(i, y); !ok {
				continue
			}
			first := step{int8(i), int8(y)}
			c, err := add(&idle, first)
			if err != nil {
				return nil, err
			}
			if c == nil {
				continue
			}
			for _, lag := range p.lags(i) {
				if later := y + lag; later < p.terms.Years && p.project < 0 {
					if _, err := add(c, first, step{int8(p.Value.Forever().Treatment), int8(later)}); err != nil {
						return nil, err
					}
				}
			}
		}
	}
	if len(out) == 0 { // a pin that cannot be done, in or past a project's year
		out = append(out, idle)
	}
	return out, nil
}

// secondAfterRepair is within how many years a renewal may follow a repair.
const secondAfterRepair = 8

// lags are the years after a treatment at which a second is looked at.
func (p *Prospect) lags(treatment int) (out []int) {
	switch p.Treatments[treatment].effect() {
	case strategy.Renews:
		for lag := max(3, int(p.Value.Forever().AgeYears)-2); len(out) < 6; lag++ {
			out = append(out, lag)
		}
	case strategy.Repairs:
		for lag := 2; lag <= secondAfterRepair; lag++ {
			out = append(out, lag)
		}
	}
	return out
}

// course prices one. rises is how prices rise from the present to each year.
func (m *Model) course(p *Prospect, rises []float64, steps ...step) (course, error) {
	c := course{outline: outline{count: int8(len(steps))}}
	copy(c.steps[:], steps)
	costs, err := p.Value.Cost(append(c.actions(), p.projectOnly()...)...)
	if err != nil {
		return c, err
	}
	c.cost = costs.Failed + costs.After
	for k, s := range steps {
		own := p.OwnDollars[s.treatment]
		c.cost += own * math.Pow(1+p.terms.Rate, -float64(s.year)-0.5)
		c.charges[k] = nominalCents(own, rises[s.year])
	}
	failed, err := p.Value.FailedAt(p.terms.Years, append(c.actions(), p.projectOnly()...)...)
	c.failed = float32(failed)
	return c, err
}

// nominalCents is what constant dollars cost once prices have risen.
func nominalCents(dollars, rise float64) int64 { return int64(math.Round(100 * dollars * rise)) }

// visitDollars is what a visit to the bridge costs: that of its dearest
// treatment among the courses.
func visitDollars(joints []Projected, courses [][]course) float64 {
	visit := int64(0)
	for i, cs := range courses {
		for k := range cs {
			for _, s := range cs[k].steps[:cs[k].count] {
				visit = max(visit, joints[i].Prospect.Costs[s.treatment].VisitCents())
			}
		}
	}
	return float64(visit) / 100
}
