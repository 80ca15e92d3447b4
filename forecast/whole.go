package forecast

import "reseal/forecast/money"

// WholeBridges is the part of some work that is known only as quantities for a
// whole bridge, to be measured joint by joint before anything is let. Visits are
// left aside: the bridge's other joints may share them.
type WholeBridges struct {
	Feet float64       // of the joints that are worked on
	Cost money.Nominal // without visits
}

// None is true where no work is such a quantity.
func (w WholeBridges) None() bool { return w == WholeBridges{} }

func (w WholeBridges) and(more WholeBridges) WholeBridges {
	return WholeBridges{w.Feet + more.Feet, w.Cost + more.Cost}
}

// WholeRow is how much of a budget's row, and of what a plan does in its years, is
// quantities for a whole bridge.
type WholeRow struct {
	Group         string // as in the budget
	Network       bool
	Year          int // 0: all years together
	Need, Planned WholeBridges
}

// WholeWords say what the figures of WholeRows are.
const WholeWords = "of which quantities for a whole bridge, to be measured joint by joint before anything is let (feet, and nominal dollars without visits)"

// WholeRows are the rows of a budget in its order, beside those of a plan's
// standings in the same grouping; nil where neither has any such quantity.
func WholeRows(need []BudgetRow, planned []Standing) []WholeRow {
	type key struct {
		group   string
		network bool
		year    int
	}
	of := map[key]WholeBridges{}
	for _, s := range planned {
		for _, year := range []int{s.Year, 0} {
			k := key{s.Group, s.Network, year}
			of[k] = of[k].and(s.Whole)
		}
	}
	var out []WholeRow
	any := false
	for _, r := range need {
		row := WholeRow{r.Group, r.Network, r.Year, r.Whole, of[key{r.Group, r.Network, r.Year}]}
		any = any || !row.Need.None() || !row.Planned.None()
		out = append(out, row)
	}
	if !any {
		return nil
	}
	return out
}
