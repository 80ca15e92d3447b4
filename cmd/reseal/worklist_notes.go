package main

import (
	"fmt"
	"math"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/forecast"
	"reseal/forecast/money"
)

// theLine says where the budget ends.
func theLine(w world, list *forecast.WorkList) {
	spent := money.FormatDollars(list.SpentCents)
	switch {
	case list.BudgetCents == 0:
		fmt.Fprintf(w.out, "%s, %s nominal dollars in all\n", plural(len(list.Ranked), "joint"), spent)
	case list.Line == len(list.Ranked):
		fmt.Fprintf(w.out, "the budget of %s reaches all %s: %s used\n",
			money.FormatDollars(list.BudgetCents), plural(list.Line, "joint"), spent)
	default:
		next := list.Ranked[list.Line]
		text := fmt.Sprintf("the budget of %s ends here: %s for %s, %s left and no job that fits; %s would take %s more",
			money.FormatDollars(list.BudgetCents), spent, plural(list.Line, "joint"), money.FormatDollars(list.BudgetCents-list.SpentCents),
			next.Tag, money.FormatDollars(next.CumulativeCents-list.BudgetCents))
		fmt.Fprintln(w.out, strings.Repeat("─", tableWidth))
		for _, l := range append(wrap(text, tableWidth), passedOver(list)...) {
			fmt.Fprintln(w.out, l)
		}
		fmt.Fprintln(w.out, strings.Repeat("─", tableWidth))
	}
}

// passedShown is how many of the joints passed over are named.
const passedShown = 5

// passedOver names the joints that did not fit when their turn came.
func passedOver(list *forecast.WorkList) []string {
	passed := list.PassedOver()
	if len(passed) == 0 {
		return nil
	}
	var names []string
	for _, i := range passed[:min(passedShown, len(passed))] {
		names = append(names, fmt.Sprintf("#%d %s", i.Rank, i.Tag))
	}
	text := strings.Join(names, ", ")
	if more := len(passed) - len(names); more > 0 {
		text += fmt.Sprintf(" and %d more", more)
	}
	return wrap("passed over for the next job that fits, as each costs more than was left at its turn: "+text, tableWidth)
}

// wholeShown is how many quantities for a whole bridge a table shows.
const wholeShown = 5

// wholePart lists what is known only as a quantity for a whole bridge.
func wholePart(c *cli.Context, w world, list *forecast.WorkList) error {
	if len(list.Whole) == 0 {
		return nil
	}
	fmt.Fprintf(w.out, "\nApart from the ranking and the budget: %s known only as a quantity for the whole bridge. Find the joints first:\n",
		plural(len(list.Whole), "length"))
	out, err := newRows(c, w.out, column{heading: "quantity"}, column{heading: "bridge", shrink: true}, column{heading: "route", shrink: true},
		column{heading: "mile"}, column{heading: "dist.", shrink: true}, column{heading: "ft"}, column{heading: "fail %"}, column{heading: "next step"})
	if err != nil {
		return err
	}
	items := list.Whole[:min(wholeShown, len(list.Whole))]
	for _, i := range items {
		if err := out.add(i.Tag, i.StructureNumber, i.Route, i.Milepost, i.District, known(i.LengthFt), failedPercent(out, i.FailedProbability),
			"reseal joint split "+i.Tag+" NUMBER"); err != nil {
			return err
		}
	}
	if err := out.close(); err != nil {
		return err
	}
	if more := len(list.Whole) - len(items); more > 0 {
		fmt.Fprintf(w.out, "and %d more; --format csv lists all\n", more)
	}
	return nil
}

// packagesShown is how many of the packages a table shows.
const packagesShown = 5

// afterList prints the packages, the swaps and what people decided.
func afterList(w world, list *forecast.WorkList) {
	if len(list.Packages) > 0 {
		saving := int64(0)
		for _, p := range list.Packages {
			saving += p.SavingCents
		}
		fmt.Fprintf(w.out, "\nOne visit for several joints of a bridge saves %s at %s:\n", money.FormatDollars(saving), plural(len(list.Packages), "bridge"))
		for _, p := range list.Packages[:min(packagesShown, len(list.Packages))] {
			writeWrapped(w, fmt.Sprintf("%s, %s: %s; cost %s, saves %s", p.StructureNumber, p.Route, strings.Join(p.Tags, " "),
				money.FormatDollars(p.CostCents), money.FormatDollars(p.SavingCents)))
		}
	}
	if len(list.Swaps) > 0 {
		fmt.Fprintln(w.out, "\nThe line moved at the least cost:")
		for _, s := range list.Swaps {
			cost := fmt.Sprintf("costs %s", money.FormatDollars(int64(100*s.Dollars)))
			if s.Dollars < 0 {
				cost = fmt.Sprintf("saves %s", money.FormatDollars(int64(-100*s.Dollars)))
			}
			writeWrapped(w, fmt.Sprintf("%s in place of %s %s by waiting", s.In, s.Out, cost))
		}
	}
	if len(list.Overrides) > 0 {
		fmt.Fprintf(w.out, "\nDecided by people, with what it costs against the list without it (constant dollars of %d):\n", list.PriceYear)
		for _, o := range list.Overrides {
			writeWrapped(w, fmt.Sprintf("%s %s: %s (%s: %s)", o.Tag, o.Words, money.FormatDollars(int64(math.Round(100*o.Dollars))), o.By, o.Reason))
		}
	}
}

func writeWrapped(w world, text string) {
	for i, l := range wrap(text, tableWidth-4) {
		fmt.Fprintln(w.out, strings.Repeat("  ", min(i, 1)+1)+l)
	}
}
