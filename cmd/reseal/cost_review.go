package main

import (
	"fmt"
	"math"

	"github.com/urfave/cli/v2"

	"reseal/forecast"
	"reseal/forecast/money"
	"reseal/inventory"
	"reseal/inventory/store"
)

// reviewYears is how far back actual costs are looked at unless --from says.
const reviewYears = 5

// costReview compares actual costs with the estimates.
func costReview(c *cli.Context, w world) error {
	if c.Args().Present() {
		return usagef("cost --review takes no joint; choose with --district and --from")
	}
	return projecting(c, w, func(s *store.Store, m *forecast.Model, t *forecast.Tables, o forecast.Options) error {
		from := o.AsOf.AddMonths(-12 * reviewYears)
		if text := c.String("from"); text != "" {
			var err error
			if from, err = inventory.ParseDate(text); err != nil {
				return usagef("--from: %w", err)
			}
		}
		r, err := m.ReviewCosts(c.Context, s.Read(), from, o.AsOf, c.String("district"))
		if err != nil {
			return err
		}
		out, err := newRows(c, w.out, column{name: "treatment", heading: "treatment", shrink: true}, column{name: "district", heading: "district", shrink: true},
			column{name: "jobs", heading: "jobs"}, column{name: "estimated_nominal_usd", heading: "estimated"}, column{name: "actual_nominal_usd", heading: "actual"},
			column{name: "ratio", heading: "ratio"}, column{name: "ratio_lower_quartile", heading: "25 %"},
			column{name: "ratio_median", heading: "50 %"}, column{name: "ratio_upper_quartile", heading: "75 %"})
		if err != nil {
			return err
		}
		add := func(v money.Review) error {
			round := func(v float64) float64 { return math.Round(v*1000) / 1000 }
			return out.add(v.Treatment, v.District, v.Jobs, cents(v.Estimated), cents(v.Actual), round(v.Ratio),
				round(v.LowerQuartile), round(v.MedianRatio), round(v.UpperQuartile))
		}
		for _, v := range r.Rows {
			if err := add(v); err != nil {
				return err
			}
		}
		if len(r.Rows) > 0 {
			r.All.Treatment, r.All.District = "all treatments", "all districts"
			if err := add(r.All); err != nil {
				return err
			}
		}
		if err := out.close(); err != nil {
			return err
		}
		notes(c, w, reviewNotes(r, from, o.AsOf)...)
		notes(c, w, illustrativeNote(t.Illustrative(), "treatments"))
		return nil
	})
}

func reviewNotes(r *forecast.CostReview, from, through inventory.Date) []string {
	lines := []string{
		fmt.Sprintf("work done from %s through %s; ratio: actual over estimated, nominal dollars of the year of the work; 25, 50 and 75 %% of the jobs lie below these ratios.", from, through),
		fmt.Sprintf("estimated: as approved for %s, by the present tables for %s, as one visit for the joints of a bridge done on one day.",
			plural(r.Approved, "job"), plural(r.All.Jobs-r.Approved, "job")),
	}
	for _, left := range []struct {
		n   int
		why string
	}{{r.NoCost, "its cost is not on record"}, {r.NoTable, "its treatment is not in the table"}, {r.NoLength, "its length is not on record"}} {
		if left.n > 0 {
			lines = append(lines, fmt.Sprintf("left out: work of %s because %s", plural(left.n, "joint"), left.why))
		}
	}
	return lines
}
