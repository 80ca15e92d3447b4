package main

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/forecast"
	"reseal/forecast/plan"
	"reseal/inventory/store"
)

// level is the plan at one share of the money; the last is that with no limit.
type level struct {
	name string // 80 %, or no limit
	pct  any    // 80, or no limit
	plan *forecast.Plan
	all  []forecast.Standing
}

// levelling is several levels of money side by side.
type levelling struct {
	problem *forecast.Problem
	levels  []level
	short   bool // a level meets not every condition
}

func percentOf(text string) (float64, error) {
	v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	return v / 100, err
}

// budgetLevels solves the plan at several levels of money and prints them side
// by side.
func budgetLevels(c *cli.Context, w world) error {
	levels, err := levelsOf(c)
	if err != nil {
		return err
	}
	switch {
	case c.Float64("target") >= 0:
		return usagef("--target goes without --levels")
	case c.String("per") != "" && !c.Bool("each-year") && c.String("output") == "":
		return usagef("with --levels, --per goes with --each-year or --output")
	}
	return projecting(c, w, func(s *store.Store, m *forecast.Model, t *forecast.Tables, o forecast.Options) error {
		p, err := problem(c, s, m, o)
		if err != nil {
			return err
		}
		l, err := solveLevels(c, s, m, o, p, levels)
		if err != nil {
			return err
		}
		switch {
		case c.String("output") != "":
			if err := budgetWorkbook(c, w, s, c.String("output"), nil, l, levelNotes(l, t)...); err != nil {
				return err
			}
		case c.Bool("each-year"):
			err = levelYears(c, w, l)
		default:
			err = levelTable(c, w, l)
		}
		if err != nil {
			return err
		}
		if c.String("output") == "" {
			notes(c, w, levelNotes(l, t)...)
		}
		if l.short {
			return plan.ErrInfeasible
		}
		return nil
	})
}

// solveLevels solves the plan at each level and with no limit, and follows the
// network under each.
func solveLevels(c *cli.Context, s *store.Store, m *forecast.Model, o forecast.Options, p *forecast.Problem, levels []float64) (*levelling, error) {
	by, err := grouping(c)
	if err != nil {
		return nil, err
	}
	if !p.Limited() {
		return nil, store.Invalid("give --yearly, or put them in with: reseal settings table import budgets FILE", "no budget of these years is on record")
	}
	plans, err := p.Levels(c.Context, levels)
	if err != nil && !errors.Is(err, plan.ErrInfeasible) {
		return nil, err
	}
	l := &levelling{problem: p, short: err != nil}
	need, err := p.Unlimited(c.Context)
	if err != nil {
		return nil, err
	}
	plans = append(plans, need)
	years := p.FirstYear + p.Instance.Years - m.YearOf(o.AsOf)
	st, err := m.NewStandings(c.Context, s.Read(), o, years, by, p, plans...)
	if err != nil {
		return nil, err
	}
	for i, one := range plans {
		v := level{name: "no limit", pct: "no limit", plan: one}
		if i < len(levels) {
			pct := math.Round(1e4*levels[i]) / 100
			v.name, v.pct = fmt.Sprintf("%g %%", pct), pct
		}
		for _, row := range st.Plans[i] {
			if row.Year >= p.FirstYear {
				v.all = append(v.all, row)
			}
		}
		l.levels = append(l.levels, v)
	}
	return l, nil
}

// end is where the network stands after the last year.
func (l *level) end() *forecast.Standing { return &l.all[len(l.all)-1] }

func levelTable(c *cli.Context, w world, l *levelling) error {
	table := c.String("format") == "table"
	columns := append([]column{
		{name: "level_pct", heading: "level %"},
		{name: "planned_nominal_usd", heading: "planned $"},
		{name: "jobs", heading: "jobs"},
		{name: "backlog_nominal_usd", heading: "backlog $"},
		{name: "backlog_nominal_p10_usd", heading: "10 %"},
		{name: "backlog_nominal_p90_usd", heading: "90 %"},
		{name: "backlog_feet", heading: "feet"},
		{name: "failed_at_end", heading: "failed"},
		{name: "failed_at_end_p10"},
		{name: "failed_at_end_p90"},
	}, severeColumns(table, "_at_end")...)
	out, err := newRows(c, w.out, append(columns,
		column{name: "cost_present_usd"}, column{name: "over_no_limit_present_usd", heading: "costs more"}, column{name: "gap_pct", heading: "over %"},
		column{name: "feasible"}, column{name: "whole_bridge_jobs"}, column{name: "whole_bridge_nominal_usd"})...)
	if err != nil {
		return err
	}
	least := l.levels[len(l.levels)-1].plan
	for i := range l.levels {
		v := &l.levels[i]
		end := v.end()
		jobs, cost := v.plan.WholeBridges()
		cells := []any{
			v.pct, cents(v.plan.SpentCents()), len(v.plan.Items), cents(math.Round(end.Backlog.Mean)),
			cents(math.Round(end.Backlog.Low)), cents(math.Round(end.Backlog.High)), expected(out, end.BacklogFeet.Mean), math.Round(10*end.Failed.Mean) / 10,
			math.Round(10*end.Failed.Low) / 10, math.Round(10*end.Failed.High) / 10,
		}
		cells = append(cells, severeCells(table, end)...)
		if err := out.add(append(cells, dollars(v.plan.CostDollars), dollars(v.plan.CostDollars-least.CostDollars), math.Round(1e3*v.plan.GapPct)/1e3, v.plan.Shortfall == nil, jobs, cents(cost))...); err != nil {
			return err
		}
	}
	if err := out.close(); err != nil || out.format != "table" {
		return err
	}
	return levelWholes(c, w, l)
}

// levelYears prints a row for each level, group and year.
func levelYears(c *cli.Context, w world, l *levelling) error {
	if c.String("format") == "table" {
		for i := range l.levels {
			v := &l.levels[i]
			fmt.Fprintf(w.out, "%sLevel %s\n", map[bool]string{true: "", false: "\n"}[i == 0], v.name)
			if err := standingTable(c, w, asked(c, v.all), true); err != nil {
				return err
			}
		}
		return nil
	}
	out, err := newRows(c, w.out, append([]column{
		{name: "level_pct"}, {name: "group"}, {name: "year"}, {name: "jobs"}, {name: "planned_nominal_usd"}, {name: "planned_nominal_p10_usd"}, {name: "planned_nominal_p90_usd"},
	}, append(standingColumns(""), column{name: "whole_bridge_feet"}, column{name: "whole_bridge_nominal_usd"})...)...)
	if err != nil {
		return err
	}
	for i := range l.levels {
		v := &l.levels[i]
		rows := asked(c, v.all)
		for k := range rows {
			s := &rows[k]
			cells := []any{v.pct, groupName(s.Group, s.Network), s.Year, s.Jobs, cents(s.Spent.Mean), cents(math.Round(s.Spent.Low)), cents(math.Round(s.Spent.High))}
			cells = append(cells, standingCells(s)...)
			if err := out.add(append(cells, math.Round(10*s.Whole.Feet)/10, cents(s.Whole.Cost))...); err != nil {
				return err
			}
		}
	}
	return out.close()
}

func levelNotes(l *levelling, t *forecast.Tables) []string {
	p := l.problem
	last := p.FirstYear + p.Instance.Years - 1
	return append(forecast.NotJudged(p.NoForecast, p.NoLength), l.levels[0].plan.OpenWords(),
		fmt.Sprintf("planned: nominal dollars of %d-%d. failed, CS4 and backlog: expected at the end of %d. costs more: expected cost for ever over that with no limit of money, present value, constant dollars of %d. over: at most so far above the least cost that any plan could have. With no limit seals are renewed when that costs least, some sooner, and are older by then: more can have failed than with less money.",
			p.FirstYear, last, last, p.PriceYear),
		t.Settings.Backlog()+".",
		t.BandWords(),
		illustrativeNote(p.Illustrative))
}
