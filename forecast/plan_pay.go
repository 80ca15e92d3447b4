package forecast

import (
	"math"

	"reseal/forecast/plan"
)

// ways lists how a course can be paid: each of its steps from own money or from a
// fund that may. A course whose contract would have to be let before the first
// year is left out; one that people pinned draws its money in the first year.
func (l *planLimits) ways(c course, j *Projected, o PlanOptions) []course {
	ways := []course{c}
	for k, s := range c.steps[:c.count] {
		treatment := j.Prospect.Treatments[s.treatment].Name
		d := l.delivery(treatment, j.Bridge.District)
		lead := 0
		if d.DoneBy == Contract {
			lead = d.LeadYears
		}
		if lead > int(s.year) {
			if j.decided(Pin) == nil {
				return nil
			}
			lead = int(s.year)
		}
		var next []course
		for _, w := range ways {
			w.leads[k] = int8(lead)
			next = append(next, w)
			for f := range l.funds {
				if l.open(f, treatment, j, int(s.year)-lead, o) {
					next = append(next, w.paidBy(k, f, &l.funds[f], j.Prospect))
				}
			}
		}
		ways = next
	}
	return ways
}

// open tells whether a fund may pay for a treatment with money of a year.
func (l *planLimits) open(fund int, treatment string, j *Projected, year int, o PlanOptions) bool {
	f := &l.funds[fund]
	if !f.pays(treatment, j.Bridge.Route) || f.LastYear != 0 && o.FirstYear+year > f.LastYear {
		return false
	}
	return l.account(limitKey{fund: f.Name, district: j.Bridge.District}) >= 0
}

// paidBy is the course with step k paid by a fund, whose engineering and
// inspection come on top.
func (c course) paidBy(k, fund int, f *Fund, p *Prospect) course {
	c.funds[k] = int8(fund + 1)
	c.charges[k] = f.withOverhead(c.charges[k])
	s := c.steps[k]
	c.cost += f.OverheadShare * p.OwnDollars[s.treatment] * math.Pow(1+p.terms.Rate, -float64(s.year)-0.5)
	return c
}

// withOverhead adds the fund's engineering and inspection to what a job costs.
func (f *Fund) withOverhead(cents int64) int64 {
	return int64(math.Round(float64(cents) * (1 + f.OverheadShare)))
}

// charge is what step k of a course costs, as the course had it, nominal.
func (p *Problem) charge(j *planJoint, c *outline, k int) int64 {
	cents := nominalCents(j.ownDollars[c.steps[k].treatment], p.rises[c.steps[k].year])
	if c.funds[k] > 0 {
		cents = p.limits.funds[c.funds[k]-1].withOverhead(cents)
	}
	return cents
}

// draw lists what a course draws: its money, in the year in which it is obligated,
// the job that it is of a contract, and the shifts of own crews in the year of the
// work.
func (l *planLimits) draw(c *course, j *Projected) []plan.Charge {
	var out []plan.Charge
	district := j.Bridge.District
	for k, s := range c.steps[:c.count] {
		year, lead := int16(s.year), int16(c.leads[k])
		t := j.Prospect.Treatments[s.treatment]
		d := l.delivery(t.Name, district)
		contract := l.contract(d, district)
		if contract.jobs >= 0 {
			out = append(out, plan.Charge{Cents: 1, Account: contract.jobs, Year: year, Lead: lead})
		}
		own := c.charges[k]
		if c.funds[k] > 0 {
			f := &l.funds[c.funds[k]-1]
			own = int64(math.Round(float64(c.charges[k]) * f.MatchShare))
			out = append(out, plan.Charge{Cents: c.charges[k] - own, Account: l.contractAccount(contract, limitKey{fund: f.Name, district: district}), Year: year, Lead: lead})
		}
		out = append(out, plan.Charge{Cents: own, Account: l.contractAccount(contract, limitKey{district: district}), Year: year, Lead: lead})
		if crews := l.account(limitKey{district: district, crew: true}); crews >= 0 && d.DoneBy == InHouse {
			shifts := l.tables.shifts(t, j.LengthFt)
			out = append(out, plan.Charge{Cents: int64(math.Ceil(shiftUnits*shifts - 1e-6)), Account: crews, Year: year})
		}
	}
	return out
}
