package main

import (
	"github.com/urfave/cli/v2"

	"reseal/forecast"
	"reseal/inventory"
	"reseal/inventory/store"
)

func jobComplete(w world) *cli.Command {
	return &cli.Command{
		Name: "complete", Usage: "say that a job is done", ArgsUsage: "JOINT",
		Description: `Finds the work of the job on record (reseal record, reseal import work): the last of
its treatment on the joint since the list was approved, or that of --on. Where there is
none, puts it on record: with a new seal where the treatment renews, of the kind of the
one in place unless --seal or --kind says otherwise. Openings read at the installation
come with reseal record, which is the better first step. Where another treatment was
done than was approved, --as-recorded links what was.

example: reseal job complete J000123
example: reseal job complete J000124 --on 2027-08-12 --cost 9,840 --seal "strip seal, 4 in"`,
		Flags: []cli.Flag{
			dryRunFlag, onFlag,
			&cli.StringFlag{Name: "list", Usage: "the approved `LIST`; needed where the joint is open on several"},
			&cli.StringFlag{Name: "cost", Usage: "what the job really cost, nominal `DOLLARS`"},
			&cli.StringFlag{Name: "seal", Usage: "the `SEAL` as the catalogue has it, with its limits"},
			&cli.StringFlag{Name: "kind", Usage: "the `KIND` of the seal that went in"},
			&cli.StringFlag{Name: "notes"},
			&cli.BoolFlag{Name: "as-recorded", Usage: "link the work on record whatever its treatment"},
			&cli.BoolFlag{Name: "accept-odd", Usage: "keep what is odd, with a mark"},
		},
		Action: func(c *cli.Context) error { return completeJob(c, w) },
	}
}

func completeJob(c *cli.Context, w world) error {
	ref, err := oneArg(c, "a joint")
	if err != nil {
		return err
	}
	step := forecast.Step{
		Seal: c.String("seal"), Kind: c.String("kind"), Notes: c.String("notes"),
		AsRecorded: c.Bool("as-recorded"), AcceptOdd: c.Bool("accept-odd"),
	}
	if step.ActualCents, err = jobCost(c); err != nil {
		return err
	}
	if c.IsSet("on") {
		if step.On, err = onDay(c, w); err != nil {
			return err
		}
	}
	var how forecast.Completion
	odd := ""
	err = changing(c, w, func(tx *store.Tx) error {
		j, err := jobOf(c.Context, tx, ref, c.String("list"), false)
		if err == nil {
			how, err = j.Complete(c.Context, tx, step, inventory.DateOf(w.now()))
			odd = j.OddCost()
		}
		return err
	})
	words := "linked to the work on record"
	if how.New {
		words = "its work was put on record"
	}
	err = done(c, w, err, "joint %s completed on %s, %s", ref, how.On, words)
	if err == nil && odd != "" {
		notes(c, w, odd)
	}
	return err
}
