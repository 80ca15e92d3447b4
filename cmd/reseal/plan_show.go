package main

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/forecast"
	"reseal/forecast/money"
)

func planYears(c *cli.Context, w world, p *forecast.Problem, solved *forecast.Plan) error {
	out, err := newRows(c, w.out, column{name: "budget", heading: "budget", shrink: true}, column{name: "year", heading: "year"},
		column{name: "jobs", heading: "jobs"}, column{name: "limit_nominal_usd", heading: "money"}, column{name: "used_nominal_usd", heading: "used"},
		column{name: "left_nominal_usd", heading: "left"}, column{name: "price_of_a_dollar", heading: "one more dollar saves"})
	if err != nil {
		return err
	}
	type budgetYear struct {
		budget string
		year   int
	}
	jobs := map[budgetYear]int{}
	for _, i := range solved.Items {
		jobs[budgetYear{forecast.NetworkBudget, i.Year}]++
		jobs[budgetYear{i.District, i.Year}]++
		if i.Fund != "" {
			jobs[budgetYear{"fund " + i.Fund, i.Year}]++
			jobs[budgetYear{"fund " + i.Fund + ", district " + i.District, i.Year}]++
		}
	}
	for _, y := range solved.Years {
		var limit, left any
		if y.LimitCents >= 0 {
			limit, left = cents(y.LimitCents), cents(y.LimitCents-y.SpentCents)
		}
		name := y.Budget
		if name != forecast.NetworkBudget && !strings.HasPrefix(name, "fund ") && out.format == "table" {
			name = "district " + name
		}
		var price any // of a plan that breaks limits it means nothing
		if solved.Shortfall == nil {
			price = part(y.Price)
		}
		if err := out.add(name, y.Year, jobs[budgetYear{y.Budget, y.Year}], limit, cents(y.SpentCents), left, price); err != nil {
			return err
		}
	}
	if err := out.close(); err != nil || out.format != "table" {
		return err
	}
	if len(solved.Held) > 0 {
		fmt.Fprintln(w.out)
		if err := planLimits(c, w, solved); err != nil {
			return err
		}
	}
	if solved.Shortfall != nil {
		fmt.Fprintln(w.out, "\nNO PLAN keeps every limit: this one comes nearest; see the end")
		return nil
	}
	fmt.Fprintf(w.out, `
present values in constant dollars of %d, for ever:
  this plan      %16s
  any plan       %16s or more: this one is within %.3f %% of the best,
                                  %.3f %% of the most that can be saved
  doing nothing  %16s until the end of %d
%s among %d joints; %.1f joints expected to have failed at the end of %d;
%s with work in two years running
`, p.PriceYear, money.FormatDollars(int64(100*solved.CostDollars)), money.FormatDollars(int64(100*solved.BoundDollars)), solved.GapPct,
		solved.SavingGapPct, money.FormatDollars(int64(100*solved.IdleDollars)), solved.FirstYear+p.Instance.Years-1, plural(len(solved.Items), "job"), p.Joints, solved.FailedEnd,
		solved.FirstYear+p.Instance.Years-1, plural(solved.SplitSeasons(), "bridge"))
	if solved.TargetDollars > 0 {
		fmt.Fprintf(w.out, "of this plan and any plan, the price set on targets is %s\n", money.FormatDollars(int64(100*solved.TargetDollars)))
	}
	return nil
}

// planLimits prints what a plan is held to besides money.
func planLimits(c *cli.Context, w world, solved *forecast.Plan) error {
	least := column{name: "least"}
	if slices.ContainsFunc(solved.Held, func(h forecast.HeldTo) bool { return h.Least > 0 }) {
		least.heading = "at least"
	}
	out, err := newRows(c, w.out, column{name: "limit", heading: "held to"}, column{name: "year", heading: "year"},
		column{name: "most", heading: "at most"}, least, column{name: "used", heading: "comes to"}, column{name: "unit", heading: "of"},
		column{name: "one_more_saves_present_usd", heading: "one more saves"})
	if err != nil {
		return err
	}
	for _, h := range solved.Held {
		var most, least, price any
		if h.Least > 0 {
			least = part(h.Least)
		}
		if h.Most >= 0 {
			most = part(h.Most)
		}
		if h.Price > 0 && solved.Shortfall == nil {
			price = dollars(h.Price)
		}
		if err := out.add(h.What, h.Year, most, least, math.Round(1e2*h.Used)/1e2, h.Unit, price); err != nil {
			return err
		}
	}
	return out.close()
}

// planClosures prints the bridges that can share a closure.
func planClosures(c *cli.Context, w world, t *forecast.Tables, closures []forecast.Closure) error {
	out, err := newRows(c, w.out, column{name: "year", heading: "year"}, column{name: "route", heading: "route"}, column{name: "from_mile", heading: "from mile"},
		column{name: "to_mile", heading: "to mile"}, column{name: "joints", heading: "joints"}, column{name: "saving_nominal_usd", heading: "could save"},
		column{name: "bridges", heading: "bridges", shrink: true})
	if err != nil {
		return err
	}
	sum := int64(0)
	for _, k := range closures {
		sum += k.SavingCents
		if err := out.add(k.Year, k.Route, k.FromMile, k.ToMile, k.Joints, cents(k.SavingCents), strings.Join(k.Structures, " ")); err != nil {
			return err
		}
	}
	if err := out.close(); err != nil {
		return err
	}
	notes(c, w, fmt.Sprintf("%s within %g miles could save %s, nominal, if each visit in the closure of a dearer one costs %.0f %% less (settings closure_miles and closure_saving_share, illustrative until set). The plan does not count it.",
		plural(len(closures), "closure"), t.Settings.ClosureMiles, money.FormatDollars(sum), 100*t.Settings.ClosureSavingShare))
	return nil
}

// freshSeals names the nearly new seals that a plan renews, a few of each reason.
func freshSeals(solved *forecast.Plan) (lines []string) {
	const most = 6
	fresh := solved.Fresh()
	for _, why := range slices.Sorted(maps.Keys(fresh)) {
		tags := fresh[why]
		more := ""
		if len(tags) > most {
			tags, more = tags[:most], fmt.Sprintf(" and %d more", len(tags)-most)
		}
		hint := "look at their inspections"
		if why == forecast.WhyOpening {
			hint = "the seal put in does not fit its gap: see reseal gap JOINT --seal"
		}
		lines = append(lines, fmt.Sprintf("renewed though nearly new, by %s: %s%s; %s", why, strings.Join(tags, ", "), more, hint))
	}
	return lines
}

// sizedContracts says which contracts of a plan are outside their size.
func sizedContracts(solved *forecast.Plan) (lines []string) {
	for _, s := range solved.Sized {
		d := &s.Delivery
		work := fmt.Sprintf("%s of district %s obligated in %d", cmp.Or(d.Treatment, "contracts"), s.District, s.Year)
		cents, jobs := s.Small()
		if cents {
			lines = append(lines, fmt.Sprintf("under the minimum: %s come to %s, and %s is the least that is let (%s)",
				work, money.FormatDollars(s.Cents), money.FormatDollars(d.MinimumCents), d.Name))
		}
		if jobs {
			lines = append(lines, fmt.Sprintf("under the least jobs: %s come to %s, and a contract holds at least %d (%s)", work, plural(s.Jobs, "job"), d.LeastJobs, d.Name))
		}
		if n := s.Contracts(); n > 1 {
			lines = append(lines, fmt.Sprintf("more than one contract: %s come to %s, and one holds at most %d: let %d (%s)", work, plural(s.Jobs, "job"), d.MostJobs, n, d.Name))
		}
	}
	return lines
}

func planItems(c *cli.Context, w world, solved *forecast.Plan) error {
	fund, doneBy, paid, nights := column{name: "fund", shrink: true}, column{name: "done_by"}, column{name: "paid_year"}, column{name: "nights"}
	for _, i := range solved.Items { // a table has them only where they tell something
		if i.Fund != "" {
			fund.heading = "fund"
		}
		if i.DoneBy == forecast.Contract {
			doneBy.heading, paid.heading = "by", "paid"
		}
		if i.Nights > 1 {
			nights.heading = "nights"
		}
	}
	out, err := newRows(c, w.out, column{name: "year", heading: "year"}, column{name: "district", heading: "dist.", shrink: true},
		column{name: "structure_number", heading: "bridge", shrink: true}, column{name: "route", heading: "route", shrink: true},
		column{name: "tag", heading: "joint"}, column{name: "seal_kind", heading: "seal", shrink: true},
		column{name: "treatment", heading: "treatment", shrink: true}, column{name: "cost_nominal_usd", heading: "cost without visit"},
		column{name: "why", heading: "why"}, fund, doneBy, paid, column{name: "install_months"}, nights)
	if err != nil {
		return err
	}
	for _, i := range solved.Items {
		if err := out.add(i.Year, i.District, i.StructureNumber, i.Route, i.Tag, i.Kind, i.Treatment, cents(i.CostCents), i.Why, i.Fund, i.DoneBy, i.PaidYear, i.Months, i.Nights); err != nil {
			return err
		}
	}
	if err := out.close(); err != nil {
		return err
	}
	notes(c, w, seasonNotes(solved)...)
	return nil
}

// seasonNotes say in which months the plan's new seals are installed.
func seasonNotes(solved *forecast.Plan) (lines []string) {
	kinds := map[string][]string{} // by their months
	for _, i := range solved.Items {
		if i.Months != "" && !slices.Contains(kinds[i.Months], i.NewKind) {
			kinds[i.Months] = append(kinds[i.Months], i.NewKind)
		}
	}
	for _, months := range slices.Sorted(maps.Keys(kinds)) {
		slices.Sort(kinds[months])
		lines = append(lines, fmt.Sprintf("install %s in %s: reseal settings table list seasons", strings.Join(kinds[months], ", "), months))
	}
	return lines
}
