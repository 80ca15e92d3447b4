package main

import (
	"context"
	"fmt"
	"strings"

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
  treatment NAME    this treatment and no other; one that removes the joint, such as
                    elimination, needs --takes-over: the joints of the bridge that
                    take over its expansion length in equal parts, whose opening
                    must stay within their seals with it
  cost DOLLARS      what the joint costs without the visit, in dollars of today
  undo [KIND]       ends what was decided

Without arguments, lists what stands.

example: reseal decide J000123 pin 2027 --reason "detour open only in 2027"
example: reseal decide J000123 treatment "full replacement" --reason "rails bent"
example: reseal decide J000123 treatment elimination --takes-over J000122,J000124 --reason "link slab"`,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "reason", Usage: "`WHY`; it stays on record with your name"},
			&cli.StringFlag{Name: "treatment", Usage: "with pin or cost: the `TREATMENT` it is about"},
			&cli.StringFlag{Name: "takes-over", Usage: "of an elimination: the `JOINTS` that take over its expansion length, J1,J2"},
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
			if err == nil && n == 0 {
				err = nothingDecided(j.Tag, value)
			}
			return err
		})
		return done(c, w, err, "%s ended at joint %s", plural(n, "decision"), ref)
	}
	var d *forecast.Decision
	var over []forecast.TakeOver
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
		if over, err = tables.CheckElimination(c.Context, tx, d, takesOver(c), today); err != nil {
			return err
		}
		return forecast.Decide(c.Context, tx, d, today)
	})
	if err != nil {
		return err
	}
	for _, o := range over {
		fmt.Fprintf(w.out, "%s takes over %.1f ft to its %.1f ft: to spare %.2f in when cold, %.2f in when hot\n", o.Tag, o.MoreFt, o.NowFt, o.Check.Cold.MeanIn, o.Check.Hot.MeanIn)
	}
	if len(over) > 0 {
		fmt.Fprintln(w.err, "a check for planning, from the latest reading and theory: the engineer in charge designs the link")
	}
	return done(c, w, err, "joint %s: %s; next: reseal worklist", ref, d.Words())
}

func nothingDecided(tag, kind string) error {
	if kind == "" {
		return store.NotFound("see what stands with: reseal decide", "nothing was decided about %s", tag)
	}
	return store.NotFound("see what stands with: reseal decide", "nothing was decided about %s by %q", tag, kind)
}

// takesOver are the joints that are to take over from one that is eliminated.
func takesOver(c *cli.Context) (tags []string) {
	for tag := range strings.SplitSeq(c.String("takes-over"), ",") {
		if tag = strings.TrimSpace(tag); tag != "" {
			tags = append(tags, tag)
		}
	}
	return tags
}

// approve keeps a work list under a name.
func approve(c *cli.Context, w world, s *store.Store, list *forecast.WorkList, name string, asOf inventory.Date) error {
	update := s.Update
	if c.Bool("dry-run") {
		update = s.Try
	}
	err := update(c.Context, actor(c), func(ctx context.Context, tx *store.Tx) error { return list.Approve(ctx, tx, name, asOf) })
	return done(c, w, err, "approved as %q: %s, $%s; next: reseal job list %q", name, plural(list.Line, "joint"), money.FormatDollars(list.SpentCents), name)
}
