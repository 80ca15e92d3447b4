package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/forecast"
	"reseal/forecast/money"
	"reseal/forecast/plan"
	"reseal/inventory/store"
)

func planCommand(w world) *cli.Command {
	return &cli.Command{
		Name: "plan", Usage: "choose what to do in which year under the budget",
		Description: `Chooses for every joint a treatment and year, or none, so that the network's expected
cost is least within each year's money, and says how far from the best possible
plan it can be. What people decided (see reseal decide) is obeyed; committed deck
and bridge projects renew their joints in their year at no cost to these budgets.

Money is nominal, from the table budgets (reseal settings table import budgets
FILE) or --yearly. Costs are present values in constant dollars. The price of a
dollar is what one more dollar of the year saves, in present value. All years are
fiscal years.

--explain JOINT tells why a joint is in the plan or not, and when.

example: reseal plan --yearly 2,000,000 --years 10 --name draft
example: reseal plan --explain J000123
example: reseal plan --compare draft,less`,
		Flags: append(whereFlags(),
			&cli.IntFlag{Name: "from", Usage: "the first fiscal `YEAR`; next year if not given"},
			&cli.IntFlag{Name: "years", Value: 10, Usage: "how `MANY` years, at most 30"},
			&cli.StringFlag{Name: "yearly", Usage: "nominal `DOLLARS` of each year, in place of the table budgets"},
			&cli.StringFlag{Name: "name", Usage: "keep the plan under this `NAME`"},
			&cli.StringFlag{Name: "compare", Usage: "two kept plans side by side: `A,B`"},
			&cli.StringFlag{Name: "explain", Usage: "why this `JOINT` is in or not, and when"},
			&cli.StringFlag{Name: "lp", Usage: "write the instance as an LP file to `FILE`, or - for stdout, and stop"},
			&cli.BoolFlag{Name: "joints", Usage: "one row a treatment in place of the years"},
			&cli.StringFlag{Name: "as-of", Usage: "as seen on this `DATE`; today if not given"},
			dryRunFlag, formatFlag),
		Action: func(c *cli.Context) error {
			if c.Args().Present() {
				return usagef("plan takes no argument; choose joints with its flags")
			}
			if c.String("compare") != "" {
				return comparePlans(c, w)
			}
			return makePlan(c, w)
		},
	}
}

// problem reads the flags that plan and budget share.
func problem(c *cli.Context, s *store.Store, m *forecast.Model, options forecast.Options) (*forecast.Problem, error) {
	o := forecast.PlanOptions{Options: options, FirstYear: c.Int("from"), Years: c.Int("years")}
	if o.FirstYear == 0 {
		o.FirstYear = m.YearOf(o.AsOf) + 1
	}
	if text := c.String("yearly"); text != "" {
		var err error
		if o.YearlyCents, err = money.Parse(text); err != nil || o.YearlyCents <= 0 {
			return nil, usagef("--yearly is dollars over 0, for example 2000000, not %q", text)
		}
	}
	return m.NewProblem(c.Context, s.Read(), o)
}

func makePlan(c *cli.Context, w world) error {
	return projecting(c, w, func(s *store.Store, m *forecast.Model, t *forecast.Tables, o forecast.Options) error {
		p, err := problem(c, s, m, o)
		if err != nil {
			return err
		}
		if file := c.String("lp"); file != "" {
			return writeLP(w, p, file)
		}
		solved, failed := p.Solve(c.Context)
		if failed != nil && !errors.Is(failed, plan.ErrInfeasible) {
			return failed
		}
		switch {
		case c.String("explain") != "":
			err = explain(c, w, p, solved)
		case c.Bool("joints"):
			err = planItems(c, w, solved)
		default:
			err = planYears(c, w, p, solved)
		}
		if err != nil {
			return err
		}
		if name := c.String("name"); name != "" && failed == nil {
			update := s.Update
			if c.Bool("dry-run") {
				update = s.Try
			}
			err := update(c.Context, actor(c), func(ctx context.Context, tx *store.Tx) error { return solved.Keep(ctx, tx, name) })
			if err := done(c, w, err, "kept as %q", name); err != nil {
				return err
			}
		}
		notes(c, w, noForecast(p.NoForecast, p.NoLength)...)
		notes(c, w, fmt.Sprintf("constant dollars are discounted at a real %.3g %% a year; prices rise %.3g %% a year.",
			100*t.Settings.RealDiscountRate, 100*t.Settings.PriceGrowth), illustrativeNote(p.Illustrative, "life_table", "treatments", "consequences"))
		fmt.Fprintln(w.err, caution)
		if failed != nil {
			return fmt.Errorf("%w: %s", failed, solved.Shortfall)
		}
		return nil
	})
}

// planProgress says how near to the best the search for a plan has come.
func planProgress(gapPct float64) string {
	if math.IsNaN(gapPct) {
		return "looking for a plan"
	}
	return fmt.Sprintf("looking for a plan: within %.2f %% of the best", gapPct)
}

func writeLP(w world, p *forecast.Problem, file string) error {
	write := func(out io.Writer) error {
		b := bufio.NewWriterSize(out, 1<<16)
		if err := plan.WriteLP(b, &p.Instance); err != nil {
			return err
		}
		return b.Flush()
	}
	if file == "-" {
		return write(w.out)
	}
	f, err := newWholeFile(file)
	if err != nil {
		return err
	}
	defer f.discard()
	if err := write(f); err != nil {
		return err
	}
	return f.keep()
}

func planYears(c *cli.Context, w world, p *forecast.Problem, solved *forecast.Plan) error {
	out, err := newRows(c, w.out, column{name: "budget", heading: "budget", shrink: true}, column{name: "year", heading: "year"},
		column{name: "jobs", heading: "jobs"}, column{name: "limit_nominal_usd", heading: "money"}, column{name: "used_nominal_usd", heading: "used"},
		column{name: "left_nominal_usd", heading: "left"}, column{name: "price_of_a_dollar", heading: "one more dollar saves"})
	if err != nil {
		return err
	}
	jobs := map[string]int{}
	for _, i := range solved.Items {
		jobs[i.District+" "+strconv.Itoa(i.Year)]++
		jobs["network "+strconv.Itoa(i.Year)]++
	}
	for _, y := range solved.Years {
		var limit, left any
		if y.LimitCents >= 0 {
			limit, left = cents(y.LimitCents), cents(y.LimitCents-y.SpentCents)
		}
		name := y.Budget
		if name != "network" && out.format == "table" {
			name = "district " + name
		}
		if err := out.add(name, y.Year, jobs[y.Budget+" "+strconv.Itoa(y.Year)], limit, cents(y.SpentCents), left, part(y.Price)); err != nil {
			return err
		}
	}
	if err := out.close(); err != nil || out.format != "table" {
		return err
	}
	fmt.Fprintf(w.out, `
present values in constant dollars of %d, for ever:
  this plan      %16s
  any plan       %16s or more: this one is within %.3f %% of the best,
                                  %.3f %% of the most that can be saved
  doing nothing  %16s
%s at %d joints; %.1f joints expected to have failed at the end of %d;
%s with work in two years running
`, p.PriceYear, money.FormatDollars(int64(100*solved.CostDollars)), money.FormatDollars(int64(100*solved.BoundDollars)), solved.GapPct,
		solved.SavingGapPct, money.FormatDollars(int64(100*solved.IdleDollars)), plural(len(solved.Items), "job"), p.Joints, solved.FailedEnd,
		solved.FirstYear+p.Instance.Years-1, plural(solved.SplitSeasons(), "bridge"))
	return nil
}

func planItems(c *cli.Context, w world, solved *forecast.Plan) error {
	out, err := newRows(c, w.out, column{name: "year", heading: "year"}, column{name: "district", heading: "dist.", shrink: true},
		column{name: "structure_number", heading: "bridge", shrink: true}, column{name: "route", heading: "route", shrink: true},
		column{name: "tag", heading: "joint"}, column{name: "seal_kind", heading: "seal", shrink: true},
		column{name: "treatment", heading: "treatment", shrink: true}, column{name: "cost_nominal_usd", heading: "cost without visit"})
	if err != nil {
		return err
	}
	for _, i := range solved.Items {
		if err := out.add(i.Year, i.District, i.StructureNumber, i.Route, i.Tag, i.Kind, i.Treatment, cents(i.CostCents)); err != nil {
			return err
		}
	}
	return out.close()
}

// choicesShown is how many choices --explain lists besides the plan's own.
const choicesShown = 8

func explain(c *cli.Context, w world, p *forecast.Problem, solved *forecast.Plan) error {
	choices, err := p.Explain(solved, c.String("explain"), choicesShown)
	if err != nil {
		return err
	}
	out, err := newRows(c, w.out, column{name: "chosen", heading: "in the plan"}, column{name: "what", heading: "what", shrink: true},
		column{name: "expected_cost_usd", heading: "expected cost"}, column{name: "budget_nominal_usd", heading: "budget money"},
		column{name: "priced_usd", heading: "with money priced"})
	if err != nil {
		return err
	}
	for _, choice := range choices {
		words := "nothing within the horizon"
		for k, word := range choice.Words {
			if k == 0 {
				words = ""
			} else {
				words += ", then "
			}
			words += word + " " + strconv.Itoa(choice.Years[k])
		}
		if err := out.add(choice.Chosen, words, dollars(choice.CostDollars), cents(choice.BudgetCents), dollars(choice.PricedDollars)); err != nil {
			return err
		}
	}
	if err := out.close(); err != nil || out.format != "table" {
		return err
	}
	fmt.Fprintln(w.out, "\nexpected cost: for ever, present value in constant dollars, without bridge visits within the\n"+
		"horizon. with money priced: plus its budget money at what a dollar of that year saves elsewhere.\nThe plan takes what is least once bridge visits are added and shared.")
	return nil
}

func comparePlans(c *cli.Context, w world) error {
	names := strings.Split(c.String("compare"), ",")
	if len(names) != 2 {
		return usagef("--compare takes two names: A,B")
	}
	return reading(c, w, func(s *store.Store) error {
		var plans [2]*forecast.Plan
		for i, name := range names {
			var err error
			if plans[i], err = forecast.KeptPlan(c.Context, s.Read(), strings.TrimSpace(name)); err != nil {
				return err
			}
		}
		moves := forecast.Moves(plans[0], plans[1])
		out, err := newRows(c, w.out, column{name: "joint", heading: "joint"}, column{name: "structure_number", heading: "bridge", shrink: true},
			column{name: "district", heading: "dist."}, column{name: "year_a", heading: names[0]}, column{name: "treatment_a", heading: "treatment", shrink: true},
			column{name: "year_b", heading: names[1]}, column{name: "treatment_b", heading: "treatment", shrink: true})
		if err != nil {
			return err
		}
		if out.format == "table" {
			compareYears(w, names, plans)
		}
		for _, m := range moves {
			if err := out.add(m.Tag, m.StructureNumber, m.District, yearOrNil(m.YearA), m.TreatmentA, yearOrNil(m.YearB), m.TreatmentB); err != nil {
				return err
			}
		}
		return out.close()
	})
}

// compareYears prints both plans' money and cost above the joints that moved.
func compareYears(w world, names []string, plans [2]*forecast.Plan) {
	spent := [2]map[int]int64{{}, {}}
	last := 0
	for i, p := range plans {
		for _, y := range p.Years {
			if y.Budget == "network" {
				spent[i][y.Year] = y.SpentCents
				last = max(last, y.Year)
			}
		}
	}
	fmt.Fprintf(w.out, "%-6s  %16s  %16s\n", "used", names[0], names[1])
	for y := min(plans[0].FirstYear, plans[1].FirstYear); y <= last; y++ {
		fmt.Fprintf(w.out, "%-6d  %16s  %16s\n", y, money.FormatDollars(spent[0][y]), money.FormatDollars(spent[1][y]))
	}
	fmt.Fprintf(w.out, "%-6s  %16s  %16s\n", "jobs", strconv.Itoa(len(plans[0].Items)), strconv.Itoa(len(plans[1].Items)))
	fmt.Fprintf(w.out, "%-6s  %16s  %16s\n\n", "cost", money.FormatDollars(int64(math.Round(100*plans[0].CostDollars))), money.FormatDollars(int64(math.Round(100*plans[1].CostDollars))))
}
