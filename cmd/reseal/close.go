package main

import (
	"fmt"
	"strconv"

	"github.com/urfave/cli/v2"

	"reseal/forecast"
	"reseal/inventory"
	"reseal/inventory/store"
)

func closeCommand(w world) *cli.Command {
	return &cli.Command{
		Name: "close", Usage: "freeze a fiscal year: data, tables and fit as they stand", ArgsUsage: "[YEAR]",
		Description: `Copies the whole inventory as it is beside itself, read-only, and keeps its checksum. A
fiscal year that has ended is closed once; the inventory itself can still be changed.
Without YEAR, lists the closed years.

From then on --as-of DATE (forecast, worklist, plan, budget, report, cost, claim, gap,
sheet) takes the first close made on DATE or after it, and gives the figure again from
its data, tables and fit; it says which. Two things it cannot do: for a day well before
the close, tables, settings and corrections are those of the close and not of the day;
and for a day after the last close it goes by the records of today, without what
happened after that day.

example: reseal close 2026
example: reseal close`,
		Flags:  []cli.Flag{dryRunFlag, formatFlag},
		Action: func(c *cli.Context) error { return closeYear(c, w) },
	}
}

func closeYear(c *cli.Context, w world) error {
	if !c.Args().Present() {
		return closeList(c, w)
	}
	text, err := oneArg(c, "a fiscal year")
	if err != nil {
		return err
	}
	year, err := strconv.Atoi(text)
	if err != nil || year < 1990 || year > 2100 {
		return usagef("%q is not a fiscal year, for example 2026", text)
	}
	return reading(c, w, func(s *store.Store) error {
		settings, err := forecast.LoadSettings(c.Context, s.Read())
		if err != nil {
			return err
		}
		today := inventory.DateOf(w.now())
		if now := settings.Calendar().YearOf(today.Year, today.Month); year >= now {
			return store.Invalid(fmt.Sprintf("close %d; the fiscal year %d is running (setting fiscal_year_start)", now-1, now), "%d has not ended", year)
		}
		if c.Bool("dry-run") {
			return done(c, w, nil, "%d would be closed", year)
		}
		k, err := inventory.CloseYear(c.Context, s, actor(c), year, today)
		if err != nil {
			return err
		}
		return done(c, w, nil, "%d is closed as of %s: %s, SHA-256 %s; keep it beside the inventory", k.Year, k.MadeOn, k.File, k.SHA256)
	})
}

func closeList(c *cli.Context, w world) error {
	out, err := newRows(c, w.out, column{name: "year", heading: "year"}, column{name: "made_on", heading: "closed on"}, column{name: "by", heading: "by"},
		column{name: "file", heading: "file", shrink: true}, column{name: "bytes", heading: "bytes"}, column{name: "sha256", heading: "SHA-256", shrink: true})
	if err != nil {
		return err
	}
	return reading(c, w, func(s *store.Store) error {
		all, err := inventory.Closes(c.Context, s.Read())
		if err != nil {
			return err
		}
		for _, k := range all {
			if err := out.add(k.Year, k.MadeOn, k.CreatedBy, k.File, k.Bytes, k.SHA256); err != nil {
				return err
			}
		}
		return out.close()
	})
}

// readingAsOf is reading, from the close that shows how things stood on the day
// of --as-of where there is one.
func readingAsOf(c *cli.Context, w world, day inventory.Date, fn func(*store.Store) error) error {
	return reading(c, w, func(s *store.Store) error {
		if c.String("as-of") == "" {
			return fn(s)
		}
		k, err := inventory.CloseFor(c.Context, s.Read(), day)
		if err != nil {
			return err
		}
		if k == nil {
			return fn(s)
		}
		frozen, finish, err := k.Open(c.Context, s)
		if err != nil {
			return err
		}
		defer finish()
		fmt.Fprintf(w.err, "as of %s, from the close of %d made on %s\n", day, k.Year, k.MadeOn)
		return fn(frozen)
	})
}
