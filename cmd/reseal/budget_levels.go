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

// budgetLevels solves the plan at several levels of money and prints them side
// by side.
func budgetLevels(c *cli.Context, w world) error {
	var levels []float64
	for text := range strings.SplitSeq(c.String("levels"), ",") {
		v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
		if err != nil || !(v >= 0 && v <= 1000) {
			return usagef("--levels is per cent of the budgets, for example 80,100,120, not %q", c.String("levels"))
		}
		levels = append(levels, v/100)
	}
	return projecting(c, w, func(s *store.Store, m *forecast.Model, t *forecast.Tables, o forecast.Options) error {
		p, err := problem(c, s, m, o)
		if err != nil {
			return err
		}
		if !p.Limited() {
			return store.Invalid("give --yearly, or put them in with: reseal settings table import budgets FILE", "no budget of these years is on record")
		}
		need, err := p.Unlimited()
		if err != nil {
			return err
		}
		plans, err := p.Levels(levels)
		if err != nil && !errors.Is(err, plan.ErrInfeasible) {
			return err
		}
		out, err2 := newRows(c, w.out, column{name: "level_pct", heading: "level %"}, column{name: "planned_nominal_usd", heading: "planned"},
			column{name: "deferred_nominal_usd", heading: "deferred"}, column{name: "jobs", heading: "jobs"},
			column{name: "failed_at_end", heading: "failed at end"}, column{name: "cost_present_usd", heading: "expected cost"},
			column{name: "over_need_present_usd", heading: "more than need"}, column{name: "gap_pct", heading: "gap %"}, column{name: "feasible"})
		if err2 != nil {
			return err2
		}
		add := func(level any, solved *forecast.Plan) error {
			return out.add(level, cents(solved.SpentCents()), cents(solved.DeferredCents(need)), len(solved.Items), math.Round(10*solved.FailedEnd)/10,
				dollars(solved.CostDollars), dollars(solved.CostDollars-need.CostDollars), math.Round(1e3*solved.GapPct)/1e3, solved.Shortfall == nil)
		}
		for i, solved := range plans {
			if err := add(100*levels[i], solved); err != nil {
				return err
			}
		}
		if err := add("need", need); err != nil {
			return err
		}
		if err := out.close(); err != nil {
			return err
		}
		last := p.FirstYear + p.Instance.Years - 1
		notes(c, w, noForecast(p.NoForecast, p.NoLength)...)
		notes(c, w,
			fmt.Sprintf("planned and deferred: nominal dollars of %d-%d; deferred is what the need spends on bridges where less is planned, so that more on one bridge, as late work can cost, makes up for nothing on another. failed at end: joints expected to have failed at the end of %d. expected cost: present value for ever, constant dollars of %d.",
				p.FirstYear, last, last, p.PriceYear),
			illustrativeNote(p.Illustrative, "life_table", "treatments", "consequences"))
		return err
	})
}
