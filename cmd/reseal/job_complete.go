package main

import (
	"fmt"

	"github.com/urfave/cli/v2"

	"reseal/condition"
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
come with reseal record, which is the better first step.

example: reseal job complete J000123
example: reseal job complete J000124 --on 2027-08-12 --cost 9,840 --seal "strip seal, 4 in"`,
		Flags: []cli.Flag{
			dryRunFlag, onFlag,
			&cli.StringFlag{Name: "list", Usage: "the approved `LIST`; needed where the joint is open on several"},
			&cli.StringFlag{Name: "cost", Usage: "what the job really cost, nominal `DOLLARS`"},
			&cli.StringFlag{Name: "seal", Usage: "the `SEAL` as the catalogue has it, with its limits"},
			&cli.StringFlag{Name: "kind", Usage: "the `KIND` of the seal that went in"},
			&cli.StringFlag{Name: "notes"},
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
	step := forecast.Step{To: forecast.Completed}
	if step.ActualCents, err = jobCost(c); err != nil {
		return err
	}
	today := inventory.DateOf(w.now())
	if c.IsSet("on") {
		if step.On, err = onDay(c, w); err != nil {
			return err
		}
	}
	how := "linked to the work on record"
	err = changing(c, w, func(tx *store.Tx) error {
		j, err := jobOf(c.Context, tx, ref, c.String("list"), false)
		if err != nil {
			return err
		}
		if !j.Can(forecast.Completed) { // before any work is written
			return j.Advance(c.Context, tx, forecast.Step{To: forecast.Completed, On: today})
		}
		if step.Work, err = forecast.WorkOfJob(c.Context, tx, &j, step.On); err != nil {
			return err
		}
		if step.Work == nil {
			if step.On.IsZero() {
				step.On = today
			}
			how = "its work was put on record"
			if err := putWork(c, tx, &j, step, today); err != nil {
				return err
			}
			if step.Work, err = forecast.WorkOfJob(c.Context, tx, &j, step.On); err != nil {
				return err
			}
		}
		if step.Work == nil {
			return fmt.Errorf("the work of joint %s was put on record and is not found", j.Tag)
		}
		step.On = step.Work.DoneOn
		return j.Advance(c.Context, tx, step)
	})
	return done(c, w, err, "joint %s completed on %s, %s", ref, step.On, how)
}

// putWork puts the work of a job on record.
func putWork(c *cli.Context, tx *store.Tx, j *forecast.Job, step forecast.Step, today inventory.Date) error {
	by := "in-house"
	if j.Contract != "" {
		by = "contract"
	}
	tables, err := forecast.LoadTables(c.Context, tx)
	if err != nil {
		return err
	}
	t, err := tables.Treatment(j.Treatment)
	if err != nil {
		return err
	}
	if t.Effect != "" && t.Effect != "renews" {
		return inventory.AddWork(c.Context, tx, &inventory.Work{
			JointID: j.JointID, DoneOn: step.On, Treatment: j.Treatment, CostCents: step.ActualCents, ByWhom: by, Contract: j.Contract, Notes: c.String("notes"),
		})
	}
	a := &condition.AsBuilt{
		On: step.On, Treatment: j.Treatment, CostCents: step.ActualCents, ByWhom: by, Contract: j.Contract, Why: "worn", Notes: c.String("notes"),
	}
	a.Seal.Kind = c.String("kind")
	if err := nameSeal(c, tx, &a.Seal, c.String("seal")); err != nil {
		return err
	}
	if a.Seal.Kind == "" {
		a.Seal.Kind = t.NewKind
	}
	if a.Seal.Kind == "" {
		stretches, err := inventory.Stretches(c.Context, tx, j.JointID)
		if err != nil {
			return err
		}
		for i := range stretches {
			if s := stretches[i].Current(); s != nil && a.Seal.Kind == "" {
				a.Seal.Kind = s.Kind
			}
		}
	}
	joint, err := inventory.FindJoint(c.Context, tx, j.Tag)
	if err != nil {
		return err
	}
	_, err = a.Record(c.Context, tx, joint, c.Bool("accept-odd"), today)
	return err
}
