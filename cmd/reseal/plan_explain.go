package main

import (
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/forecast"
)

// choicesShown is how many choices --explain lists besides the plan's own.
const choicesShown = 8

// explain tells why a joint is in the plan or not, and when: what people decided
// and found, and what each choice costs with all other joints left as planned.
func explain(c *cli.Context, w world, p *forecast.Problem, solved *forecast.Plan, tag string) error {
	about, err := p.About(tag)
	if err != nil {
		return err
	}
	choices, err := p.Explain(solved, tag, choicesShown)
	if err != nil {
		return err
	}
	for i, line := range about {
		about[i] = tag + " " + line
	}
	notes(c, w, about...)
	if len(about) > 0 && c.String("format") == "table" {
		fmt.Fprintln(w.out)
	}
	shared := column{name: "visit_shared_with", shrink: true}
	why := column{name: "not_chosen_for", shrink: true}
	var own forecast.Choice
	for _, o := range choices {
		if o.Chosen {
			own = o
		}
		if len(o.SharedWith) > 0 {
			shared.heading = "visit shared with"
		}
	}
	for _, o := range choices {
		if notChosenFor(o, own) != "" {
			why.heading = "not chosen, for"
		}
	}
	out, err := newRows(c, w.out, column{name: "chosen", heading: "planned"}, column{name: "what", heading: "what", shrink: true},
		column{name: "expected_cost_usd", heading: "expected cost"}, column{name: "budget_nominal_usd", heading: "work"},
		column{name: "visit_nominal_usd", heading: "visit"}, shared, column{name: "priced_usd", heading: "money priced"}, why)
	if err != nil {
		return err
	}
	for _, o := range choices {
		if err := out.add(o.Chosen, choiceWords(o), dollars(o.CostDollars), cents(o.BudgetCents), cents(o.VisitCents),
			strings.Join(o.SharedWith, " "), dollars(o.PricedDollars), notChosenFor(o, own)); err != nil {
			return err
		}
	}
	if err := out.close(); err != nil || out.format != "table" {
		return err
	}
	fmt.Fprintln(w.out)
	notes(c, w,
		"Expected cost: for ever, present value in constant dollars, with the visits to the bridge that the choice alone causes, all other joints left as planned.",
		"Work and visit: nominal dollars of the years' money. A visit that other joints of the bridge cause anyway costs nothing more.",
		"Money priced: expected cost, and its money at what a dollar of that year saves elsewhere. The plan takes what is least there, where no limit stands in the way.")
	return nil
}

// choiceWords say what is done and when.
func choiceWords(o forecast.Choice) string {
	if len(o.Words) == 0 {
		return "nothing within the horizon"
	}
	var steps []string
	for k, word := range o.Words {
		step := fmt.Sprintf("%s %d", word, o.Years[k])
		if o.Funds[k] != "" {
			step += " (" + o.Funds[k] + ")"
		}
		steps = append(steps, step)
	}
	return strings.Join(steps, ", then ")
}

// notChosenFor says what stands in the way of a choice that looks no dearer than the
// plan's own; empty where it is dearer.
func notChosenFor(o, own forecast.Choice) string {
	switch {
	case o.Chosen:
		return ""
	case o.Contract != "":
		return "would come to less than the minimum: " + o.Contract
	case o.PricedDollars >= own.PricedDollars:
		return ""
	case o.Short != "":
		return o.Short
	case o.CostDollars >= own.CostDollars:
		return "cheaper only at the price of money, an average of its year"
	}
	return "close: other joints would have to change too"
}
