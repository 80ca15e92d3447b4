package main

import (
	"fmt"
	"math"

	"github.com/urfave/cli/v2"

	"reseal/condition"
	"reseal/forecast"
	"reseal/inventory"
	"reseal/inventory/store"
)

// overdueShown is how many of the inspections overdue a table shows.
const overdueShown = 10

// quarterReport prints one quarter as rows of one kind, so that a table, CSV and
// JSON hold the same.
func quarterReport(c *cli.Context, w world) error {
	return projecting(c, w, func(s *store.Store, m *forecast.Model, _ *forecast.Tables, o forecast.Options) error {
		day := o.AsOf
		if text := c.String("date"); text != "" {
			var err error
			if day, err = inventory.ParseDate(text); err != nil {
				return usagef("--date: %w", err)
			}
			if o.AsOf.Before(day) {
				return usagef("--date: %s is in the future", day)
			}
		}
		q, err := m.NewQuarter(c.Context, s.Read(), day, o.AsOf)
		if err != nil {
			return err
		}
		if c.String("format") == "table" {
			fmt.Fprintf(w.out, "Quarter %d of fiscal year %d, %s through %s\n\n", q.Number, q.Year, q.From, q.Through)
		}
		out, err := newRows(c, w.out, column{name: "part", heading: "part", shrink: true}, column{name: "item", heading: "of", shrink: true},
			column{name: "joints", heading: "joints"}, column{name: "feet", heading: "feet"}, column{name: "approved_nominal_usd", heading: "approved $"},
			column{name: "actual_nominal_usd", heading: "actual $"}, column{name: "usd_per_foot", heading: "$/ft"}, column{name: "days", heading: "days"},
			column{name: "note", heading: "note", shrink: true})
		if err != nil {
			return err
		}
		if err := quarterRows(out, q); err != nil {
			return err
		}
		if err := out.close(); err != nil {
			return err
		}
		for _, j := range q.Dropped {
			if out.format == "table" {
				writeWrapped(w, fmt.Sprintf("%s of %s dropped on %s: %s", j.Tag, j.List, j.DroppedOn, j.Note))
			}
		}
		if more := len(q.Overdue) - overdueShown; more > 0 && out.format == "table" {
			fmt.Fprintf(w.out, "and %d more inspections overdue; --format csv lists all\n", more)
		}
		notes(c, w, "approved and actual: nominal dollars; actual is of the jobs whose cost is on record. Inspections are overdue by the records of today, all else is as of the last day.")
		return nil
	})
}

func quarterRows(out *rows, q *forecast.Quarter) error {
	tally := func(part, item string, t forecast.Tally, note string) error {
		if t.NoCost > 0 && t.NoCost < t.Joints {
			note = fmt.Sprintf("%d without a cost", t.NoCost)
		}
		var approved, actual any
		if t.ApprovedCents > 0 {
			approved = cents(t.ApprovedCents)
		}
		if t.NoCost < t.Joints {
			actual = cents(t.ActualCents)
		}
		return out.add(part, item, t.Joints, expected(out, t.Feet), approved, actual, nil, nil, note)
	}
	for _, l := range q.Lists {
		for _, part := range []struct {
			name string
			t    forecast.Tally
		}{{"approved", l.Approved}, {"done in quarter", l.Done}, {"done before", l.Before}, {"dropped", l.Dropped}, {"still to do", l.Remaining}} {
			if err := tally(part.name, l.List, part.t, ""); err != nil {
				return err
			}
		}
	}
	if err := tally("done in quarter", "on no list", q.Unlisted, ""); err != nil {
		return err
	}
	for _, j := range q.Dropped {
		if err := out.add("dropped because", j.Tag, nil, known(j.LengthFt), cents(j.CostCents), nil, nil, nil, j.Note); err != nil {
			return err
		}
	}
	for _, f := range q.PerFoot {
		if err := out.add("cost of a foot", f.Treatment, f.Joints, expected(out, f.Feet), nil, cents(f.Cents), cents(math.Round(f.PerFootCents())), nil, ""); err != nil {
			return err
		}
	}
	for _, p := range q.Plates {
		if err := out.add("open plate", p.Tag, nil, nil, nil, nil, nil, p.Days, fmt.Sprintf("since %s; district %s", p.FoundOn, orDash(p.District))); err != nil {
			return err
		}
	}
	return overdueRows(out, q.Overdue, q.Through)
}

func overdueRows(out *rows, overdue []*condition.Due, through inventory.Date) error {
	never := 0
	for _, d := range overdue {
		if d.DueOn.IsZero() {
			never++
		}
	}
	note := ""
	if never > 0 {
		note = fmt.Sprintf("%d never inspected", never)
	}
	if err := out.add("overdue", "all inspections", len(overdue), nil, nil, nil, nil, nil, note); err != nil {
		return err
	}
	for i, d := range overdue {
		if out.format == "table" && i == overdueShown {
			break
		}
		var days any
		if !d.DueOn.IsZero() {
			days = int(through.Time().Sub(d.DueOn.Time()).Hours() / 24)
		}
		if err := out.add("overdue", d.Tag, nil, nil, nil, nil, nil, days, d.Why); err != nil {
			return err
		}
	}
	return nil
}

func orDash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}
