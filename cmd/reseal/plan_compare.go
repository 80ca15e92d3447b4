package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/forecast"
	"reseal/forecast/money"
	"reseal/inventory/store"
)

// comparePlans sets kept plans side by side.
func comparePlans(c *cli.Context, w world) error {
	var names []string
	for name := range strings.SplitSeq(c.String("compare"), ",") {
		if name = strings.TrimSpace(name); name == "" || slices.Contains(names, name) {
			return usagef("--compare takes the names of two plans or more: A,B")
		}
		names = append(names, name)
	}
	if len(names) < 2 {
		return usagef("--compare takes the names of two plans or more: A,B")
	}
	show := c.String("show")
	if !slices.Contains([]string{"", "plans", "years", "districts", "joints"}, show) {
		return usagef("--show is plans, years, districts or joints, not %q", show)
	}
	return reading(c, w, func(s *store.Store) error {
		var plans []*forecast.Plan
		for _, name := range names {
			p, err := forecast.KeptPlan(c.Context, s.Read(), name)
			if err != nil {
				return err
			}
			plans = append(plans, p)
		}
		together := show == "" && c.String("format") == "table"
		if show == "" {
			show = "joints"
		}
		if together || show == "plans" {
			if err := compareWhole(c, w, names, plans); err != nil {
				return err
			}
		}
		if together || show == "years" {
			if err := compareParts(c, w, "year", "spent", names, forecast.PlansByYear(plans...)); err != nil {
				return err
			}
		}
		if together || show == "districts" {
			if err := compareParts(c, w, "district", "jobs alone", names, forecast.PlansByDistrict(plans...)); err != nil {
				return err
			}
		}
		if together || show == "joints" {
			if err := compareJoints(c, w, names, plans); err != nil {
				return err
			}
		}
		notes(c, w, comparedNotes(names, plans)...)
		return nil
	})
}

func compareWhole(c *cli.Context, w world, names []string, plans []*forecast.Plan) error {
	out, err := newRows(c, w.out, column{name: "plan", heading: "plan", shrink: true}, column{name: "first_year", heading: "from"}, column{name: "last_year", heading: "to"},
		column{name: "jobs", heading: "jobs"}, column{name: "spent_nominal_usd", heading: "spent"}, column{name: "cost_present_usd", heading: "expected cost"},
		column{name: "saves_present_usd", heading: "saves over nothing"}, column{name: "gap_pct", heading: "above best %"})
	if err != nil {
		return err
	}
	for k, p := range plans {
		gap := 100 * (p.CostDollars - p.BoundDollars) / math.Max(p.CostDollars, 1)
		if err := out.add(names[k], p.FirstYear, p.LastYear(), len(p.Items), cents(int64(p.SpentCents())), dollars(p.CostDollars),
			dollars(p.IdleDollars-p.CostDollars), math.Round(1e3*gap)/1e3); err != nil {
			return err
		}
	}
	return closeSection(out, w)
}

// compareParts prints years or districts, with the jobs and money of each plan.
func compareParts(c *cli.Context, w world, what, spent string, names []string, parts []forecast.PlanPart) error {
	columns := []column{{name: what, heading: what}}
	for _, name := range names {
		columns = append(columns, column{name: "jobs_" + name, heading: name + ": jobs"}, column{name: "nominal_usd_" + name, heading: spent})
	}
	out, err := newRows(c, w.out, columns...)
	if err != nil {
		return err
	}
	for _, p := range parts {
		cells := []any{p.Name}
		for k := range names {
			cells = append(cells, p.Jobs[k], cents(p.Cents[k]))
		}
		if err := out.add(cells...); err != nil {
			return err
		}
	}
	return closeSection(out, w)
}

func compareJoints(c *cli.Context, w world, names []string, plans []*forecast.Plan) error {
	columns := []column{{name: "joint", heading: "joint"}, {name: "structure_number", heading: "bridge", shrink: true}, {name: "district", heading: "dist."}}
	for _, name := range names {
		columns = append(columns, column{name: name, heading: name, shrink: true})
	}
	out, err := newRows(c, w.out, columns...)
	if err != nil {
		return err
	}
	moves := forecast.Moves(plans...)
	for _, m := range moves {
		cells := []any{m.Tag, m.StructureNumber, m.District}
		for _, does := range m.Does {
			cells = append(cells, does)
		}
		if err := out.add(cells...); err != nil {
			return err
		}
	}
	if err := out.close(); err != nil || out.format != "table" {
		return err
	}
	fmt.Fprintf(w.out, "%s moved: the plans do not do the same there in the same years\n", plural(len(moves), "joint"))
	return nil
}

// closeSection ends one table of several.
func closeSection(out *rows, w world) error {
	if err := out.close(); err != nil || out.format != "table" {
		return err
	}
	fmt.Fprintln(w.out)
	return nil
}

// comparedNotes say what makes the plans hard to compare.
func comparedNotes(names []string, plans []*forecast.Plan) []string {
	lines := []string{"spent: nominal dollars, visits too; jobs alone: without the bridge visits. expected cost: present value for ever, constant dollars. above best: at most so far above the least cost that any plan could have."}
	for k, p := range plans[1:] {
		if first := plans[0]; p.AsOf != first.AsOf || p.FirstYear != first.FirstYear || p.LastYear() != first.LastYear() {
			lines = append(lines, fmt.Sprintf("%s is of %s for %d-%d, %s of %s for %d-%d: their costs do not compare",
				names[0], first.AsOf, first.FirstYear, first.LastYear(), names[k+1], p.AsOf, p.FirstYear, p.LastYear()))
		} else if math.Abs(p.IdleDollars-first.IdleDollars) > 0.5 {
			lines = append(lines, fmt.Sprintf("%s and %s are not of the same joints, data or targets: doing nothing costs %s there and %s here; their costs do not compare",
				names[0], names[k+1], money.FormatDollars(int64(100*first.IdleDollars)), money.FormatDollars(int64(100*p.IdleDollars))))
		}
	}
	return lines
}
