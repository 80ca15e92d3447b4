package main

import (
	"fmt"

	"github.com/urfave/cli/v2"

	"reseal/forecast"
	"reseal/forecast/money"
	"reseal/inventory"
	"reseal/inventory/store"
)

func costCommand(w world) *cli.Command {
	return &cli.Command{
		Name: "cost", Usage: "show what each treatment of a joint costs, line by line", ArgsUsage: "[JOINT]",
		Description: `Shows the arithmetic of each treatment that suits the joint, done alone in its visit
in the fiscal year, and what the joint is then expected to cost for ever: harm of a
failed seal and renewal at the best age included. Waiting is the cost of doing it
exactly one year later; below 0 waiting pays.

--review compares what work done really cost with the estimates, by treatment and
district, with the spread of the ratio.

example: reseal cost J000123 --year 2028
example: reseal cost --review --from 2024-07-01`,
		Flags: []cli.Flag{
			&cli.BoolFlag{Name: "review", Usage: "actual costs of work done beside the estimates"},
			&cli.StringFlag{Name: "from", Usage: "with --review: work done since this `DATE`; five years if not given"},
			&cli.StringFlag{Name: "district", Usage: "with --review: in this `DISTRICT`"},
			&cli.IntFlag{Name: "year", Usage: "the fiscal `YEAR` of the work; next year if not given"},
			&cli.StringFlag{Name: "as-of", Usage: "as seen on this `DATE`; today if not given"},
			formatFlag,
		},
		Action: func(c *cli.Context) error {
			if c.Bool("review") {
				return costReview(c, w)
			}
			return jointCost(c, w)
		},
	}
}

func jointCost(c *cli.Context, w world) error {
	ref, err := oneArg(c, "a joint")
	if err != nil {
		return err
	}
	if c.String("from") != "" || c.String("district") != "" {
		return usagef("--from and --district go with --review")
	}
	return projecting(c, w, func(s *store.Store, m *forecast.Model, t *forecast.Tables, o forecast.Options) error {
		j, err := inventory.FindJoint(c.Context, s.Read(), ref)
		if err != nil {
			return err
		}
		year := c.Int("year")
		if year == 0 {
			year = m.YearOf(o.AsOf) + 1
		}
		if now := m.YearOf(o.AsOf); year < now || year > now+60 {
			return usagef("--year is a fiscal year from %d to %d", now, now+60)
		}
		k, err := m.CostOf(c.Context, s.Read(), j.ID, o, year)
		if err != nil {
			return err
		}
		out, err := newRows(c, w.out, column{name: "treatment"}, column{name: "line", heading: "line", shrink: true}, column{name: "quantity", heading: "quantity"},
			column{name: "unit", heading: "unit"}, column{name: "rate_usd", heading: "rate"}, column{name: "amount_usd", heading: "amount"},
			column{name: "price_year"}, column{name: "nominal_year"})
		if err != nil {
			return err
		}
		if out.format == "table" {
			head(w.out, k.Projected)
		}
		for _, work := range k.Works {
			e := &work.Estimate
			for _, l := range e.Lines {
				if err := out.add(e.Treatment, l.Label, l.Quantity, l.Unit, cents(l.RateCents), cents(l.AmountCents), e.PriceYear, e.Year); err != nil {
					return err
				}
			}
			if err := out.add(e.Treatment, "= "+e.Treatment, nil, "", nil, cents(e.Nominal), e.PriceYear, e.Year); err != nil {
				return err
			}
		}
		if err := out.close(); err != nil {
			return err
		}
		if out.format == "table" {
			costSummary(w, k)
		}
		notes(c, w, fmt.Sprintf("amounts are nominal dollars of %d, from prices of %d; visits are shared where the bridge's joints are done together.", k.Year, k.PriceYear),
			illustrativeNote(t.Illustrative()))
		return nil
	})
}

// costSummary is what each treatment leads to, under the arithmetic.
func costSummary(w world, k *forecast.JointCost) {
	fmt.Fprintf(w.out, "\nDone in %d, expected cost for ever (constant dollars of %d, present value at the start of %d):\n", k.Year, k.PriceYear, k.Year)
	for _, work := range k.Works {
		line := fmt.Sprintf("%s: %s", work.Estimate.Treatment, money.FormatDollars(int64(100*work.TotalDollars)))
		if work.CanWait {
			line += fmt.Sprintf("; waiting a year %s", money.FormatDollars(int64(100*work.WaitDollars)))
		}
		if work.StopsPaying > 0 {
			line += fmt.Sprintf("; waiting stops paying in %d", work.StopsPaying)
		}
		if work.Estimate.Treatment == k.Best {
			line += "  <- least"
		}
		writeWrapped(w, line)
	}
}
