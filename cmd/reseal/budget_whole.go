package main

import (
	"fmt"
	"math"
	"slices"

	"github.com/urfave/cli/v2"

	"reseal/forecast"
)

// wholeRows are the parts of the rows asked for that are quantities for a whole
// bridge; nil where there are none.
func (p *projection) wholeRows(c *cli.Context) []forecast.WholeRow {
	return forecast.WholeRows(p.needRows(c), p.planned())
}

// planned are the years under the plan, or none.
func (p *projection) planned() []forecast.Standing {
	if p.plan == nil || len(p.standings.Plans) == 0 {
		return nil
	}
	return p.standings.Plans[0]
}

// allYears names the row of all years together.
func (p *projection) allYears() string {
	return fmt.Sprintf("%d-%d", p.FirstYear, p.FirstYear+p.Years-1)
}

// yearOf names a row's year.
func (p *projection) yearOf(year int) any {
	if year == 0 {
		return p.allYears()
	}
	return year
}

// wholeTable prints how much is quantities for a whole bridge, for people.
func (p *projection) wholeTable(c *cli.Context, w world) error {
	all := p.wholeRows(c)
	if all == nil {
		return nil
	}
	fmt.Fprintln(w.out)
	notes(c, w, forecast.WholeWords)
	columns := []column{{heading: c.String("per"), shrink: true}, {heading: "year"}, {heading: "need, ft"}, {heading: "need $"}}
	if p.plan != nil {
		columns = append(columns, column{heading: "planned, ft"}, column{heading: "planned $"})
	}
	out, err := newRows(c, w.out, columns...)
	if err != nil {
		return err
	}
	for _, r := range all {
		cells := []any{groupName(r.Group, r.Network), p.yearOf(r.Year), whole(r.Need.Feet), cents(r.Need.Cost), whole(r.Planned.Feet), cents(r.Planned.Cost)}
		if err := out.add(cells[:len(columns)]...); err != nil {
			return err
		}
	}
	return out.close()
}

// wholeColumns name the values of wholeCells.
func (p *projection) wholeColumns() []column {
	columns := []column{{name: "whole_bridge_feet"}, {name: "whole_bridge_nominal_usd"}}
	if p.plan != nil {
		columns = append(columns, column{name: "planned_whole_bridge_feet"}, column{name: "planned_whole_bridge_nominal_usd"})
	}
	return columns
}

func (p *projection) wholeCells(r *forecast.WholeRow) []any {
	tenth := func(v float64) any { return math.Round(10*v) / 10 }
	cells := []any{tenth(r.Need.Feet), cents(r.Need.Cost)}
	if p.plan != nil {
		cells = append(cells, tenth(r.Planned.Feet), cents(r.Planned.Cost))
	}
	return cells
}

func (p *projection) wholeHeadings(c *cli.Context) []sheetColumn {
	columns := []sheetColumn{{groupHeading(c), asText}, {"year", asYear}, {"need, feet", asCount}, {"need, nominal, visits aside", asDollars}}
	if p.plan != nil {
		columns = append(columns, sheetColumn{"planned, feet", asCount}, sheetColumn{"planned, nominal, visits aside", asDollars})
	}
	return columns
}

func (p *projection) wholeSheet(all []forecast.WholeRow) (out [][]any) {
	for i := range all {
		r := &all[i]
		out = append(out, append([]any{groupName(r.Group, r.Network), p.yearOf(r.Year)}, p.wholeCells(r)...))
	}
	return out
}

// wholeSummary writes the totals of the network, where there are any.
func (p *projection) wholeSummary(line func(bool, string, ...any)) {
	all := forecast.WholeRows(p.Network, p.planned())
	if all == nil {
		return
	}
	sum := all[len(all)-1] // all years
	write := func(name string, w forecast.WholeBridges) {
		line(false, asDollars, name+", quantities for a whole bridge, nominal dollars without visits", cents(w.Cost))
		line(false, asCount, name+", quantities for a whole bridge, feet", w.Feet)
	}
	write("Of the need", sum.Need)
	if p.plan != nil {
		write("Of the planned work", sum.Planned)
	}
}

// wholes tells whether any level plans quantities for a whole bridge.
func (l *levelling) wholes() bool {
	return slices.ContainsFunc(l.levels, func(v level) bool { jobs, _ := v.plan.WholeBridges(); return jobs > 0 })
}

// levelWholes prints how much of each level's plan is quantities for a whole bridge.
func levelWholes(c *cli.Context, w world, l *levelling) error {
	if !l.wholes() {
		return nil
	}
	fmt.Fprintln(w.out)
	notes(c, w, forecast.WholeWords)
	out, err := newRows(c, w.out, column{heading: "level %"}, column{heading: "jobs"}, column{heading: "planned, ft"}, column{heading: "planned $"})
	if err != nil {
		return err
	}
	for i := range l.levels {
		v := &l.levels[i]
		jobs, cost := v.plan.WholeBridges()
		feet := 0.0
		for _, s := range forecast.NetworkYears(v.all) {
			feet += s.Whole.Feet
		}
		if err := out.add(v.pct, jobs, whole(feet), cents(cost)); err != nil {
			return err
		}
	}
	return out.close()
}

// wholeSheet is a row for each level, group and year; nil where there is none.
func (l *levelling) wholeSheet(c *cli.Context) (out [][]any) {
	if !l.wholes() {
		return nil
	}
	for i := range l.levels {
		for _, s := range asked(c, l.levels[i].all) {
			out = append(out, []any{l.levels[i].name, groupName(s.Group, s.Network), s.Year, s.Whole.Feet, cents(s.Whole.Cost)})
		}
	}
	return out
}
