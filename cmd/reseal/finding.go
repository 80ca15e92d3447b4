package main

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/inventory"
	"reseal/inventory/store"
)

var findingColumns = []string{"from_ft", "to_ft", "source", "action", "owner", "notes"}

func findingCommand(w world) *cli.Command {
	return &cli.Command{
		Name:  "finding",
		Usage: "what is seen at a joint between inspections",
		Subcommands: []*cli.Command{
			{
				Name: "add", Usage: "put a finding on record", ArgsUsage: "JOINT KIND",
				Description: "KIND is one of: " + strings.Join(inventory.FindingKinds, ", ") + ".\nA severe finding needs an engineer's review; a placed plate stays open until it is gone.\n\n" +
					"example: reseal finding add J000123 leak --urgency soon --from-ft 4 --to-ft 9",
				Flags: append([]cli.Flag{
					dryRunFlag, onFlag,
					&cli.StringFlag{Name: "urgency", Value: "routine", Usage: "`HOW` urgent: " + strings.Join(inventory.Urgencies, ", ")},
				}, fieldFlags(nil, findingColumns...)...),
				Action: func(c *cli.Context) error { return findingAdd(c, w) },
			},
			{
				Name: "list", Usage: "open findings, the most urgent and oldest first",
				Description: "example: reseal finding list --urgency severe",
				Flags: []cli.Flag{
					formatFlag,
					&cli.StringFlag{Name: "joint", Usage: "of the `JOINT` with this tag or label"},
					&cli.StringFlag{Name: "kind", Usage: "of this `KIND`"},
					&cli.StringFlag{Name: "urgency", Usage: "with this `URGENCY`"},
					&cli.BoolFlag{Name: "closed", Usage: "closed ones too"},
				},
				Action: func(c *cli.Context) error { return findingList(c, w) },
			},
			{
				Name: "close", Usage: "end a finding", ArgsUsage: "NUMBER",
				Description: "example: reseal finding close 12 --notes \"plate removed, gland replaced\"",
				Flags:       []cli.Flag{dryRunFlag, onFlag, &cli.StringFlag{Name: "notes", Aliases: []string{"note"}, Usage: "`WHAT` was done about it"}},
				Action:      func(c *cli.Context) error { return findingClose(c, w) },
			},
		},
	}
}

func findingAdd(c *cli.Context, w world) error {
	if c.Args().Len() < 2 {
		return usagef("give a joint and a kind: %s", strings.Join(inventory.FindingKinds, ", "))
	}
	on, err := onDay(c, w)
	if err != nil {
		return err
	}
	ref := c.Args().First()
	f := &inventory.Finding{Kind: strings.Join(c.Args().Tail(), " "), FoundOn: on, Urgency: c.String("urgency")}
	if _, err := setFields(c, f, findingColumns...); err != nil {
		return err
	}
	err = changing(c, w, func(tx *store.Tx) error {
		j, err := inventory.FindJoint(c.Context, tx, ref)
		if err != nil {
			return err
		}
		f.JointID = j.ID
		return inventory.AddFinding(c.Context, tx, f)
	})
	review := ""
	if f.Urgency == "severe" {
		review = "; it needs an engineer's review"
	}
	return done(c, w, err, "finding %d is on record at joint %s%s", f.ID, ref, review)
}

func findingList(c *cli.Context, w world) error {
	if c.Args().Present() {
		return usagef("finding list takes no argument; see --joint")
	}
	out, err := newRows(c, w.out, column{name: "id", heading: "no."}, column{name: "joint", heading: "joint"}, column{name: "urgency", heading: "urgency"},
		column{name: "kind", heading: "what"}, column{name: "found_on", heading: "found"}, column{name: "days_open", heading: "days"},
		column{name: "from_ft", heading: "from"}, column{name: "to_ft", heading: "to ft"}, column{name: "owner", heading: "owner", shrink: true},
		column{name: "action", heading: "action", shrink: true}, column{name: "closed_on", heading: "closed"}, column{name: "source"}, column{name: "notes"})
	if err != nil {
		return err
	}
	return reading(c, w, func(s *store.Store) error {
		f := inventory.FindingFilter{Kind: c.String("kind"), Urgency: c.String("urgency"), Closed: c.Bool("closed")}
		if ref := c.String("joint"); ref != "" {
			j, err := inventory.FindJoint(c.Context, s.Read(), ref)
			if err != nil {
				return err
			}
			f.JointID = j.ID
		}
		found, err := inventory.Findings(c.Context, s.Read(), f)
		if err != nil {
			return err
		}
		today := inventory.DateOf(w.now())
		for i := range found {
			f := &found[i]
			if err := out.add(f.ID, f.Tag, f.Urgency, f.Kind, f.FoundOn, f.DaysOpen(today), f.FromFt, f.ToFt, f.Owner, f.Action, f.ClosedOn, f.Source, f.Notes); err != nil {
				return err
			}
		}
		return out.close()
	})
}

func findingClose(c *cli.Context, w world) error {
	ref, err := oneArg(c, "the number of a finding")
	if err != nil {
		return err
	}
	id, err := strconv.ParseInt(ref, 10, 64)
	if err != nil {
		return usagef("%q is not the number of a finding; see reseal finding list", ref)
	}
	on, err := onDay(c, w)
	if err != nil {
		return err
	}
	err = changing(c, w, func(tx *store.Tx) error {
		f, err := inventory.FindFinding(c.Context, tx, id)
		if err != nil {
			return err
		}
		return inventory.CloseFinding(c.Context, tx, f, on, c.String("notes"))
	})
	return done(c, w, err, "%s", fmt.Sprintf("finding %d is closed as of %s", id, on))
}
