package main

import (
	"fmt"
	"math"

	"github.com/urfave/cli/v2"

	"reseal/cmd/reseal/layer"
	"reseal/condition"
	"reseal/inventory"
	"reseal/inventory/store"
)

func dueCommand(w world) *cli.Command {
	return &cli.Command{
		Name:  "due",
		Usage: "the inspections due by a day, in the order of travel",
		Description: "A joint follows its bridge's own cycle, or 24 months. Feet in CS3 or CS4, open\nfindings, plates and warranties that end shorten it.\n\n" +
			"example: reseal due --due-by 2027-06-30 --district 03\nexample: reseal due --trips",
		Flags: append([]cli.Flag{
			&cli.StringFlag{Name: "due-by", Aliases: []string{"until"}, Usage: "the `DAY` up to which inspections are wanted (YYYY-MM-DD); today if not given"},
			&cli.BoolFlag{Name: "trips", Usage: "sum up by route and the access needed"},
			formatFlag,
		}, filterFlags()...),
		Action: func(c *cli.Context) error { return listDue(c, w) },
	}
}

func listDue(c *cli.Context, w world) error {
	if c.Args().Present() {
		return usagef("due takes no argument")
	}
	f, err := filterFrom(c)
	if err != nil {
		return err
	}
	by := inventory.DateOf(w.now())
	if day, err := inventory.ParseDate(c.String("by")); err == nil && !day.IsZero() {
		return usagef("--by is the name that goes on record; the day is --due-by %s", day)
	}
	if s := c.String("due-by"); s != "" {
		if by, err = inventory.ParseDate(s); err != nil {
			return usagef("--due-by: %w", err)
		}
	}
	return reading(c, w, func(s *store.Store) error {
		due, err := condition.DueBy(c.Context, s.Read(), f, by, condition.DueRules{})
		if err != nil {
			return err
		}
		if c.Bool("trips") {
			err = printTrips(c, w, condition.Trips(due))
		} else {
			err = printDue(c, w, due, by)
		}
		if err == nil {
			fmt.Fprintln(w.err, layer.DueCaution)
		}
		return err
	})
}

func printDue(c *cli.Context, w world, due []*condition.Due, by inventory.Date) error {
	out, err := newRows(c, w.out, column{name: "route", heading: "route", shrink: true}, column{name: "milepost", heading: "mile"},
		column{name: "structure_number", heading: "bridge"}, column{name: "tag", heading: "joint"}, column{name: "place", heading: "place", shrink: true},
		column{name: "due_on", heading: "due"}, column{name: "overdue_days", heading: "days over"}, column{name: "why", heading: "why", shrink: true}, column{name: "inspected_on", heading: "last seen"},
		column{name: "worst_state", heading: "worst"}, column{name: "access", heading: "access", shrink: true},
		column{name: "label"}, column{name: "seal_kind"}, column{name: "length_ft"}, column{name: "district"})
	if err != nil {
		return err
	}
	for _, d := range due {
		if err := out.add(d.Route, d.Milepost, d.StructureNumber, d.Tag, d.Place, dueDay(d.DueOn), daysOver(d.DueOn, inventory.DateOf(w.now())), d.Why, d.InspectedOn,
			condition.StateWord(d.WorstState), d.Access, d.Label, d.SealKind, d.LengthFt, d.District); err != nil {
			return err
		}
	}
	if err := out.close(); err != nil {
		return err
	}
	fmt.Fprintf(w.err, "%s due by %s\n", plural(len(due), "joint"), by)
	return nil
}

// dueDay says now for a joint that was never seen.
func dueDay(d inventory.Date) string {
	if d.IsZero() {
		return "now"
	}
	return d.String()
}

// daysOver is how many days the inspection is overdue today; nil where it is
// not, or was never due on a day.
func daysOver(due, today inventory.Date) any {
	if due.IsZero() || !due.Before(today) {
		return nil
	}
	return int(math.Round(today.Time().Sub(due.Time()).Hours() / 24))
}

func printTrips(c *cli.Context, w world, trips []condition.Trip) error {
	out, err := newRows(c, w.out, column{name: "route", heading: "route", shrink: true}, column{name: "access", heading: "access needed", shrink: true},
		column{name: "bridges", heading: "bridges"}, column{name: "joints", heading: "joints"})
	if err != nil {
		return err
	}
	for _, t := range trips {
		if err := out.add(t.Route, t.Access, t.Bridges, t.Joints); err != nil {
			return err
		}
	}
	return out.close()
}
