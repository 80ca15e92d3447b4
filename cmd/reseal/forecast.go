package main

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/cmd/reseal/layer"
	"reseal/forecast"
	"reseal/inventory"
	"reseal/inventory/store"
)

func forecastCommand(w world) *cli.Command {
	return &cli.Command{
		Name: "forecast", Usage: "project when each seal will have failed", ArgsUsage: "[JOINT]",
		Description: `Projects every joint from its latest inspection by the life table of its seal
kind, and counts the replacement years: the first year by whose end a seal has
failed with a probability of 50 %. The years of 10 and 90 % are its band. All
years are fiscal years. Without a filter, --as-of and --to the forecasts are
stored, and the map layer shows them.

With JOINT, shows the condition and the probability of failure year by year, and
how fast the joint wears against its kind by its own inspections. The figures
beside a share are its 80 % band: it is not below the first with a probability
of 90 %, and not above the second.

With --condition, shows the condition of all joints chosen, by year, with such
bands, and how many will have failed if nobody renews them. What is to come is
nature alone, without work, unless --plan names a plan on record: then its work
counts, and what committed bridge projects renew in their years.

example: reseal forecast
example: reseal forecast J000123 --to 2040
example: reseal forecast --condition --district 3
example: reseal forecast --condition --route "I 5" --plan 2027
example: reseal forecast --joints --route "I 5" --format csv`,
		Flags: append(whereFlags(),
			&cli.StringFlag{Name: "as-of", Usage: "as seen on this `DATE`; today if not given"},
			&cli.IntFlag{Name: "to", Usage: "look as far as this `YEAR`"},
			&cli.BoolFlag{Name: "joints", Usage: "one row a joint in place of the count by year"},
			&cli.BoolFlag{Name: "condition", Usage: "condition by year, with bands, in place of the count by year"},
			&cli.StringFlag{Name: "plan", Usage: "with the work of the plan of this `NAME`"},
			dryRunFlag,
			formatFlag),
		Action: func(c *cli.Context) error {
			switch {
			case c.Bool("condition") && (c.Bool("joints") || c.Bool("dry-run") || c.Args().Present()):
				return usagef("--condition goes without JOINT, --joints and --dry-run; it stores nothing")
			case c.String("plan") != "" && !c.Bool("condition") && !c.Args().Present():
				return usagef("--plan goes with JOINT or --condition")
			}
			switch c.Args().Len() {
			case 0:
				if c.Bool("condition") {
					return forecastCondition(c, w)
				}
				return forecastNetwork(c, w)
			case 1:
				return forecastJoint(c, w, c.Args().First())
			}
			return usagef("forecast takes one joint, or none for the network")
		},
	}
}

// whereFlags are the filter flags that choose joints, without those that order
// and page a list.
func whereFlags() []cli.Flag {
	return slices.DeleteFunc(filterFlags(), func(f cli.Flag) bool {
		return slices.Contains([]string{"sort", "limit", "offset"}, f.Names()[0])
	})
}

// projecting opens the inventory, makes the model of the agency's tables and
// runs fn with the options of the command line.
func projecting(c *cli.Context, w world, fn func(*store.Store, *forecast.Model, *forecast.Tables, forecast.Options) error) error {
	o := forecast.Options{AsOf: inventory.DateOf(w.now()), ThroughYear: c.Int("to")}
	var err error
	if o.Filter, err = filterFrom(c); err != nil {
		return err
	}
	if o.Filter.Near == nil {
		o.Filter.WithinFt = 0
	}
	if day := c.String("as-of"); day != "" {
		if o.AsOf, err = inventory.ParseDate(day); err != nil {
			return usagef("--as-of: %w", err)
		}
	}
	return readingAsOf(c, w, o.AsOf, func(s *store.Store) error {
		tables, err := forecast.LoadTables(c.Context, s.Read())
		if err != nil {
			return err
		}
		m, err := forecast.NewModel(tables)
		if err != nil {
			return err
		}
		if o.ThroughYear != 0 && (o.ThroughYear < m.YearOf(o.AsOf) || o.ThroughYear > m.YearOf(o.AsOf)+100) {
			return usagef("--to is a year from %d to %d", m.YearOf(o.AsOf), m.YearOf(o.AsOf)+100)
		}
		if name := c.String("plan"); name != "" {
			if o.Planned, err = forecast.PlannedIn(c.Context, s.Read(), name); err != nil {
				return err
			}
		}
		p := startProgress(w.err, "joints", 0)
		defer p.end()
		o.Counted = func(n int) { p.add(int64(n)) }
		o.Progress = func(gapPct float64) { p.say(planProgress(gapPct)) }
		return fn(s, m, tables, o)
	})
}

func forecastNetwork(c *cli.Context, w world) error {
	return projecting(c, w, func(s *store.Store, m *forecast.Model, t *forecast.Tables, o forecast.Options) error {
		var sum forecast.Summary
		show, finish := sum.Add, func() error { return summary(c, w, m, o, &sum) }
		if c.Bool("joints") {
			var failed error
			out, err := jointForecasts(c, w)
			if err != nil {
				return err
			}
			show = func(j forecast.Projected) {
				if failed == nil {
					failed = addJointForecast(out, j)
				}
			}
			finish = func() error {
				if failed != nil {
					return failed
				}
				return out.close()
			}
		}
		whole := o.Filter == inventory.Filter{} && c.String("as-of") == "" && c.Int("to") == 0
		collectAt(400) // it streams: some 70 MB at a million joints
		if err := eachForecast(c.Context, s, m, actor(c), o, whole && !c.Bool("dry-run"), show); err != nil {
			return err
		}
		if err := finish(); err != nil {
			return err
		}
		notes(c, w, illustrativeNote(t.Illustrative(), "life_table"))
		switch {
		case c.Bool("dry-run"):
			fmt.Fprintln(w.err, "dry run: nothing was kept")
		case whole:
			fmt.Fprintln(w.err, "the forecasts are stored; next: reseal worklist --year", m.YearOf(o.AsOf)+1)
		default:
			fmt.Fprintln(w.err, "nothing was stored: that takes the whole network, as of today")
		}
		return nil
	})
}

func eachForecast(ctx context.Context, s *store.Store, m *forecast.Model, by string, o forecast.Options, save bool, fn func(forecast.Projected)) error {
	if save {
		return m.Save(ctx, s, by, o, fn)
	}
	return m.Each(ctx, s.Read(), o, func(j forecast.Projected) error {
		fn(j)
		return nil
	})
}

// summary prints how many joints are to be replaced in each year.
func summary(c *cli.Context, w world, m *forecast.Model, o forecast.Options, sum *forecast.Summary) error {
	last := m.Through(o)
	most := max(sum.FailedNow, 1)
	for _, n := range sum.ByYear {
		most = max(most, n)
	}
	const barWidth = 60
	columns := []column{{name: "when", heading: "replace"}, {name: "year"}, {name: "joints", heading: "joints"}}
	table := c.String("format") == "table"
	if table {
		fmt.Fprintf(w.out, "%d joints as of %s, by the year by whose end they have failed with a probability of 50 %%\n", sum.Joints, o.AsOf)
		columns = append(columns, column{heading: fmt.Sprintf("█ is %s", plural((most+barWidth-1)/barWidth, "joint"))})
	}
	out, err := newRows(c, w.out, columns...)
	if err != nil {
		return err
	}
	add := func(when string, year *int, n int, mark string) error {
		cells := []any{when, year, n}
		if table {
			per := (most + barWidth - 1) / barWidth
			bar := strings.Repeat("█", (n+per-1)/per)
			if mark != "" {
				bar = mark
			}
			cells = append(cells, bar+" ")
		}
		return out.add(cells...)
	}
	if err := add("failed now", nil, sum.FailedNow, ""); err != nil {
		return err
	}
	for year := m.YearOf(o.AsOf); year <= last; year++ {
		if table && last-year > 1 && !slices.ContainsFunc(slices.Collect(maps.Keys(sum.ByYear)), func(y int) bool { return y >= year }) {
			if err := add(fmt.Sprintf("%d-%d", year, last), nil, 0, ""); err != nil {
				return err
			}
			break
		}
		if err := add(fmt.Sprint(year), &year, sum.ByYear[year], ""); err != nil {
			return err
		}
	}
	if err := add(fmt.Sprintf("after %d", last), nil, sum.ByYear[0], ""); err != nil {
		return err
	}
	for _, reason := range slices.Sorted(maps.Keys(sum.NoForecast)) {
		if err := add("no forecast", nil, sum.NoForecast[reason], string(reason)); err != nil {
			return err
		}
	}
	if err := out.close(); err != nil {
		return err
	}
	notes(c, w, "each joint counts whole, in its middle year: as likely to have failed before as after; forecast --condition and reseal budget count each joint's chance, the number expected to have failed")
	if sum.Quantities > 0 {
		notes(c, w, fmt.Sprintf("%d of them are quantities for a whole bridge, each counted as one joint", sum.Quantities))
	}
	return nil
}

func jointForecasts(c *cli.Context, w world) (*rows, error) {
	return newRows(c, w.out,
		column{name: "tag", heading: "joint"}, column{name: "structure_number", heading: "bridge", shrink: true},
		column{name: "route", heading: "route", shrink: true}, column{name: "milepost", heading: "milepost"},
		column{name: "seal_kind", heading: "seal", shrink: true}, column{name: "length_ft", heading: "ft"},
		column{name: "replace_year", heading: "replace"}, column{name: "replace_year_10", heading: "10 %"},
		column{name: "replace_year_90", heading: "90 %"}, column{name: "failed_probability", heading: "failed %"},
		column{name: "cs1"}, column{name: "cs2"}, column{name: "cs3"}, column{name: "cs4"}, column{name: "pace"},
		column{name: "since", heading: "starts from"}, column{name: "basis"}, column{name: "district"}, column{name: "no_forecast"})
}

func addJointForecast(out *rows, j forecast.Projected) error {
	if j.Forecast == nil {
		return out.add(j.Tag, j.Bridge.StructureNumber, j.Bridge.Route, j.Bridge.Milepost, nil, known(j.LengthFt),
			nil, nil, nil, nil, nil, nil, nil, nil, nil, nil, "", j.Bridge.District, string(j.Reason))
	}
	s := j.NowShares
	return out.add(j.Tag, j.Bridge.StructureNumber, j.Bridge.Route, j.Bridge.Milepost, j.Kind, known(j.LengthFt),
		yearOrNil(j.ReplaceYear), yearOrNil(j.EarlyYear), yearOrNil(j.LateYear), percent(out, j.NowFailed),
		part(s[0]), part(s[1]), part(s[2]), part(s[3]), part(j.Pace), j.Since, j.Basis, j.Bridge.District, "")
}

// plural is a number of things.
func plural(n int, what string) string {
	if n != 1 {
		what += "s"
	}
	return fmt.Sprintf("%d %s", n, what)
}

// percent is a share or probability for people, a whole number of per cent in
// a table, and a part of 1 elsewhere.
func percent(out *rows, v float64) any {
	if out.format == "table" {
		return int(math.Round(100 * v))
	}
	return part(v)
}

// part rounds a share or probability to what it is worth.
func part(v float64) float64 { return math.Round(v*1e4) / 1e4 }

// known is nil for a length that is not on record.
func known(ft float64) any {
	if ft == 0 {
		return nil
	}
	return ft
}

func yearOrNil(year int) any {
	if year == 0 {
		return nil
	}
	return year
}

// notes writes lines that belong to an answer: under a table, and apart from
// CSV and JSON.
func notes(c *cli.Context, w world, lines ...string) {
	out := w.err
	if c.String("format") == "table" {
		out = w.out
	}
	for _, text := range lines {
		for i, l := range wrap(text, tableWidth-2) {
			switch {
			case i > 0:
				fmt.Fprintln(out, "  "+l)
			case l != "":
				fmt.Fprintln(out, l)
			}
		}
	}
}

// illustrativeNote marks figures that rest on starting values of the given tables,
// or of any where none is given; empty where none does.
func illustrativeNote(illustrative []string, of ...string) string {
	return layer.IllustrativeNote(illustrative, of...)
}
