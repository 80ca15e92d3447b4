package main

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/condition"
	"reseal/condition/sheet"
	"reseal/forecast"
	"reseal/inventory"
	"reseal/inventory/store"
)

func sheetCommand(w world) *cli.Command {
	return &cli.Command{
		Name: "sheet", Usage: "print the page that a crew takes to a joint", ArgsUsage: "JOINT…",
		Description: `One page a joint, or a stage of it: where, what to install, the opening to expect
at today's deck temperature, quantities with their sums, hours, steps with hold
points, cautions, and room for the as-built readings, which reseal record takes
back in. The work is that of the list, or of the joint's approved job: a repair
of the worst feet, cleaning, or a new seal, also where no job is approved. Work
that changes steel or concrete gets no sheet: it needs an engineer's drawings.
A new seal is the smallest of the present kind that fits, unless --seal names
another. --output FILE.html makes pages for the browser's print, Letter
or A4; without it the sheets come out as text.

With --worklist: all joints of the work list above its line.

example: reseal sheet J000123 J000124 --output sheets.html --speed-mph 65
example: reseal sheet --worklist --year 2027 --budget 400000 --output sheets.html`,
		Flags: append(whereFlags(),
			&cli.BoolFlag{Name: "worklist", Usage: "the joints of a work list"},
			&cli.IntFlag{Name: "year", Usage: "the `YEAR` of the work: a fiscal year with --worklist, next year if not given"},
			&cli.StringFlag{Name: "budget", Usage: "with --worklist: `DOLLARS` to spend, nominal"},
			&cli.StringFlag{Name: "seal", Usage: "the `SEAL` to install, as the catalogue has it: \"strip seal, 4 in\""},
			&cli.Float64Flag{Name: "speed-mph", Usage: "the posted `SPEED`, for the taper"},
			&cli.Float64Flag{Name: "offset-ft", Usage: "the `OFFSET` of the taper; a lane of 12 ft if not given"},
			&cli.Float64Flag{Name: "window-hours", Usage: "the `HOURS` of one closure; the setting closure_hours if not given"},
			&cli.BoolFlag{Name: "whole", Usage: "one sheet a joint, also where it has several stretches"},
			&cli.StringFlag{Name: "output", Aliases: []string{"o"}, Usage: "write `FILE`, as HTML where it ends in .html"},
			&cli.StringFlag{Name: "as-of", Usage: "as known on this `DATE`; today if not given"},
		),
		Action: func(c *cli.Context) error { return printSheets(c, w) },
	}
}

func printSheets(c *cli.Context, w world) error {
	if c.Bool("worklist") == c.Args().Present() {
		return usagef("name the joints, or say --worklist")
	}
	return projecting(c, w, func(s *store.Store, m *forecast.Model, t *forecast.Tables, o forecast.Options) error {
		crew := condition.CrewOptions{
			AsOf: o.AsOf, Seal: c.String("seal"), SpeedMPH: c.Float64("speed-mph"), OffsetFt: c.Float64("offset-ft"),
			WindowHours: c.Float64("window-hours"), Whole: c.Bool("whole"),
		}
		tags := c.Args().Slice()
		if c.Bool("worklist") {
			list, err := workListOf(c, w, s, m, o)
			if err != nil {
				return err
			}
			if tags = list.Tags(); len(tags) == 0 {
				return store.NotFound("see it with: reseal worklist", "the work list has no joint above its line")
			}
			crew.Work, err = list.CrewWork(t)
			if err != nil {
				return err
			}
		} else {
			var err error
			if crew.Work, err = forecast.ApprovedWork(c.Context, s.Read(), t); err != nil {
				return err
			}
		}
		if year := c.Int("year"); year != 0 {
			if year < o.AsOf.Year || year > o.AsOf.Year+60 {
				return usagef("--year is from %d to %d", o.AsOf.Year, o.AsOf.Year+60)
			}
			crew.Year = inventory.Date{Year: year, Month: 7, Day: 1}.DecimalYear()
		}
		sheets, refused, err := condition.CrewSheets(c.Context, s.Read(), tags, crew)
		if err != nil {
			return err
		}
		if len(sheets) > 0 {
			if err := writeSheets(c, w, sheets); err != nil {
				return err
			}
		}
		for _, r := range refused {
			line := r.Tag + ": " + r.Err.Error()
			if hint := store.Hint(r.Err); hint != "" {
				line += " (" + hint + ")"
			}
			fmt.Fprintln(w.err, strings.Join(wrap("no sheet: "+line, tableWidth-2), "\n  "))
		}
		fmt.Fprintf(w.err, "%s made\n%s\n", plural(len(sheets), "sheet"), caution)
		if len(refused) > 0 {
			return errRejected
		}
		return nil
	})
}

// writeSheets writes HTML to a file that ends so, else text with a form feed
// between pages.
func writeSheets(c *cli.Context, w world, sheets []sheet.Sheet) error {
	write := func(out io.Writer) error {
		for i, s := range sheets {
			if i > 0 {
				fmt.Fprint(out, "\f")
			}
			if err := sheet.WriteText(out, s); err != nil {
				return err
			}
		}
		return nil
	}
	path := c.String("output")
	if strings.HasSuffix(path, ".html") || strings.HasSuffix(path, ".htm") {
		write = func(out io.Writer) error { return sheet.WriteHTML(out, sheets) }
	}
	if path == "" || path == "-" {
		return write(w.out)
	}
	var page bytes.Buffer
	if err := write(&page); err != nil {
		return err
	}
	f, err := newWholeFile(path)
	if err != nil {
		return err
	}
	defer f.discard()
	if _, err := f.Write(page.Bytes()); err != nil {
		return err
	}
	return f.keep()
}
