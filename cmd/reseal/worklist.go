package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/cmd/reseal/layer"
	"reseal/forecast"
	"reseal/forecast/money"
	"reseal/inventory"
	"reseal/inventory/store"
)

// belowShown is how many items a table shows below the line.
const belowShown = 5

// caution goes with everything that sends people onto a deck to work.
const caution = layer.Caution

func worklistCommand(w world) *cli.Command {
	return &cli.Command{
		Name: "worklist", Usage: "rank the seals to renew in a year",
		Description: `Ranks the joints by the cost of waiting one year per dollar spent: the treatment
that costs least in the year done exactly one year later with the same follow-up,
less in the year, in constant dollars. It counts what a failed seal costs, the
life of the new seal and renewal at the best age for ever after.

Costs are nominal dollars of the year; a bridge's visit is shared by its joints
on the list. --budget goes to the joints by rank; one that costs more than is left
is passed over for the next that fits, and waits below the line. Without it the
year's row of the table budgets counts. A quantity for a whole bridge takes no
money: it stands apart, until joint split has found its joints. What people decided (see
reseal decide) is obeyed, and its price shown. Open severe findings and plates
stand first, apart from the ranking. All years are fiscal years.

--approve NAME keeps what stands above the line as a dated list.

example: reseal worklist --year 2027 --budget 400000 --district 3`,
		Flags: append(whereFlags(),
			&cli.IntFlag{Name: "year", Usage: "the fiscal `YEAR` of the work; next year if not given"},
			&cli.StringFlag{Name: "budget", Usage: "`DOLLARS` to spend, nominal"},
			&cli.StringFlag{Name: "as-of", Usage: "as seen on this `DATE`; today if not given"},
			&cli.IntFlag{Name: "limit", Usage: "show at most so `MANY` ranked rows"},
			&cli.StringFlag{Name: "approve", Usage: "keep the list under this `NAME`"},
			dryRunFlag,
			formatFlag),
		Action: func(c *cli.Context) error { return worklist(c, w) },
	}
}

// workListOptions reads --year and --budget; without a budget, that on record
// for the year counts.
func workListOptions(c *cli.Context, s *store.Store, m *forecast.Model, options forecast.Options) (forecast.WorkListOptions, error) {
	o := forecast.WorkListOptions{Options: options, Year: c.Int("year")}
	o.Filter.Limit = 0 // of rows shown, not of joints looked at
	if o.Year == 0 {
		o.Year = m.YearOf(o.AsOf) + 1
	}
	if text := c.String("budget"); text != "" {
		var err error
		if o.BudgetCents, err = money.Parse(text); err != nil || o.BudgetCents <= 0 {
			return o, usagef("--budget is dollars over 0, for example 400000, not %q", text)
		}
		return o, nil
	}
	var err error
	o.BudgetCents, err = forecast.BudgetOf(c.Context, s.Read(), o.Year, o.Filter.District)
	return o, err
}

// workLists are those made on one state of an inventory, for a run of several
// commands on it; a nil map keeps none.
type workLists map[workListKey]*forecast.WorkList

type workListKey struct {
	asOf        inventory.Date
	filter      inventory.Filter
	through     int
	year        int
	budgetCents int64
}

// workListOf makes the list that the command line asks for, or takes the one
// that is kept. Nobody may change it.
func workListOf(c *cli.Context, w world, s *store.Store, m *forecast.Model, options forecast.Options) (*forecast.WorkList, error) {
	o, err := workListOptions(c, s, m, options)
	if err != nil {
		return nil, err
	}
	key := workListKey{o.AsOf, o.Filter, o.ThroughYear, o.Year, o.BudgetCents}
	if list := w.lists[key]; list != nil {
		return list, nil
	}
	list, err := m.NewWorkList(c.Context, s.Read(), o)
	if err == nil && w.lists != nil {
		w.lists[key] = list
	}
	return list, err
}

func worklist(c *cli.Context, w world) error {
	if c.Args().Present() {
		return usagef("worklist takes no argument; choose joints with its flags")
	}
	return projecting(c, w, func(s *store.Store, m *forecast.Model, _ *forecast.Tables, options forecast.Options) error {
		list, err := workListOf(c, w, s, m, options)
		if err != nil {
			return err
		}
		if name := c.String("approve"); name != "" {
			if err := approve(c, w, s, list, name, options.AsOf); err != nil {
				return err
			}
		}
		if c.String("format") == "table" {
			err = worklistTable(c, w, list)
		} else {
			err = worklistRows(c, w, slices.Concat(list.Urgent, shown(c, list), list.Whole))
		}
		if err != nil {
			return err
		}
		notes(c, w, list.LeftOut()...)
		notes(c, w, illustrativeNote(list.Illustrative))
		fmt.Fprintln(w.err, caution)
		return nil
	})
}

// shown are the ranked items that --limit leaves.
func shown(c *cli.Context, list *forecast.WorkList) []forecast.WorkItem {
	if n := c.Int("limit"); n > 0 && n < len(list.Ranked) {
		return list.Ranked[:n]
	}
	return list.Ranked
}

func worklistColumns() []column {
	return []column{
		{name: "part"},
		{name: "rank", heading: "#"},
		{name: "tag", heading: "joint"},
		{name: "label"},
		{name: "state"},
		{name: "structure_number", heading: "bridge"},
		{name: "route", heading: "route", shrink: true},
		{name: "milepost", heading: "mile"},
		{name: "district", heading: "dist.", shrink: true},
		{name: "county"},
		{name: "facility_carried"},
		{name: "feature_crossed"},
		{name: "place"},
		{name: "seal_kind"},
		{name: "treatment", heading: "treatment", shrink: true},
		{name: "length_ft", heading: "ft"},
		{name: "lane_closures"},
		{name: "cost_nominal_usd", heading: "cost"},
		{name: "cumulative_nominal_usd"},
		{name: "wait_usd", heading: "waiting"},
		{name: "wait_per_dollar", heading: "/$1000"},
		{name: "failed_probability", heading: "fail %"},
		{name: "consequence_usd_a_year"},
		{name: "avoided_per_dollar"},
		{name: "failed_days_avoided"},
		{name: "best_year", heading: "best"},
		{name: "waiting_stops_paying"},
		{name: "pinned"},
		{name: "replace_year"},
		{name: "replace_year_10"},
		{name: "replace_year_90"},
		{name: "found_on"},
		{name: "reason"},
		{name: "notes"},
	}
}

func worklistRows(c *cli.Context, w world, items []forecast.WorkItem) error {
	out, err := newRows(c, w.out, worklistColumns()...)
	if err != nil {
		return err
	}
	for i := range items {
		if err := addWorkItem(out, &items[i]); err != nil {
			return err
		}
	}
	return out.close()
}

func addWorkItem(out *rows, i *forecast.WorkItem) error {
	ranked := func(v any) any {
		if i.Rank == 0 {
			return nil
		}
		return v
	}
	var lanes any
	if i.Lanes > 0 {
		lanes = i.Lanes
	}
	wait := any(part(i.WaitPerDollar))
	if out.format == "table" {
		wait = int(math.Round(1000 * i.WaitPerDollar))
	}
	return out.add(string(i.Part), ranked(i.Rank), i.Tag, i.Label, i.State, i.StructureNumber, i.Route, i.Milepost, i.District, i.County,
		i.FacilityCarried, i.FeatureCrossed, i.Place, i.Kind, i.Treatment, known(i.LengthFt), lanes,
		ranked(cents(i.CostCents)), ranked(cents(i.CumulativeCents)), ranked(dollars(i.WaitDollars)), ranked(wait),
		ranked(failedPercent(out, i.FailedProbability)), ranked(part(i.ConsequenceAYear)), ranked(part(i.AvoidedPerDollar)),
		ranked(math.Round(10*i.FailedDaysAvoided)/10), yearOrNil(i.BestYear), yearOrNil(i.StopsPaying), ranked(i.PinnedYear),
		yearOrNil(i.ReplaceYear), yearOrNil(i.EarlyYear), yearOrNil(i.LateYear), i.FoundOn, i.Reason, i.Notes)
}

// failedPercent is percent, but nothing that is projected is certain.
func failedPercent(out *rows, p float64) any {
	if out.format == "table" && p > 0.995 && p < 1-1e-6 {
		return ">99"
	}
	return percent(out, p)
}

// dollars is a computed amount as money.
func dollars(v float64) cents { return cents(math.Round(100 * v)) }

// worklistTable prints the list for people: each joint with its reason under
// it, the line, and what falls just below.
func worklistTable(c *cli.Context, w world, list *forecast.WorkList) error {
	if len(list.Urgent) > 0 {
		fmt.Fprintf(w.out, "First, apart from the ranking: %s for an engineer's review (open severe findings and plates)\n",
			plural(len(list.Urgent), "joint"))
		out, err := newRows(c, w.out, column{heading: "joint"}, column{heading: "bridge", shrink: true}, column{heading: "route", shrink: true},
			column{heading: "milepost"}, column{heading: "dist.", shrink: true}, column{heading: "open findings", shrink: true})
		if err != nil {
			return err
		}
		for _, i := range list.Urgent {
			if err := out.add(i.Tag, i.StructureNumber, i.Route, i.Milepost, i.District, i.Reason); err != nil {
				return err
			}
		}
		if err := out.close(); err != nil {
			return err
		}
		fmt.Fprintln(w.out)
	}
	if err := rankedPart(c, w, list); err != nil {
		return err
	}
	return wholePart(c, w, list)
}

func rankedPart(c *cli.Context, w world, list *forecast.WorkList) error {
	items := shown(c, list)
	if len(list.Ranked) == 0 {
		_, err := fmt.Fprintf(w.out, "No joint costs money by waiting from %d.\n", list.Year)
		return err
	}
	fmt.Fprintf(w.out, "Work in %d, ranked by the cost of waiting a year per $1000 spent. Cost: nominal dollars of %d;\nwaiting: constant dollars of %d; best: the year of least cost with no limit of money\n", list.Year, list.Year, list.PriceYear)
	if list.Line < len(list.Ranked) && len(items) > list.Line+belowShown {
		items = items[:list.Line+belowShown]
	}
	return rankedTable(c, w, list, items)
}

func rankedTable(c *cli.Context, w world, list *forecast.WorkList, items []forecast.WorkItem) error {
	out, err := newRows(c, w.out, worklistColumns()...)
	if err != nil {
		return err
	}
	for i := range items {
		if err := addWorkItem(out, &items[i]); err != nil {
			return err
		}
	}
	lines := out.table()
	fmt.Fprintln(w.out, strings.Join(lines[0], "\n"))
	for i, row := range lines[1:] {
		if i == list.Line {
			theLine(w, list)
		}
		fmt.Fprintln(w.out, strings.Join(row, "\n"))
		for _, l := range wrap(items[i].Reason, tableWidth-6) {
			fmt.Fprintln(w.out, "      "+l)
		}
		if items[i].Notes != "" {
			for _, l := range wrap("note: "+items[i].Notes, tableWidth-6) {
				fmt.Fprintln(w.out, "      "+l)
			}
		}
	}
	if more := list.Line - len(items); more > 0 {
		fmt.Fprintf(w.out, "and %d more, which --limit leaves out\n", more)
	}
	if len(items) <= list.Line {
		theLine(w, list)
	}
	if more := len(list.Ranked) - max(len(items), list.Line); more > 0 {
		fmt.Fprintf(w.out, "and %d more below the line; --format csv lists all\n", more)
	}
	afterList(w, list)
	return nil
}
