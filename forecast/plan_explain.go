package forecast

import (
	"cmp"
	"slices"
	"strings"

	"reseal/inventory/store"
)

// Choice is one thing that a plan could have done with a joint.
type Choice struct {
	Words         []string // treatments
	Years         []int    // fiscal, of each
	CostDollars   float64  // expected, without the visit, present value
	BudgetCents   int64    // nominal, without the visit
	PricedDollars float64  // CostDollars, and its money and shifts at each year's price
	Funds         []string // that pay for each; empty: own money
	Chosen        bool
	Contract      string // that it alone would leave under its least; empty: none
}

// Explain lists a joint's choices by what they cost once each dollar of a tight
// year is priced at what it would save elsewhere, the cheapest first, at most
// so many besides the plan's own. The plan may still hold another than the
// first: visits are shared, and prices are those of the proven bound.
func (p *Problem) Explain(solved *Plan, tag string, most int) ([]Choice, error) {
	i := slices.IndexFunc(p.joints, func(j planJoint) bool { return strings.EqualFold(j.Tag, tag) })
	if i < 0 {
		return nil, store.NotFound("see reseal forecast "+tag, "joint %s is not in the plan: it has no forecast, or is not among the joints chosen", tag)
	}
	in, j := &p.Instance, &p.joints[i]
	var all []Choice
	broken := solved.result.BreaksContract(int32(i))
	for o := in.FirstOption[i]; o < in.FirstOption[i+1]; o++ {
		c := &p.courses[o]
		choice := Choice{CostDollars: in.Cost[o], PricedDollars: in.Cost[o], Chosen: solved.result.Choice[i] == o}
		for k, s := range c.steps[:c.count] {
			choice.Words = append(choice.Words, j.treatments[s.treatment].Name)
			choice.Funds = append(choice.Funds, p.limits.fundName(c.funds[k]))
			choice.Years = append(choice.Years, p.FirstYear+int(s.year))
			choice.BudgetCents += p.charge(j, c, k)
		}
		for _, charge := range in.Charges[in.FirstCharge[o]:in.FirstCharge[o+1]] {
			if charge.Account < 0 {
				continue
			}
			for _, b := range in.Accounts[charge.Account] {
				choice.PricedDollars += float64(charge.Cents) / 100 * solved.result.Price[b][charge.Year-charge.Lead]
			}
		}
		if k, ok := broken[o]; ok {
			choice.Contract = p.limits.lets[k].name()
		}
		all = append(all, choice)
	}
	slices.SortStableFunc(all, func(a, b Choice) int { return cmp.Compare(a.PricedDollars, b.PricedDollars) })
	var out []Choice
	for _, c := range all {
		if len(out) < most || c.Chosen || len(c.Words) == 0 {
			out = append(out, c)
		}
	}
	return out, nil
}
