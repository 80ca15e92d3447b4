package forecast

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"reseal/forecast/money"
	"reseal/forecast/plan"
	"reseal/inventory/store"
)

// Choice is one thing that a plan could have done with a joint.
type Choice struct {
	Words         []string // treatments
	Years         []int    // fiscal, of each
	CostDollars   float64  // expected, with the visits that it alone causes, present value
	BudgetCents   int64    // nominal, without visits
	VisitCents    int64    // nominal, of the visits that it alone causes
	SharedWith    []string // tags of the bridge's other joints planned in one of its years
	PricedDollars float64  // CostDollars, and its money, shifts and targets at their prices
	Funds         []string // that pay for each; empty: own money
	Chosen        bool
	Contract      string // that it alone would leave under its least; empty: none
	Short         string // the first limit that it would exceed, and by how much; empty: none
}

// Explain lists a joint's choices, all other joints left as planned, by what they
// cost once each dollar of a tight year is priced at what it would save elsewhere,
// the cheapest first, at most so many besides the plan's own. Prices are those of
// the proven bound, averages over ways to spend a year's money: the plan may hold
// another choice than the first, where a limit stands in the way or the price alone
// makes the difference.
func (p *Problem) Explain(solved *Plan, tag string, most int) ([]Choice, error) {
	i, err := p.find(tag)
	if err != nil {
		return nil, err
	}
	in := &p.Instance
	e := explainer{p, solved, p.bridgeOf(i), solved.result.Choice[i], nil}
	e.others = e.otherJoints(i)
	broken := solved.result.BreaksContract(int32(i))
	chosen := e.draws(e.chosen)
	var all []Choice
	for o := in.FirstOption[i]; o < in.FirstOption[i+1]; o++ {
		choice := e.choice(&p.joints[i], o)
		if k, ok := broken[o]; ok {
			choice.Contract = p.limits.lets[k].name()
		}
		choice.Short = e.short(e.draws(o), chosen, o)
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

// About tells what people know or decided about a joint that bears on its plan.
func (p *Problem) About(tag string) (lines []string, err error) {
	i, err := p.find(tag)
	if err != nil {
		return nil, err
	}
	j := &p.joints[i]
	for _, d := range j.decided {
		lines = append(lines, fmt.Sprintf("%s, decided by %s on %s: %s", d.Words(), d.CreatedBy, d.CreatedAt[:min(10, len(d.CreatedAt))], d.Reason))
	}
	for _, f := range j.urgent {
		words := f.Kind
		if f.Urgency == severe {
			words = "severe finding, " + f.Kind
		}
		lines = append(lines, fmt.Sprintf("open since %s: %s: it needs an engineer's review now, whatever is planned; the plan knows wear and opening, not what was found", f.FoundOn, words))
	}
	if j.claimed {
		lines = append(lines, "to be claimed under warranty now: nothing is planned in the first year (see reseal claim)")
	}
	return lines, nil
}

func (p *Problem) find(tag string) (int, error) {
	i := slices.IndexFunc(p.joints, func(j planJoint) bool { return strings.EqualFold(j.Tag, tag) })
	if i < 0 {
		return 0, store.NotFound("see reseal forecast "+tag, "joint %s is not in the plan: it has no forecast or no length, or is not among the joints chosen", tag)
	}
	return i, nil
}

// bridgeOf is the number of a joint's bridge in the instance.
func (p *Problem) bridgeOf(joint int) int {
	b, found := slices.BinarySearch(p.Instance.FirstJoint, int32(joint))
	for found && p.Instance.FirstJoint[b+1] == int32(joint) {
		b++ // a bridge without joints
	}
	if !found {
		b--
	}
	return b
}

// explainer prices the choices of one joint with all others left as planned.
type explainer struct {
	*Problem
	solved *Plan
	bridge int
	chosen int32            // option
	others map[int][]string // tags of the bridge's other joints, by year worked in
}

func (e *explainer) otherJoints(joint int) map[int][]string {
	in, others := &e.Instance, map[int][]string{}
	for k := in.FirstJoint[e.bridge]; k < in.FirstJoint[e.bridge+1]; k++ {
		if int(k) == joint {
			continue
		}
		c := &e.courses[e.solved.result.Choice[k]]
		for _, s := range c.steps[:c.count] {
			others[int(s.year)] = append(others[int(s.year)], e.joints[k].Tag)
		}
	}
	return others
}

func (e *explainer) choice(j *planJoint, o int32) Choice {
	in, c := &e.Instance, &e.courses[o]
	choice := Choice{CostDollars: in.Cost[o], Chosen: e.chosen == o}
	for k, s := range c.steps[:c.count] {
		y := int(s.year)
		choice.Words = append(choice.Words, j.treatments[s.treatment].Name)
		choice.Funds = append(choice.Funds, e.limits.fundName(c.funds[k]))
		choice.Years = append(choice.Years, e.FirstYear+y)
		choice.BudgetCents += e.charge(j, c, k)
		if with := e.others[y]; len(with) > 0 {
			choice.SharedWith = append(choice.SharedWith, with...)
			continue
		}
		choice.CostDollars += in.VisitCost[e.bridge*in.Years+y]
		choice.VisitCents += in.VisitCents[e.bridge*in.Years+y]
	}
	slices.Sort(choice.SharedWith)
	choice.SharedWith = slices.Compact(choice.SharedWith)
	choice.PricedDollars = choice.CostDollars
	for at, cents := range e.draws(o) {
		choice.PricedDollars += float64(cents) / 100 * e.solved.result.Price[at.budget][at.year]
	}
	for k, t := range in.Targets {
		choice.PricedDollars += float64(t.Use[o]) * (t.Price + e.solved.result.Targets[k].Price)
	}
	return choice
}

// budgetYear is a budget in a year of the plan, from 0.
type budgetYear struct{ budget, year int }

// draws is the money and the shifts that an option uses, its own visits with it.
func (e *explainer) draws(o int32) map[budgetYear]int64 {
	in, c, out := &e.Instance, &e.courses[o], map[budgetYear]int64{}
	draw := func(account int32, year int, cents int64) {
		if account < 0 {
			return
		}
		for _, b := range in.Accounts[account] {
			out[budgetYear{int(b), year}] += cents
		}
	}
	for _, charge := range in.Charges[in.FirstCharge[o]:in.FirstCharge[o+1]] {
		draw(charge.Account, int(charge.Year-charge.Lead), charge.Cents)
	}
	for _, s := range c.steps[:c.count] {
		if y := int(s.year); len(e.others[y]) == 0 {
			draw(in.VisitAccount[e.bridge], y, in.VisitCents[e.bridge*in.Years+y])
		}
	}
	return out
}

// short names the first limit that an option would exceed in place of the chosen
// one, and by how much.
func (e *explainer) short(draws, chosen map[budgetYear]int64, o int32) string {
	in, r := &e.Instance, e.solved.result
	for b := range in.Budgets {
		more := int64(0)
		for y := range in.Years {
			at := budgetYear{b, y}
			if !in.Budgets[b].CarryOver {
				more = 0
			}
			more += draws[at] - chosen[at]
			over := more - r.Left[b][y]
			switch {
			case r.Left[b][y] == plan.NoLimit || more <= 0 || over <= 0:
			case e.limits.keys[b].crew:
				return fmt.Sprintf("%s %d is %.1f shifts short", e.limits.names[b], e.FirstYear+y, math.Ceil(10*float64(over)/shiftUnits)/10)
			default:
				return fmt.Sprintf("%s %d is %s short", e.limits.names[b], e.FirstYear+y, money.FormatDollars(over))
			}
		}
	}
	for k, t := range r.Targets {
		if in.Targets[k].Use[o] > in.Targets[k].Use[e.chosen] && t.Value-int64(in.Targets[k].Use[e.chosen])+int64(in.Targets[k].Use[o]) > t.Cap {
			return "target: " + e.targets[k].Words()
		}
	}
	return e.closed(o)
}

// closed names the route and year whose closures are used up where an option would
// need one more.
func (e *explainer) closed(o int32) string {
	in, c, now := &e.Instance, &e.courses[o], &e.courses[e.chosen]
	for k, closure := range in.Closures {
		if closure.Route != in.Route[e.bridge] {
			continue
		}
		for _, s := range c.steps[:c.count] {
			y := int(s.year)
			visited := len(e.others[y]) > 0 || slices.ContainsFunc(now.steps[:now.count], func(s step) bool { return int(s.year) == y })
			if !visited && closure.Limit[y] != plan.NoLimit && e.solved.result.Closures[k][y] >= closure.Limit[y] {
				return fmt.Sprintf("closures of %s %d are used up", closure.Name, e.FirstYear+y)
			}
		}
	}
	return ""
}
