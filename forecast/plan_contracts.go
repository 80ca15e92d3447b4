package forecast

import (
	"fmt"
	"slices"
	"strings"

	"reseal/forecast/money"
	"reseal/forecast/plan"
)

// let is the work of a row of deliveries in a district that has a least: what is
// obligated for it in a year comes to that, or to nothing.
type let struct {
	delivery Delivery
	district string
	money    int   // the part of the instance's contract; -1: no least money
	jobs     int32 // account that counts its jobs; -1: no least jobs
	number   int   // of the instance's contract
}

// none is work that no least holds.
var none = &let{money: -1, jobs: -1}

// contract is the least that a delivery in a district is held to.
func (l *planLimits) contract(d Delivery, district string) *let {
	if d.DoneBy != Contract || d.MinimumCents == 0 && d.LeastJobs == 0 {
		return none
	}
	at := slices.IndexFunc(l.lets, func(c *let) bool { return c.delivery.Name == d.Name && c.district == district })
	if at >= 0 {
		return l.lets[at]
	}
	c := &let{delivery: d, district: district, money: -1, jobs: -1, number: len(l.in.Contracts)}
	out := plan.Contract{Name: c.name()}
	if d.MinimumCents > 0 {
		c.money = len(out.Parts)
		out.Parts = append(out.Parts, plan.ContractPart{Least: d.MinimumCents})
	}
	if d.LeastJobs > 0 {
		c.jobs = l.account(limitKey{district: district, contract: d.Name, jobs: true})
		out.Parts = append(out.Parts, plan.ContractPart{Accounts: []int32{c.jobs}, Least: int64(d.LeastJobs)})
	}
	l.lets = append(l.lets, c)
	l.in.Contracts = append(l.in.Contracts, out)
	return c
}

// contractAccount is the account of some money which counts in a contract besides.
func (l *planLimits) contractAccount(c *let, k limitKey) int32 {
	if c.money < 0 {
		return l.account(k)
	}
	k.contract = c.delivery.Name
	a := l.account(k)
	part := &l.in.Contracts[c.number].Parts[c.money]
	if !slices.Contains(part.Accounts, a) {
		part.Accounts = append(part.Accounts, a)
	}
	return a
}

// name is what a contract is called in answers.
func (c *let) name() string {
	return fmt.Sprintf("contract %q, district %s", c.delivery.Name, c.district)
}

// SizedContract is the work by contract of a district that is obligated in a year
// and whose size is outside what its row of deliveries asks. A plan keeps the least
// money and the least jobs unless people's decisions forbid it; where the jobs are
// more than one contract holds, people let several.
type SizedContract struct {
	District string
	Year     int // fiscal, of the obligation
	Cents    int64
	Jobs     int
	Delivery Delivery // what it is asked to be
}

// Small tells whether the contract is under its least money, or its least jobs.
func (s *SizedContract) Small() (money, jobs bool) {
	return s.Cents < s.Delivery.MinimumCents, s.Jobs < s.Delivery.LeastJobs
}

// Contracts is how many contracts the jobs make.
func (s *SizedContract) Contracts() int {
	if s.Delivery.MostJobs == 0 {
		return 1
	}
	return (s.Jobs + s.Delivery.MostJobs - 1) / s.Delivery.MostJobs
}

// contracted adds up the work by contract that has a least or a most, bridge visits
// left aside.
func (l *planLimits) contracted(items []PlanItem) (out []SizedContract) {
	for _, i := range items {
		d := l.delivery(i.Treatment, i.District)
		if d.DoneBy != Contract || d.MinimumCents == 0 && d.LeastJobs == 0 && d.MostJobs == 0 {
			continue
		}
		at := slices.IndexFunc(out, func(s SizedContract) bool {
			return s.Delivery.Name == d.Name && s.District == i.District && s.Year == i.PaidYear
		})
		if at < 0 {
			at = len(out)
			out = append(out, SizedContract{District: i.District, Year: i.PaidYear, Delivery: d})
		}
		out[at].Cents += i.CostCents
		out[at].Jobs++
	}
	return out
}

// sized are the contracts outside their size.
func (l *planLimits) sized(items []PlanItem) []SizedContract {
	return slices.DeleteFunc(l.contracted(items), func(s SizedContract) bool {
		money, jobs := s.Small()
		return !money && !jobs && s.Contracts() == 1
	})
}

// heldContracts lists what each contract that is let comes to, beside its least.
func (p *Problem) heldContracts(items []PlanItem) (out []HeldTo) {
	for _, s := range p.limits.contracted(items) {
		what := p.limits.contract(s.Delivery, s.District)
		if s.Delivery.MinimumCents > 0 {
			out = append(out, HeldTo{What: what.name(), Year: s.Year, Unit: "$", Most: -1, Least: float64(s.Delivery.MinimumCents) / 100, Used: float64(s.Cents) / 100})
		}
		if s.Delivery.LeastJobs > 0 {
			out = append(out, HeldTo{What: what.name(), Year: s.Year, Unit: "jobs", Most: -1, Least: float64(s.Delivery.LeastJobs), Used: float64(s.Jobs)})
		}
	}
	return out
}

// small says which contracts the plan that comes nearest lets for less than their
// least, and what would mend it.
func (p *Problem) small(s *plan.Shortfall) (words []string) {
	for _, b := range s.Contracts {
		c, parts := p.limits.lets[b.Contract], []string{}
		for k, part := range p.Instance.Contracts[b.Contract].Parts {
			switch {
			case b.Used[k] >= part.Least:
			case k == c.money:
				parts = append(parts, fmt.Sprintf("%s of %s", money.FormatDollars(b.Used[k]), money.FormatDollars(part.Least)))
			default:
				parts = append(parts, fmt.Sprintf("%d of %d jobs", b.Used[k], part.Least))
			}
		}
		words = append(words, fmt.Sprintf("%s, obligated in %d, comes to %s that it must hold, and decisions keep it from being put off: pin more of its work into that year, take a pin out, or lower its least in the table deliveries",
			c.name(), p.FirstYear+b.Year, strings.Join(parts, " and ")))
	}
	return words
}
