package main

import (
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/forecast"
	"reseal/inventory"
	"reseal/inventory/store"
)

func forecastJoint(c *cli.Context, w world, ref string) error {
	return projecting(c, w, func(s *store.Store, m *forecast.Model, t *forecast.Tables, o forecast.Options) error {
		found, err := inventory.FindJoint(c.Context, s.Read(), ref)
		if err != nil {
			return err
		}
		j, err := m.One(c.Context, s.Read(), found.ID, o)
		if err != nil {
			return err
		}
		if j.Forecast == nil {
			return store.Invalid("log an inspection with reseal inspect, or put the seal's installation date on record",
				"joint %s has no forecast: %s", j.Tag, j.Reason)
		}
		bands, err := m.Bands(j.Record, j.Forecast)
		if err != nil {
			return err
		}
		if c.String("format") == "table" {
			head(w.out, j)
		}
		if err := jointYears(c, w, j.Forecast, bands); err != nil {
			return err
		}
		if c.String("format") == "table" {
			notes(c, w, bandLegend)
		}
		planned(c, w, j.Planned())
		if j.Illustrative {
			notes(c, w, illustrativeNote(t.Illustrative(), "life_table"))
		}
		return nil
	})
}

// planned lists the work that a joint's forecast takes in.
func planned(c *cli.Context, w world, work []forecast.PlannedWork) {
	if c.String("plan") == "" {
		return
	}
	if !slices.ContainsFunc(work, func(p forecast.PlannedWork) bool { return !p.Project }) {
		notes(c, w, fmt.Sprintf("plan %s has no work for this joint", c.String("plan")))
	}
	for _, p := range work {
		how := "planned in %d: %s, taken to be done in the middle of the year"
		if p.Project {
			how = "committed in %d: %s of the bridge, outside the plan, taken to renew the joint in the middle of the year"
		}
		notes(c, w, fmt.Sprintf(how, p.Year, p.Treatment))
	}
}

// jointYears prints a joint's years: shares with their bands, and failure.
func jointYears(c *cli.Context, w world, f *forecast.Forecast, bands []forecast.ShareBand) error {
	columns := []column{{name: "year", heading: "end of"}}
	table := c.String("format") == "table"
	for state := 1; state <= 4; state++ {
		columns = append(columns, stateColumns(table, state)...)
	}
	columns = append(columns, column{name: "failed_probability", heading: "failed %"})
	if table {
		columns = append(columns, column{heading: "0 to 100 %"})
	}
	out, err := newRows(c, w.out, columns...)
	if err != nil {
		return err
	}
	for i, year := range f.Years {
		cells := []any{year}
		for s := range 4 {
			cells = append(cells, stateCells(table, f.Shares[i][s], bands[i].Low[s], bands[i].High[s])...)
		}
		cells = append(cells, percent(out, f.Failed[i]))
		if table {
			cells = append(cells, strings.Repeat("█", int(math.Round(25*f.Failed[i])))+" ")
		}
		if err := out.add(cells...); err != nil {
			return err
		}
	}
	return out.close()
}

// stateColumns are those of a state's share and its band: one for people, three
// for programs.
func stateColumns(table bool, state int) []column {
	if table {
		return []column{{heading: fmt.Sprintf("CS%d %%", state)}}
	}
	name := fmt.Sprintf("cs%d", state)
	return []column{{name: name}, {name: name + "_10"}, {name: name + "_90"}}
}

func stateCells(table bool, mean, low, high float64) []any {
	if table {
		return []any{fmt.Sprintf("%.0f (%.0f–%.0f)", 100*mean, 100*low, 100*high)}
	}
	return []any{part(mean), part(low), part(high)}
}

// forecastCondition prints the condition of the joints chosen, year by year.
func forecastCondition(c *cli.Context, w world) error {
	return projecting(c, w, func(s *store.Store, m *forecast.Model, t *forecast.Tables, o forecast.Options) error {
		n, err := m.NewNetwork(c.Context, s.Read(), o)
		if err != nil {
			return err
		}
		table := c.String("format") == "table"
		if table {
			fmt.Fprintf(w.out, "%s, %s ft, as of %s, %s\n", plural(n.Joints, "joint"), pretty(math.Round(n.Feet)), o.AsOf, workWords(c, n))
		}
		columns := []column{{name: "year", heading: "end of"}}
		for state := 1; state <= 4; state++ {
			columns = append(columns, stateColumns(table, state)...)
		}
		if table {
			columns = append(columns, column{heading: "failed joints"}, column{heading: "CS1 ░ CS2 ▒ CS3 ▓ CS4 █"})
		} else {
			columns = append(columns, column{name: "failed"}, column{name: "failed_10"}, column{name: "failed_90"})
		}
		out, err := newRows(c, w.out, columns...)
		if err != nil {
			return err
		}
		for _, y := range n.Years {
			cells := []any{y.Year}
			for k := range 4 {
				cells = append(cells, stateCells(table, y.Shares[k], y.Low[k], y.High[k])...)
			}
			if table {
				cells = append(cells, fmt.Sprintf("%.0f (%.0f–%.0f)", y.Failed, y.FailedLow, y.FailedHigh), stateBar(y.Shares))
			} else {
				cells = append(cells, part(y.Failed), part(y.FailedLow), part(y.FailedHigh))
			}
			if err := out.add(cells...); err != nil {
				return err
			}
		}
		if err := out.close(); err != nil {
			return err
		}
		if table {
			notes(c, w, bandLegend)
		}
		notes(c, w, conditionNotes(n)...)
		notes(c, w, illustrativeNote(t.Illustrative(), "life_table"))
		return nil
	})
}

func workWords(c *cli.Context, n *forecast.Network) string {
	if name := c.String("plan"); name != "" {
		words := fmt.Sprintf("with plan %s, which treats %d of them", name, n.Planned)
		if n.Projects > 0 {
			words += fmt.Sprintf(", and committed bridge projects, which renew %d", n.Projects)
		}
		return words
	}
	return "if no work is done, committed bridge projects neither"
}

// conditionNotes say what the figures leave out.
func conditionNotes(n *forecast.Network) (words []string) {
	if n.NoLength > 0 {
		words = append(words, fmt.Sprintf("%s without a length on record: not in the shares", plural(n.NoLength, "joint")))
	}
	for _, reason := range slices.Sorted(maps.Keys(n.NoForecast)) {
		words = append(words, fmt.Sprintf("%s left out: %s", plural(n.NoForecast[reason], "joint"), reason))
	}
	bands := "the bands hold the chance in how each joint wears and what the fit leaves unknown of the rates"
	if n.Draws == 0 {
		bands = "the bands hold the chance in how each joint wears, and leave out the error of the life table"
	}
	return append(words, bands+"; reseal budget counts committed bridge projects too, and its bands the errors that it names")
}

// bandLegend says how a share and its band are written.
const bandLegend = "CS1 % to CS4 %: mean (10 %–90 %); where a state is unlikely the mean can lie outside its band"

// stateBar draws shares in 25 characters.
func stateBar(shares [4]float64) string {
	const wide = 25
	bar, sum := "", 0.0
	for k, mark := range []string{"░", "▒", "▓", "█"} {
		before := math.Round(wide * sum)
		sum += shares[k]
		bar += strings.Repeat(mark, int(math.Round(wide*sum)-before))
	}
	return bar
}

func head(out io.Writer, j forecast.Projected) {
	fmt.Fprintf(out, "Joint %s, %s of bridge %s", j.Tag, j.Place, j.Bridge.StructureNumber)
	if j.LengthFt > 0 {
		fmt.Fprintf(out, ", %s ft", pretty(j.LengthFt))
	}
	fmt.Fprintf(out, ", %s\nbasis: %s\n", j.Kind, j.Basis)
	if math.Abs(j.Pace-1) > 1e-9 {
		fmt.Fprintf(out, "wears %.2f times as fast as its kind, by its own inspections\n", j.Pace)
	}
	when := func(year int) string {
		if year == 0 {
			return fmt.Sprintf("after %d", j.Years[len(j.Years)-1])
		}
		return fmt.Sprint(year)
	}
	year := j.ReplaceYear
	if year == 0 {
		year = j.Years[len(j.Years)-1]
	}
	if words := j.Driver(year); words != "" {
		fmt.Fprintf(out, "what drives it: %s\n", words)
	}
	if j.NowFailed >= 0.5 {
		fmt.Fprintf(out, "failed by %s with a probability of %.0f %%\n\n", j.AsOf, 100*j.NowFailed)
		return
	}
	in := ""
	if j.ReplaceYear != 0 {
		in = "in "
	}
	fmt.Fprintf(out, "replace %s%s (10 %%: %s, 90 %%: %s)\n\n", in, when(j.ReplaceYear), when(j.EarlyYear), when(j.LateYear))
}
