package main

import (
	"errors"
	"fmt"
	"slices"

	"github.com/urfave/cli/v2"

	"reseal/condition"
	"reseal/inventory"
	"reseal/inventory/store"
)

// errUnsound ends check --strict when something was found.
var errUnsound = errors.New("the data have faults")

func checkCommand(w world) *cli.Command {
	return &cli.Command{
		Name:        "check",
		Usage:       "what is missing or contradictory in the data, worst first",
		Description: "Counts by rule, with what to do; --cases lists each joint or bridge.\n\nexample: reseal check\nexample: reseal check --cases --rule \"plate in place\"",
		Flags: []cli.Flag{
			&cli.BoolFlag{Name: "cases", Usage: "list each case"},
			&cli.StringFlag{Name: "rule", Usage: "only the rule with this `NAME`"},
			&cli.BoolFlag{Name: "strict", Usage: "exit 1 if anything is found"},
			formatFlag,
		},
		Action: func(c *cli.Context) error { return runCheck(c, w) },
	}
}

func runCheck(c *cli.Context, w world) error {
	if c.Args().Present() {
		return usagef("check takes no argument")
	}
	var names []string
	if rule := c.String("rule"); rule != "" {
		if !slices.ContainsFunc(condition.Rules, func(r condition.Rule) bool { return r.Name == rule }) {
			return usagef("there is no rule %q; reseal check names those that are broken", rule)
		}
		names = append(names, rule)
	}
	found := 0
	err := reading(c, w, func(s *store.Store) error {
		return printCheck(c, w, func(fn func(condition.Broken) error) error {
			return condition.Check(c.Context, s.Read(), inventory.DateOf(w.now()), func(b condition.Broken) error {
				found++
				return fn(b)
			}, names...)
		})
	})
	if err != nil {
		return err
	}
	if found > 0 && c.Bool("strict") {
		return errUnsound
	}
	return nil
}

func printCheck(c *cli.Context, w world, each func(func(condition.Broken) error) error) error {
	if c.Bool("cases") {
		return printCases(c, w, each)
	}
	out, err := newRows(c, w.out, column{name: "weight", heading: "weight"}, column{name: "rule", heading: "rule", shrink: true},
		column{name: "cases", heading: "cases"}, column{name: "first", heading: "for example", shrink: true}, column{name: "remedy"})
	if err != nil {
		return err
	}
	counts := map[*condition.Rule]int{}
	first := map[*condition.Rule]string{}
	err = each(func(b condition.Broken) error {
		if counts[b.Rule]++; counts[b.Rule] == 1 {
			first[b.Rule] = b.Ref + ": " + b.Detail
		}
		return nil
	})
	if err != nil {
		return err
	}
	for i := range condition.Rules {
		r := &condition.Rules[i]
		if counts[r] == 0 {
			continue
		}
		if err := out.add(r.Weight, r.Name, counts[r], first[r], r.Advice()); err != nil {
			return err
		}
	}
	if err := out.close(); err != nil {
		return err
	}
	if len(counts) == 0 {
		fmt.Fprintln(w.err, "nothing is missing or contradictory")
		return nil
	}
	fmt.Fprintln(w.err, "each case with what to do: reseal check --cases --rule \"NAME\"")
	return nil
}

func printCases(c *cli.Context, w world, each func(func(condition.Broken) error) error) error {
	out, err := newRows(c, w.out, column{name: "rule", heading: "rule", shrink: true}, column{name: "ref", heading: "joint or bridge"},
		column{name: "detail", heading: "detail", shrink: true}, column{name: "remedy"}, column{name: "weight"})
	if err != nil {
		return err
	}
	met := map[*condition.Rule]bool{}
	if err := each(func(b condition.Broken) error {
		met[b.Rule] = true
		return out.add(b.Rule.Name, b.Ref, b.Detail, b.Rule.Advice(), b.Rule.Weight)
	}); err != nil {
		return err
	}
	if err := out.close(); err != nil || out.format != "table" {
		return err
	}
	for i := range condition.Rules {
		if r := &condition.Rules[i]; met[r] {
			notes(c, w, "what to do: "+r.Name+": "+r.Advice())
		}
	}
	return nil
}
