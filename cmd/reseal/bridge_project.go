package main

import (
	"slices"
	"strconv"

	"github.com/urfave/cli/v2"

	"reseal/inventory"
	"reseal/inventory/store"
)

// bridgeProjects are the commands for a bridge's projects to come; many at once come
// by import.
func bridgeProjects(w world) []*cli.Command {
	return []*cli.Command{
		{
			Name: "projects", Usage: "the projects of a bridge, withdrawn ones too", ArgsUsage: "NUMBER",
			Description: "New ones, and what changes of them, come by import projects or on the bridge's page.\n\nexample: reseal bridge projects 00576A",
			Flags:       []cli.Flag{formatFlag},
			Action:      func(c *cli.Context) error { return projectList(c, w) },
		},
		{
			Name: "withdraw", Usage: "a project of a bridge will not come", ArgsUsage: "NUMBER KIND YEAR",
			Description: "Nothing is planned around it any more. It stays on record with the day, the reason and your\nname; added or imported anew it stands again.\n\nexample: reseal bridge withdraw 00576A overlay 2029 --reason \"the money went to another bridge\"",
			Flags:       []cli.Flag{dryRunFlag, onFlag, &cli.StringFlag{Name: "reason", Usage: "`WHY`; it stays on record with your name"}},
			Action:      func(c *cli.Context) error { return projectWithdraw(c, w) },
		},
	}
}

func projectList(c *cli.Context, w world) error {
	ref, err := oneArg(c, "a structure number")
	if err != nil {
		return err
	}
	out, err := newRows(c, w.out, column{name: "year", heading: "year"}, column{name: "kind", heading: "project"}, column{name: "certainty", heading: "certainty"},
		column{name: "withdrawn_on", heading: "withdrawn"}, column{name: "withdrawn_why", heading: "why", shrink: true}, column{name: "notes", heading: "notes", shrink: true})
	if err != nil {
		return err
	}
	return reading(c, w, func(s *store.Store) error {
		b, err := inventory.FindBridge(c.Context, s.Read(), ref)
		if err != nil {
			return err
		}
		all, err := inventory.ProjectsOn(c.Context, s.Read(), b.ID)
		if err != nil {
			return err
		}
		for i := range all {
			p := &all[i]
			if err := out.add(p.Year, p.Kind, p.Certainty, p.WithdrawnOn, p.WithdrawnWhy, p.Notes); err != nil {
				return err
			}
		}
		return out.close()
	})
}

func projectWithdraw(c *cli.Context, w world) error {
	ref, kind := c.Args().Get(0), c.Args().Get(1)
	year, err := strconv.Atoi(c.Args().Get(2))
	if c.Args().Len() != 3 || err != nil {
		return usagef("give a bridge, the kind of its project and the year: reseal bridge withdraw 00576A overlay 2029 --reason WHY")
	}
	on, err := onDay(c, w)
	if err != nil {
		return err
	}
	err = changing(c, w, func(tx *store.Tx) error {
		b, err := inventory.FindBridge(c.Context, tx, ref)
		if err != nil {
			return err
		}
		all, err := inventory.ProjectsOn(c.Context, tx, b.ID)
		if err != nil {
			return err
		}
		i := slices.IndexFunc(all, func(p inventory.Project) bool { return p.Kind == kind && p.Year == year })
		if i < 0 {
			return store.NotFound("see reseal bridge projects "+ref, "bridge %s has no %s of %d", ref, kind, year)
		}
		return inventory.WithdrawProject(c.Context, tx, ref, all[i].ID, on, c.String("reason"), "")
	})
	return done(c, w, err, "the %s of %d at bridge %s is withdrawn; next: reseal worklist", kind, year, ref)
}
