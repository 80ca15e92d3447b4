package main

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

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
		text := fmt.Sprintf("the budget of %s ends here: %s for %s, %s left; %s would take %s more",
			money.FormatDollars(list.BudgetCents), spent, plural(list.Line, "joint"), money.FormatDollars(list.BudgetCents-list.SpentCents),
			next.Tag, money.FormatDollars(next.CumulativeCents-list.BudgetCents))
		fmt.Fprintf(w.out, "%s\n%s\n%s\n", strings.Repeat("─", tableWidth), text, strings.Repeat("─", tableWidth))
	}
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

// leftOut says which joints could not be judged.
func leftOut(list *forecast.WorkList) []string {
	lines := noForecast(list.NoForecast, list.NoLength)
	if list.WaitingPays > 0 {
		lines = append(lines, fmt.Sprintf("not listed: %s whose waiting another year costs nothing", plural(list.WaitingPays, "joint")))
	}
	if list.ByProject > 0 {
		lines = append(lines, fmt.Sprintf("not listed: %s that a committed bridge project renews soon enough", plural(list.ByProject, "joint")))
	}
	if list.ByWarranty > 0 {
		lines = append(lines, fmt.Sprintf("not listed: %s to be claimed under warranty; see reseal claim", plural(list.ByWarranty, "joint")))
	}
	if list.NoDeicing > 0 {
		lines = append(lines, fmt.Sprintf("assumed: %s deicing at %s whose bridge has none on record",
			forecast.AssumedDeicing, plural(list.NoDeicing, "joint")))
	}
	return lines
}

// noForecast says how many joints count for nothing, by reason.
func noForecast(reasons map[forecast.Reason]int, noLength int) (lines []string) {
	for _, reason := range slices.Sorted(maps.Keys(reasons)) {
		lines = append(lines, fmt.Sprintf("left out: %s %s", plural(reasons[reason], "joint"), reason))
	}
	if noLength > 0 {
		lines = append(lines, fmt.Sprintf("left out: %s without a length on record, and so without a cost", plural(noLength, "joint")))
	}
	return lines
}

// wrap breaks text between words into lines of at most width.
func wrap(text string, width int) (lines []string) {
	line := ""
	for word := range strings.FieldsSeq(text) {
		if line != "" && len(line)+1+len(word) > width {
			lines, line = append(lines, line), ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	return append(lines, line)
}
