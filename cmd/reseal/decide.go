package main

import (
	"context"

	"github.com/urfave/cli/v2"

	"reseal/forecast"
	"reseal/forecast/money"
	"reseal/inventory"
	"reseal/inventory/store"
)

func decisionCommand(w world) *cli.Command {
	return &cli.Command{
		Name: "decide", Usage: "overrule the ranking and the plan for one joint", ArgsUsage: "JOINT pin|hold|exclude|treatment|cost|undo [VALUE]",
		Description: `What a person decides stands until it is undone, and the work list and the plan
obey it. The list shows the price of each decision.

  pin YEAR          the joint is done in the fiscal year
  hold YEAR         nothing is done before the fiscal year
  exclude           the joint is left out
  treatment NAME    this treatment and no other
  cost DOLLARS      what the joint costs without the visit, in dollars of today
  undo [KIND]       ends what was decided

Without arguments, lists what stands.

example: reseal decide J000123 pin 2027 --reason "detour open only in 2027"
example: reseal decide J000123 treatment "full replacement" --reason "rails bent"`,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "reason", Usage: "`WHY`; it stays on record with your name"},
			&cli.StringFlag{Name: "treatment", Usage: "with pin or cost: the `TREATMENT` it is about"},
			dryRunFlag, formatFlag,
		},
		Action: func(c *cli.Context) error {
			if c.Args().Len() == 0 {
				return decisionList(c, w)
			}
			return decideJoint(c, w)
		},
	}
}

func decisionList(c *cli.Context, w world) error {
	out, err := newRows(c, w.out, column{name: "joint", heading: "joint"}, column{name: "what", heading: "decided", shrink: true},
		column{name: "by", heading: "by", shrink: true}, column{name: "at", heading: "on"}, column{name: "reason", heading: "reason", shrink: true})
	if err != nil {
		return err
	}
	return reading(c, w, func(s *store.Store) error {
		all, err := forecast.Decisions(c.Context, s.Read())
		if err != nil {
			return err
		}
		for i := range all {
			d := &all[i]
			if err := out.add(d.Tag, d.Words(), d.CreatedBy, d.CreatedAt[:min(10, len(d.CreatedAt))], d.Reason); err != nil {
				return err
			}
		}
		return out.close()
	})
}

func decideJoint(c *cli.Context, w world) error {
	if c.Args().Len() < 2 || c.Args().Len() > 3 {
		return usagef("give a joint, what is decided and its value: reseal decide J000123 pin 2027 --reason WHY")
	}
	ref, what, value := c.Args().Get(0), c.Args().Get(1), c.Args().Get(2)
	today := inventory.DateOf(w.now())
	if what == "undo" {
		n := 0
		err := changing(c, w, func(tx *store.Tx) error {
			j, err := inventory.FindJoint(c.Context, tx, ref)
			if err == nil {
				n, err = forecast.Undecide(c.Context, tx, j.ID, value, today)
			}
			return err
		})
		return done(c, w, err, "%s ended at joint %s", plural(n, "decision"), ref)
	}
	var d *forecast.Decision
	err := changing(c, w, func(tx *store.Tx) error {
		j, err := inventory.FindJoint(c.Context, tx, ref)
		if err != nil {
			return err
		}
		tables, err := forecast.LoadTables(c.Context, tx)
		if err != nil {
			return err
		}
		if d, err = tables.NewDecision(j.ID, what, value, c.String("treatment"), c.String("reason"), today); err != nil {
			return err
		}
		return forecast.Decide(c.Context, tx, d, today)
	})
	if err != nil {
		return err
	}
	return done(c, w, err, "joint %s: %s; next: reseal worklist", ref, d.Words())
}

// approve keeps a work list under a name.
func approve(c *cli.Context, w world, s *store.Store, list *forecast.WorkList, name string, asOf inventory.Date) error {
	update := s.Update
	if c.Bool("dry-run") {
		update = s.Try
	}
	err := update(c.Context, actor(c), func(ctx context.Context, tx *store.Tx) error { return list.Approve(ctx, tx, name, asOf) })
	return done(c, w, err, "approved as %q: %s, %s", name, plural(list.Line, "joint"), money.FormatDollars(list.SpentCents))
}
