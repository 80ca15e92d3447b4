package forecast

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"reseal/forecast/money"
	"reseal/forecast/plan"
)

// HeldTo is a limit of a plan that is not a budget: the shifts of crews or the
// closures of a route in a year, a target, or the least of a contract that is let.
type HeldTo struct {
	What  string
	Year  int // fiscal
	Unit  string
	Most  float64 // below 0: no limit
	Least float64 // of a contract; 0: none
	Used  float64
	Price float64 // what one more of the unit saves, present value; of a share, one more per cent. 0 for closures: not known
}

// held lists the limits other than money, and the part of the plan's cost that
// is the price set on targets.
func (p *Problem) held(r *plan.Result) (out []HeldTo, targetDollars float64) {
	in := &p.Instance
	for b, name := range p.limits.names {
		for y := range in.Years {
			if p.limits.keys[b].crew && r.Left[b][y] != plan.NoLimit {
				most := float64(r.Spent[b][y] + r.Left[b][y])
				out = append(out, HeldTo{What: name, Year: p.FirstYear + y, Unit: "shifts", Most: most / shiftUnits, Used: float64(r.Spent[b][y]) / shiftUnits, Price: r.Price[b][y] * shiftUnits / 100})
			}
		}
	}
	for k, c := range in.Closures {
		for y, most := range c.Limit {
			if most != plan.NoLimit {
				out = append(out, HeldTo{What: "closures of " + c.Name, Year: p.FirstYear + y, Unit: "visits", Most: float64(most), Used: float64(r.Closures[k][y])})
			}
		}
	}
	for k, t := range r.Targets {
		of := p.targets[k]
		h := HeldTo{What: "joints failed, end of year", Year: of.Year, Unit: "joints", Most: of.Most, Used: float64(t.Value) / jointUnits, Price: t.Price * jointUnits}
		if of.What == TargetCS4 {
			whole := p.inUnits(of, 1)
			h.What = "in CS4, end of year"
			h.Unit, h.Most, h.Used, h.Price = "% of length", 100*of.Most, 100*float64(t.Value)/whole, t.Price*whole/100
		}
		h.Most = max(h.Most, -1)
		out = append(out, h)
		targetDollars += t.Charged
	}
	return out, targetDollars
}

// fundName names the fund of a course's step; empty is own money.
func (l *planLimits) fundName(fund int8) string {
	if fund == 0 {
		return ""
	}
	return l.funds[fund-1].Name
}

// missing says which limits no plan was found to keep at a share of every budget,
// and the least money at which one was.
func (p *Problem) missing(s *plan.Shortfall, share float64) string {
	var words []string
	for _, t := range s.Targets {
		of := p.targets[t.Target]
		value := func(units int64) string {
			if of.What == TargetCS4 {
				return fmt.Sprintf("%.2f %%", 100*float64(units)/p.inUnits(of, 1))
			}
			return fmt.Sprintf("%.1f", float64(units)/jointUnits)
		}
		if t.Least < 0 { // pins and holds alone are too much
			continue
		}
		words = append(words, fmt.Sprintf("%s: at most %s is asked, and the money allows %s at the least", of.Words(), value(t.Cap), value(t.Least)))
	}
	if len(words) == 0 {
		words = append(p.over(s), p.small(s)...)
	}
	if s.Enough > 0 {
		words = append(words, p.enough(s.Enough*share))
	} else {
		words = append(words, "no money alone mends it: change targets, decisions, closures or crews")
	}
	proof := "none was found that keeps every limit: "
	if s.Proved {
		proof = "none keeps every limit, as is proved: "
	}
	return proof + strings.Join(words, "; ")
}

// over lists the budgets that the plan which comes nearest exceeds.
func (p *Problem) over(s *plan.Shortfall) (words []string) {
	for b, years := range s.OverCents {
		for y, over := range years {
			switch {
			case over == 0:
			case len(words) == 5:
				return append(words, "and more")
			case p.limits.keys[b].crew:
				words = append(words, fmt.Sprintf("%s %d is %.1f shifts short", p.limits.names[b], p.FirstYear+y, float64(over)/shiftUnits))
			default:
				words = append(words, fmt.Sprintf("%s %d is %s short", p.limits.names[b], p.FirstYear+y, money.FormatDollars(over)))
			}
		}
	}
	return words
}

// enough says the least money at which a plan was found, as a multiple of every
// budget and what that is of own money.
func (p *Problem) enough(times float64) string {
	first, least := -1, int64(0)
	for y, cents := range p.Instance.Budgets[0].Cents {
		if cents != plan.NoLimit {
			if first < 0 {
				first = y
			}
			least += int64(math.Round(times * float64(cents)))
		}
	}
	every := "every budget"
	if slices.ContainsFunc(p.limits.keys, func(k limitKey) bool { return k.crew }) {
		every = "every budget and crew"
	}
	words := fmt.Sprintf("%.2f times %s would do", times, every)
	if first >= 0 {
		words += fmt.Sprintf(", %s in %d and %s in all years for the network", money.FormatDollars(int64(math.Round(times*float64(p.Instance.Budgets[0].Cents[first])))), p.FirstYear+first, money.FormatDollars(least))
	}
	return words
}
