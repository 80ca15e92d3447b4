package main

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/forecast"
	"reseal/forecast/money"
	"reseal/inventory/store"
)

func comparePlans(c *cli.Context, w world) error {
	names := strings.Split(c.String("compare"), ",")
	if len(names) != 2 {
		return usagef("--compare takes two names: A,B")
	}
	return reading(c, w, func(s *store.Store) error {
		var plans [2]*forecast.Plan
		for i, name := range names {
			var err error
			if plans[i], err = forecast.KeptPlan(c.Context, s.Read(), strings.TrimSpace(name)); err != nil {
				return err
			}
		}
		moves := forecast.Moves(plans[0], plans[1])
		out, err := newRows(c, w.out, column{name: "joint", heading: "joint"}, column{name: "structure_number", heading: "bridge", shrink: true},
			column{name: "district", heading: "dist."}, column{name: "year_a", heading: names[0]}, column{name: "treatment_a", heading: "treatment", shrink: true},
			column{name: "year_b", heading: names[1]}, column{name: "treatment_b", heading: "treatment", shrink: true})
		if err != nil {
			return err
		}
		if out.format == "table" {
			compareYears(w, names, plans)
		}
		for _, m := range moves {
			if err := out.add(m.Tag, m.StructureNumber, m.District, yearOrNil(m.YearA), m.TreatmentA, yearOrNil(m.YearB), m.TreatmentB); err != nil {
				return err
			}
		}
		return out.close()
	})
}

// compareYears prints both plans' money and cost above the joints that moved.
func compareYears(w world, names []string, plans [2]*forecast.Plan) {
	spent := [2]map[int]int64{{}, {}}
	last := 0
	for i, p := range plans {
		for _, y := range p.Years {
			if y.Budget == "network" {
				spent[i][y.Year] = y.SpentCents
				last = max(last, y.Year)
			}
		}
	}
	fmt.Fprintf(w.out, "%-6s  %16s  %16s\n", "used", names[0], names[1])
	for y := min(plans[0].FirstYear, plans[1].FirstYear); y <= last; y++ {
		fmt.Fprintf(w.out, "%-6d  %16s  %16s\n", y, money.FormatDollars(spent[0][y]), money.FormatDollars(spent[1][y]))
	}
	fmt.Fprintf(w.out, "%-6s  %16s  %16s\n", "jobs", strconv.Itoa(len(plans[0].Items)), strconv.Itoa(len(plans[1].Items)))
	fmt.Fprintf(w.out, "%-6s  %16s  %16s\n\n", "cost", money.FormatDollars(int64(math.Round(100*plans[0].CostDollars))), money.FormatDollars(int64(math.Round(100*plans[1].CostDollars))))
}
