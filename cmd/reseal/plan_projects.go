package main

import (
	"cmp"
	"fmt"
	"slices"

	"github.com/urfave/cli/v2"

	"reseal/forecast"
	"reseal/forecast/money"
)

// planProjects prints the committed bridge projects, that whose delay costs most
// first.
func planProjects(c *cli.Context, w world, p *forecast.Problem) error {
	out, err := newRows(c, w.out, column{name: "state"}, column{name: "structure_number", heading: "structure", shrink: true}, column{name: "route", heading: "route"},
		column{name: "project", heading: "project"}, column{name: "year", heading: "year"}, column{name: "joints", heading: "joints"},
		column{name: "until_present_usd", heading: "harm until then"}, column{name: "late_present_usd", heading: "more if a year late"})
	if err != nil {
		return err
	}
	risks := slices.Clone(p.Risks)
	slices.SortStableFunc(risks, func(a, b forecast.ProjectRisk) int { return cmp.Compare(b.LateDollars, a.LateDollars) })
	for _, r := range risks {
		if err := out.add(r.State, r.StructureNumber, r.Route, r.Kind, r.Year, r.Joints, dollars(r.UntilDollars), dollars(r.LateDollars)); err != nil {
			return err
		}
	}
	if err := out.close(); err != nil {
		return err
	}
	notes(c, w, risksNote(p), fmt.Sprintf("harm is that of the seals in place, left alone from %d to the middle of the project's year, and in the year after it: present values, constant dollars of %d. The project's own money is not counted.", p.FirstYear, p.PriceYear))
	return nil
}

// risksNote sums up what waiting for committed projects costs.
func risksNote(p *forecast.Problem) string {
	joints, until, late := 0, 0.0, 0.0
	for _, r := range p.Risks {
		joints += r.Joints
		until += r.UntilDollars
		late += r.LateDollars
	}
	if joints == 0 {
		return "no committed bridge project renews a joint in these years"
	}
	return fmt.Sprintf("%s at %s for a committed bridge project: left alone until then they are expected to do harm of %s, and %s more if every project comes a year late (see --projects)",
		map[bool]string{true: "1 joint waits", false: fmt.Sprintf("%d joints wait", joints)}[joints == 1], plural(len(p.Risks), "bridge"),
		money.FormatDollars(int64(100*until)), money.FormatDollars(int64(100*late)))
}
