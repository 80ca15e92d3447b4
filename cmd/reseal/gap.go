package main

import (
	"github.com/urfave/cli/v2"

	"reseal/condition"
	"reseal/inventory"
	"reseal/inventory/store"
)

func gapCommand(w world) *cli.Command {
	return &cli.Command{
		Name: "gap", Usage: "check whether each seal still fits its gap", ArgsUsage: "[JOINT]",
		Description: `For one joint: the opening line through its readings, how much is left at the
coldest and the hottest deck with the chance that nothing is, now and in later
years, and whether the joint has stopped moving or drifts. --seal proposes the
smallest seal of the catalogue that fits and says why others do not.

With --all: every joint that needs attention, worst first.

example: reseal gap J000123
example: reseal gap J000123 --seal --at-temp 55
example: reseal gap --all --district 3 --format csv
example: reseal gap add J000123 1.75 --deck-temp-f 61`,
		Flags: append(whereFlags(),
			&cli.BoolFlag{Name: "all", Usage: "list the joints that need attention, worst first"},
			&cli.BoolFlag{Name: "fine", Usage: "with --all: those without a finding too, and those that cannot be checked"},
			&cli.BoolFlag{Name: "seal", Usage: "propose a seal"},
			&cli.IntFlag{Name: "year", Usage: "judge the end of this `YEAR`; today if not given"},
			&cli.Float64Flag{Name: "at-temp", Usage: "the opening to expect at this deck `TEMPERATURE` in °F; with --seal the one to install at"},
			&cli.StringFlag{Name: "as-of", Usage: "as known on this `DATE`; today if not given"},
			&cli.IntFlag{Name: "limit", Usage: "with --all: list at most so `MANY`"},
			&cli.StringFlag{Name: "format", Value: "table", Usage: "`HOW` to print: table, csv or json; with --all geojson too"},
		),
		Action: func(c *cli.Context) error {
			switch {
			case c.Bool("all") && c.Args().Len() == 0:
				return gapAll(c, w)
			case c.Args().Len() == 1 && !c.Bool("all"):
				return gapJoint(c, w, c.Args().First())
			}
			return usagef("gap takes one joint, or --all for the network")
		},
		Subcommands: []*cli.Command{gapAddCommand(w)},
	}
}

// gapping reads the day and year that the command line asks for, opens the
// inventory and runs fn with the rules of the check.
func gapping(c *cli.Context, w world, fn func(*store.Store, *condition.GapRules, condition.GapOptions) error) error {
	o := condition.GapOptions{AsOf: inventory.DateOf(w.now())}
	var err error
	if o.Filter, err = filterFrom(c); err != nil {
		return err
	}
	o.Filter.Limit = 0 // of rows shown, not of joints looked at
	if day := c.String("as-of"); day != "" {
		if o.AsOf, err = inventory.ParseDate(day); err != nil {
			return usagef("--as-of: %w", err)
		}
	}
	o.Year = o.AsOf.DecimalYear()
	if c.IsSet("year") {
		year := c.Int("year")
		if year < o.AsOf.Year || year > o.AsOf.Year+100 {
			return usagef("--year is from %d to %d", o.AsOf.Year, o.AsOf.Year+100)
		}
		o.Year = endOfYear(year)
	}
	if c.IsSet("at-temp") {
		if t := c.Float64("at-temp"); !(t >= condition.MinDeckTempF && t <= condition.MaxDeckTempF) {
			return usagef("--at-temp is a deck temperature from %g to %g °F", condition.MinDeckTempF, condition.MaxDeckTempF)
		}
	}
	return readingAsOf(c, w, o.AsOf, func(s *store.Store) error {
		r, err := condition.LoadGapRules(c.Context, s.Read(), o.AsOf)
		if err != nil {
			return err
		}
		return fn(s, r, o)
	})
}

// endOfYear is the end of a calendar year as a decimal year.
func endOfYear(year int) float64 {
	return inventory.Date{Year: year + 1, Month: 1, Day: 1}.DecimalYear()
}
