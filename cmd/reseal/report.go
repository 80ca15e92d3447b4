package main

import (
	"bufio"
	"fmt"
	"io"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/forecast"
	"reseal/inventory/store"
)

func reportCommand(w world) *cli.Command {
	return &cli.Command{
		Name: "report", Usage: "the state of the network as one page to print, or the quarter in figures",
		Description: `Writes one HTML file that needs nothing else: a summary, the map of the joints by
their latest condition, the money by year, the condition with nothing done and with
the plan, what other levels of money would do, the first lines of next year's work
list, and what the figures rest on. It prints on Letter and A4 and reads in black
and white.

The money is that of the table budgets or --yearly; without either, that which would
hold today's share failed (reseal budget).

--quarter tells instead what became of the approved work in the fiscal quarter of a
day: approved against done, what was dropped and why, inspections overdue, plates
that lie and for how long, and what a foot really cost.

example: reseal report --yearly 1,500,000 --output report.html
example: reseal report --quarter --date 2026-09-30`,
		Flags: append(whereFlags(),
			&cli.BoolFlag{Name: "quarter", Usage: "the fiscal quarter in figures"},
			&cli.StringFlag{Name: "date", Usage: "with --quarter: a `DAY` in it; today if not given"},
			&cli.StringFlag{Name: "yearly", Usage: "nominal `DOLLARS` of each year, in place of the table budgets"},
			&cli.StringFlag{Name: "budget", Usage: "nominal `DOLLARS` of next year's list; those of --yearly if not given"},
			&cli.IntFlag{Name: "years", Value: 10, Usage: "how `MANY` fiscal years, 2 to 31, the present one first"},
			&cli.StringFlag{Name: "levels", Value: "50,75,100,125", Usage: "levels of money beside the plan, in `PERCENT`"},
			&cli.StringFlag{Name: "output", Aliases: []string{"o"}, Value: "report.html", Usage: "to this `FILE`; - is standard output"},
			&cli.StringFlag{Name: "as-of", Usage: "as seen on this `DATE`; today if not given"},
			formatFlag),
		Action: func(c *cli.Context) error {
			switch {
			case c.Args().Present():
				return usagef("report takes no argument")
			case c.Bool("quarter"):
				return quarterReport(c, w)
			case c.String("date") != "" || c.IsSet("format"):
				return usagef("--date and --format go with --quarter")
			case c.Int("years") < 2 || c.Int("years") > 31:
				return usagef("--years is from 2 to 31, not %d", c.Int("years"))
			}
			return report(c, w)
		},
	}
}

// report writes the page.
func report(c *cli.Context, w world) error {
	levels, err := levelsOf(c)
	if err != nil {
		return err
	}
	if c.String("budget") == "" && c.String("yearly") != "" {
		if err := c.Set("budget", c.String("yearly")); err != nil {
			return err
		}
	}
	return projecting(c, w, func(s *store.Store, m *forecast.Model, t *forecast.Tables, o forecast.Options) error {
		r, err := gather(c, w, s, m, t, o, levels)
		if err != nil {
			return err
		}
		file := c.String("output")
		if file == "-" {
			return writePage(w.out, r)
		}
		f, err := newWholeFile(file)
		if err != nil {
			return err
		}
		defer f.discard()
		if err := writePage(f, r); err != nil {
			return err
		}
		fmt.Fprintf(w.err, "written to %s; print it from a browser\n%s\n", file, caution)
		return f.keep()
	})
}

func writePage(to io.Writer, r *reportPage) error {
	out := bufio.NewWriter(to)
	page, err := pageTemplate()
	if err != nil {
		return err
	}
	if err := page.Execute(out, r); err != nil {
		return fmt.Errorf("write the report: %w", err)
	}
	return out.Flush()
}

// where says in words which joints the flags choose.
func where(c *cli.Context) string {
	var parts []string
	for _, f := range whereFlags() {
		name := f.Names()[0]
		if c.IsSet(name) {
			parts = append(parts, name+" "+c.String(name))
		}
	}
	if len(parts) == 0 {
		return "the whole network"
	}
	return strings.Join(parts, ", ")
}
