package main

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/forecast"
	"reseal/forecast/money"
	"reseal/forecast/plan"
	"reseal/inventory/store"
)

func budgetCommand(w world) *cli.Command {
	return &cli.Command{
		Name: "budget", Usage: "project what the coming years will cost",
		Description: `The need is what renewing every seal in the fiscal year in which it fails is expected
to cost, renewals of the new seals included: no limit of money. The first year
carries all that has failed already. Beside it stands what becomes of the network
where nothing is done and, where the table budgets or --yearly says how much money
there is, under the plan (reseal plan) for it: joints failed, length in CS4, and the
backlog, whose definition is printed.

The 10-90 % bands hold the chance of which seals fail when, an error of the rates (the
fit's own, or the setting life_error) and one common to all costs (cost_error).

What is known only as a quantity for a whole bridge stands apart too: it is to be
measured joint by joint before anything is let.

Steady: the yearly money that holds today's share failed, and with --target brings
it to a share within the years.

Nominal dollars are as paid in each year. Present values are constant dollars
discounted at the real rate to the start of the first year.

--levels solves the plan at several shares of the money in per cent and shows them
side by side with the plan that has no limit; --each-year shows their years.
--output FILE.xlsx makes a workbook with a summary sheet.

example: reseal budget --years 10 --per district
example: reseal budget --years 10 --yearly 1,500,000 --target 10 --output budget.xlsx
example: reseal budget --levels 80,100,120 --yearly 2,000,000 --each-year`,
		Flags: append(whereFlags(),
			&cli.IntFlag{Name: "years", Value: 10, Usage: "how `MANY` fiscal years, the present one first; with --levels the next one first"},
			&cli.StringFlag{Name: "per", Usage: "a row for each `GROUP` and year: district, route or kind of seal"},
			&cli.StringFlag{Name: "yearly", Usage: "nominal `DOLLARS` of each year, in place of the table budgets"},
			&cli.Float64Flag{Name: "target", Value: -1, DefaultText: "none", Usage: "the money for a share failed of so many `PERCENT` at the end"},
			&cli.StringFlag{Name: "levels", Usage: "plans side by side at these `PERCENT` of the budgets: 80,100,120"},
			&cli.BoolFlag{Name: "each-year", Usage: "with --levels: a row for each level and year, and group with --per"},
			&cli.IntFlag{Name: "from", Usage: "with --levels: the first fiscal `YEAR`; next year if not given"},
			&cli.StringFlag{Name: "output", Aliases: []string{"o"}, Usage: "write a workbook, `FILE`.xlsx"},
			&cli.StringFlag{Name: "as-of", Usage: "as seen on this `DATE`; today if not given"},
			formatFlag),
		Action: func(c *cli.Context) error { return budget(c, w) },
	}
}

// grouping reads --per; the network alone is by district too, which costs nothing.
func grouping(c *cli.Context) (forecast.Grouping, error) {
	switch g := forecast.Grouping(c.String("per")); g {
	case "":
		return forecast.ByDistrict, nil
	case forecast.ByDistrict, forecast.ByRoute, forecast.ByKind:
		return g, nil
	}
	return "", usagef("--per is district, route or kind, not %q", c.String("per"))
}

func budget(c *cli.Context, w world) error {
	switch {
	case c.Args().Present():
		return usagef("budget takes no argument; choose joints with its flags")
	case c.String("levels") != "":
		return budgetLevels(c, w)
	case c.Bool("each-year") || c.Int("from") != 0:
		return usagef("--each-year and --from go with --levels")
	case c.Float64("target") > 100:
		return usagef("--target is a share in per cent, 0 to 100")
	}
	return projecting(c, w, func(s *store.Store, m *forecast.Model, t *forecast.Tables, o forecast.Options) error {
		p, err := newProjection(c, s, m, t, o)
		if err != nil {
			return err
		}
		if file := c.String("output"); file != "" {
			return budgetWorkbook(c, w, s, file, p, nil)
		}
		if c.String("format") == "table" {
			err = p.tables(c, w)
		} else {
			err = p.rows(c, w)
		}
		if err == nil {
			notes(c, w, p.notes(c)...)
		}
		return err
	})
}

// projection is a budget with where the network stands.
type projection struct {
	*forecast.Budget
	standings *forecast.Standings
	plan      *forecast.Plan // nil: no money is given
	settings  forecast.Settings
	bands     string   // what the bands hold
	prices    string   // how they rise
	priced    []string // tables with starting values
}

func newProjection(c *cli.Context, s *store.Store, m *forecast.Model, t *forecast.Tables, o forecast.Options) (*projection, error) {
	by, err := grouping(c)
	if err != nil {
		return nil, err
	}
	years := c.Int("years")
	p := &projection{settings: t.Settings, bands: t.BandWords(), prices: t.PriceWords()}
	if p.Budget, err = m.NewBudget(c.Context, s.Read(), o, years, by); err != nil {
		return nil, err
	}
	p.priced = p.Illustrative
	var plans []*forecast.Plan
	var pr *forecast.Problem
	if years > 1 && years <= 31 {
		if pr, err = planFor(c, s, m, o, years-1); err != nil {
			return nil, err
		}
		if pr.Limited() {
			if p.plan, err = pr.Solve(c.Context); err != nil && !errors.Is(err, plan.ErrInfeasible) {
				return nil, err
			}
			plans, p.priced = []*forecast.Plan{p.plan}, pr.Illustrative
		}
	}
	p.standings, err = m.NewStandings(c.Context, s.Read(), o, years, by, pr, plans...)
	return p, err
}

// planFor lays out the plan of some years from the next one on, with the money of
// --yearly or the table.
func planFor(c *cli.Context, s *store.Store, m *forecast.Model, options forecast.Options, years int) (*forecast.Problem, error) {
	o := forecast.PlanOptions{Options: options, FirstYear: m.YearOf(options.AsOf) + 1, Years: years}
	if text := c.String("yearly"); text != "" {
		var err error
		if o.YearlyCents, err = money.Parse(text); err != nil || o.YearlyCents <= 0 {
			return nil, usagef("--yearly is dollars over 0, for example 2000000, not %q", text)
		}
	}
	return m.NewProblem(c.Context, s.Read(), o)
}

// needRows are those that the command line asks for.
func (p *projection) needRows(c *cli.Context) []forecast.BudgetRow {
	if c.String("per") == "" {
		return p.Network
	}
	return append(slices.Clone(p.Groups), p.Network...)
}

func asked(c *cli.Context, all []forecast.Standing) []forecast.Standing {
	if c.String("per") == "" {
		return forecast.NetworkYears(all)
	}
	return all
}

// groupName is what a row calls its group.
func groupName(name string, network bool) string {
	if network {
		return "all"
	}
	return name
}

// tables prints the need and where the network stands, for people.
func (p *projection) tables(c *cli.Context, w world) error {
	fmt.Fprintf(w.out, "Need: every seal renewed in the year in which it fails\n")
	out, err := newRows(c, w.out, column{heading: c.String("per"), shrink: true}, column{heading: "year"}, column{heading: "joints"}, column{heading: "feet"},
		column{heading: money.Nominal(0).Label()}, column{heading: "10 %"}, column{heading: "90 %"}, column{heading: money.Present(0).Label(p.FirstYear)})
	if err != nil {
		return err
	}
	for _, r := range p.needRows(c) {
		var year, low, high any = r.Year, cents(r.Low), cents(r.High)
		if r.Year == 0 {
			year, low, high = p.allYears(), nil, nil
		}
		if err := out.add(groupName(r.Group, r.Network), year, math.Round(10*r.Renewals)/10, expected(out, r.Feet), cents(r.Nominal), low, high, cents(r.Present)); err != nil {
			return err
		}
	}
	if err := out.close(); err != nil {
		return err
	}
	if err := p.wholeTable(c, w); err != nil {
		return err
	}
	fmt.Fprintln(w.out, "\nNothing done but committed bridge projects: where the network stands at the end of each year")
	if err := standingTable(c, w, asked(c, p.standings.Idle), false); err != nil || p.plan == nil {
		return err
	}
	fmt.Fprintln(w.out, "\nWith the plan for the money given")
	return standingTable(c, w, asked(c, p.standings.Plans[0]), true)
}

func standingTable(c *cli.Context, w world, all []forecast.Standing, planned bool) error {
	heading := ""
	if planned {
		heading = "planned $"
	}
	columns := append([]column{
		{heading: c.String("per"), shrink: true}, {heading: "year"}, {heading: heading}, {heading: "failed"}, {heading: "10 %"}, {heading: "90 %"},
	}, severeColumns(true, "")...)
	out, err := newRows(c, w.out, append(columns, column{heading: "backlog ft"}, column{heading: "backlog $"}, column{heading: "10 %"}, column{heading: "90 %"})...)
	if err != nil {
		return err
	}
	for i := range all {
		s := &all[i]
		cells := []any{groupName(s.Group, s.Network), s.Year, cents(s.Spent.Mean), whole(s.Failed.Mean), whole(s.Failed.Low), whole(s.Failed.High)}
		cells = append(cells, severeCells(true, s)...)
		if err := out.add(append(cells, whole(s.BacklogFeet.Mean), cents(s.Backlog.Mean), cents(s.Backlog.Low), cents(s.Backlog.High))...); err != nil {
			return err
		}
	}
	return out.close()
}

// severeColumns are the share of the length in CS4 with its band: in a table one
// column, the band in brackets, elsewhere three, of which end is the end of the names.
func severeColumns(table bool, end string) []column {
	if table {
		return []column{{heading: "CS4 %"}}
	}
	return []column{{name: "cs4" + end}, {name: "cs4" + end + "_p10"}, {name: "cs4" + end + "_p90"}}
}

func severeCells(table bool, s *forecast.Standing) []any {
	b := s.Severe()
	return stateCells(table, b.Mean, b.Low, b.High)
}

func whole(v float64) int { return int(math.Round(v)) }

// standingColumns name the values of standingCells, with what stands before them.
func standingColumns(prefix string) []column {
	var out []column
	for _, name := range []string{
		"failed", "failed_p10", "failed_p90", "cs1", "cs2", "cs3", "cs4", "cs4_p10", "cs4_p90", "backlog_feet", "backlog_feet_p10", "backlog_feet_p90",
		"backlog_nominal_usd", "backlog_nominal_p10_usd", "backlog_nominal_p90_usd",
	} {
		out = append(out, column{name: prefix + name})
	}
	return out
}

func standingCells(s *forecast.Standing) []any {
	tenth := func(v float64) any { return math.Round(10*v) / 10 }
	return []any{
		tenth(s.Failed.Mean), tenth(s.Failed.Low), tenth(s.Failed.High), part(s.States[0].Mean), part(s.States[1].Mean), part(s.States[2].Mean),
		part(s.Severe().Mean), part(s.Severe().Low), part(s.Severe().High),
		tenth(s.BacklogFeet.Mean), tenth(s.BacklogFeet.Low), tenth(s.BacklogFeet.High),
		cents(math.Round(s.Backlog.Mean)), cents(math.Round(s.Backlog.Low)), cents(math.Round(s.Backlog.High)),
	}
}

// rows prints everything of a group and year in one row.
func (p *projection) rows(c *cli.Context, w world) error {
	columns := []column{
		{name: "group"},
		{name: "year"},
		{name: "renewals"},
		{name: "feet"},
		{name: "nominal_mean_usd"},
		{name: "nominal_p10_usd"},
		{name: "nominal_p90_usd"},
		{name: "present_value_usd"},
		{name: "present_value_year"},
	}
	wholes := p.wholeRows(c)
	if wholes != nil {
		columns = append(columns, p.wholeColumns()...)
	}
	columns = append(columns, standingColumns("idle_")...)
	if p.plan != nil {
		columns = append(append(columns, column{name: "planned_jobs"}, column{name: "planned_nominal_usd"}), standingColumns("plan_")...)
	}
	out, err := newRows(c, w.out, columns...)
	if err != nil {
		return err
	}
	idle := asked(c, p.standings.Idle)
	var with []forecast.Standing
	if p.plan != nil {
		with = asked(c, p.standings.Plans[0])
	}
	at := 0 // the next standing; rows of all years have none
	for i, r := range p.needRows(c) {
		cells := []any{groupName(r.Group, r.Network), r.Year, math.Round(10*r.Renewals) / 10, expected(out, r.Feet), cents(r.Nominal), cents(r.Low), cents(r.High), cents(r.Present), p.FirstYear}
		if wholes != nil {
			cells = append(cells, p.wholeCells(&wholes[i])...)
		}
		if r.Year == 0 {
			cells[1], cells[5], cells[6] = p.allYears(), nil, nil
			cells = append(cells, make([]any, len(columns)-len(cells))...)
		} else {
			cells = append(cells, standingCells(&idle[at])...)
			if with != nil {
				cells = append(append(cells, with[at].Jobs, cents(with[at].Spent.Mean)), standingCells(&with[at])...)
			}
			at++
		}
		if err := out.add(cells...); err != nil {
			return err
		}
	}
	return out.close()
}

// steadyWords are the yearly money that holds the share failed, and that for a
// target.
func (p *projection) steadyWords(c *cli.Context) []string {
	s := p.Steady
	if p.Years < 2 || s.Whole == 0 {
		return nil
	}
	lines := []string{fmt.Sprintf("steady: $%s a year, constant dollars of %d, hold today's %.1f %% failed (by the cost of renewal): renewing as many as fail.",
		money.FormatDollars(int64(s.Hold())), p.FirstYear, 100*s.FailedShare)}
	if t := c.Float64("target"); t >= 0 {
		lines = append(lines, fmt.Sprintf("target: $%s a year bring it to %.3g %% by the end of %d.", money.FormatDollars(int64(s.Reach(t/100))), t, p.FirstYear+p.Years-1))
	}
	return lines
}

// notes say what the figures rest on.
func (p *projection) notes(c *cli.Context) []string {
	lines := append(p.steadyWords(c), p.settings.Backlog()+".")
	lines = append(lines, forecast.NotJudged(p.NoForecast, p.NoLength)...)
	if p.Claims > 0 {
		lines = append(lines, fmt.Sprintf("not in the need: %.1f renewals expected inside warranties, which are claimed; see reseal claim", p.Claims))
	}
	if p.plan == nil {
		lines = append(lines, "no money is given for the plan: use --yearly, or reseal settings table import budgets FILE")
	} else {
		if p.plan.Shortfall != nil {
			lines = append(lines, "no plan meets every condition: "+p.plan.Missing)
		}
		lines = append(lines, p.plan.OpenWords())
	}
	return append(lines,
		fmt.Sprintf("%d holds all that has failed already. %s.", p.FirstYear, p.prices),
		p.bands,
		illustrativeNote(p.priced))
}

// expected is a mean count: whole in a table, to a tenth elsewhere.
func expected(out *rows, v float64) any {
	if out.format == "table" {
		return int(math.Round(v))
	}
	return math.Round(v*10) / 10
}

// levelsOf reads --levels as shares.
func levelsOf(c *cli.Context) (levels []float64, err error) {
	for text := range strings.SplitSeq(c.String("levels"), ",") {
		v, err := percentOf(text)
		if err != nil || !(v >= 0 && v <= 10) {
			return nil, usagef("--levels is per cent of the budgets, for example 80,100,120, not %q", c.String("levels"))
		}
		levels = append(levels, v)
	}
	return levels, nil
}
