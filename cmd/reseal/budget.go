package main

import (
	"fmt"
	"math"
	"slices"

	"github.com/urfave/cli/v2"

	"reseal/forecast"
	"reseal/forecast/money"
	"reseal/inventory/store"
)

func budgetCommand(w world) *cli.Command {
	return &cli.Command{
		Name: "budget", Usage: "project what the coming years will cost",
		Description: `Adds up what renewing every seal in the fiscal year in which it fails is expected
to cost, renewals of the new seals included: the need without a limit. The first
year carries all that has failed already. The 10-90 % band says how much the
chance of which seals fail when can move a year; errors of the life table and of
the unit costs, which move all joints together, come on top of it.

Nominal dollars are as paid in each year. Present values are constant dollars
discounted at the real rate to the start of the first year.

--levels solves the plan (reseal plan) at several shares of the budgets in per cent
and shows them side by side with the need, which is the plan with no limit of money.
Deferred is the need less what is planned: the backlog. The money is that of the
table budgets or --yearly.

example: reseal budget --years 10 --by-district
example: reseal budget --levels 80,100,120 --yearly 2,000,000`,
		Flags: append(whereFlags(),
			&cli.IntFlag{Name: "years", Value: 10, Usage: "how `MANY` fiscal years, the present one first"},
			&cli.BoolFlag{Name: "by-district", Usage: "a row for each district and year"},
			&cli.StringFlag{Name: "levels", Usage: "plans side by side at these `PERCENT` of the budgets: 80,100,120"},
			&cli.StringFlag{Name: "yearly", Usage: "with --levels: nominal `DOLLARS` of each year, in place of the table budgets"},
			&cli.IntFlag{Name: "from", Usage: "with --levels: the first fiscal `YEAR`; next year if not given"},
			&cli.StringFlag{Name: "as-of", Usage: "as seen on this `DATE`; today if not given"},
			formatFlag),
		Action: func(c *cli.Context) error { return budget(c, w) },
	}
}

func budget(c *cli.Context, w world) error {
	if c.Args().Present() {
		return usagef("budget takes no argument; choose joints with its flags")
	}
	if c.String("levels") != "" {
		return budgetLevels(c, w)
	}
	return projecting(c, w, func(s *store.Store, m *forecast.Model, t *forecast.Tables, o forecast.Options) error {
		b, err := m.NewBudget(c.Context, s.Read(), o, c.Int("years"))
		if err != nil {
			return err
		}
		out, err := newRows(c, w.out,
			column{name: "district", heading: heading(c, "district"), shrink: true}, column{name: "year", heading: "year"},
			column{name: "renewals", heading: "joints"}, column{name: "feet", heading: "feet"},
			column{name: "nominal_mean_usd", heading: money.Nominal(0).Label()}, column{name: "nominal_p10_usd", heading: "10 %"},
			column{name: "nominal_p90_usd", heading: "90 %"},
			column{name: "present_value_usd", heading: money.Present(0).Label(b.FirstYear)}, column{name: "present_value_year"})
		if err != nil {
			return err
		}
		rows := b.Network
		if c.Bool("by-district") {
			rows = append(slices.Clone(b.Districts), b.Network...)
		}
		for _, r := range rows {
			if err := addBudgetRow(out, b, r); err != nil {
				return err
			}
		}
		if err := out.close(); err != nil {
			return err
		}
		notes(c, w, noForecast(b.NoForecast, b.NoLength)...)
		if b.Claims > 0 {
			notes(c, w, fmt.Sprintf("not in it: %.1f renewals expected inside warranties, which are claimed; see reseal claim", b.Claims))
		}
		notes(c, w,
			fmt.Sprintf("%d holds all that has failed already. Prices rise %.3g %% a year; constant dollars are discounted at a real %.3g %% a year from the middle of each year (settings price_growth and real_discount_rate).",
				b.FirstYear, 100*t.Settings.PriceGrowth, 100*t.Settings.RealDiscountRate),
			illustrativeNote(b.Illustrative, "life_table", "treatments"))
		return nil
	})
}

func heading(c *cli.Context, text string) string {
	if c.Bool("by-district") {
		return text
	}
	return ""
}

func addBudgetRow(out *rows, b *forecast.Budget, r forecast.BudgetRow) error {
	district := r.District
	if r.Network {
		district = map[bool]string{true: "all", false: "all districts"}[out.format == "table"]
	}
	var year, low, high any = r.Year, cents(r.Low), cents(r.High)
	if r.Year == 0 {
		year, low, high = fmt.Sprintf("%d-%d", b.FirstYear, b.FirstYear+b.Years-1), nil, nil
	}
	return out.add(district, year, math.Round(10*r.Renewals)/10, expected(out, r.Feet), cents(r.Nominal), low, high, cents(r.Present), b.FirstYear)
}

// expected is a mean count: whole in a table, to a tenth elsewhere.
func expected(out *rows, v float64) any {
	if out.format == "table" {
		return int(math.Round(v))
	}
	return math.Round(v*10) / 10
}
