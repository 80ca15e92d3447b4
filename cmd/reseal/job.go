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

func jobCommand(w world) *cli.Command {
	move := func(name, usage, to, help string, flags ...cli.Flag) *cli.Command {
		return &cli.Command{
			Name: name, Usage: usage, ArgsUsage: "JOINT…", Description: help,
			Flags: append([]cli.Flag{
				dryRunFlag, onFlag,
				&cli.StringFlag{Name: "list", Usage: "the approved `LIST`; needed where a joint is open on several"},
				&cli.BoolFlag{Name: "all", Usage: "every job of --list that can take the step"},
			}, flags...),
			Action: func(c *cli.Context) error { return jobMove(c, w, to) },
		}
	}
	contract := &cli.StringFlag{Name: "contract", Usage: "the `NUMBER` of the contract"}
	cost := &cli.StringFlag{Name: "cost", Usage: "what the job really cost, nominal `DOLLARS`"}
	return &cli.Command{
		Name: "job", Usage: "follow the jobs of approved work lists until they are paid",
		Subcommands: []*cli.Command{
			{
				Name: "lists", Usage: "the approved lists, and where their jobs stand",
				Description: "example: reseal job lists",
				Flags:       []cli.Flag{formatFlag},
				Action:      func(c *cli.Context) error { return jobLists(c, w) },
			},
			{
				Name: "list", Usage: "the jobs of approved lists with their states", ArgsUsage: "[LIST]",
				Description: "example: reseal job list FY27 --state obligated",
				Flags: []cli.Flag{
					formatFlag,
					&cli.StringFlag{Name: "state", Usage: "in this `STATE`: " + strings.Join(forecast.JobStates(), ", ")},
					&cli.StringFlag{Name: "joint", Usage: "of the `JOINT` with this tag or label"},
				},
				Action: func(c *cli.Context) error { return jobList(c, w) },
			},
			move("program", "take approved jobs into the programme", forecast.Programmed,
				"example: reseal job program --list FY27 --all --on 2026-10-05", contract),
			move("obligate", "commit the money of jobs to a contract", forecast.Obligated,
				"In-house work has no contract: it goes from programmed to completed.\n\nexample: reseal job obligate J000123 J000124 --contract C-2027-014", contract),
			jobComplete(w),
			move("pay", "put the payment of completed jobs on record", forecast.Paid,
				"The actual cost is needed unless it came with the work.\n\nexample: reseal job pay J000123 --cost 9,840", cost),
			move("drop", "give jobs up, with a reason", forecast.Dropped,
				"example: reseal job drop J000123 --reason \"deck replaced in 2028\"", &cli.StringFlag{Name: "reason", Usage: "`WHY`"}),
			move("undo", "take the last step of jobs back, to correct a mistake", "",
				"Work that is on record stays there.\n\nexample: reseal job undo J000123"),
		},
	}
}

func jobLists(c *cli.Context, w world) error {
	if c.Args().Present() {
		return usagef("job lists takes no argument; see reseal job list LIST")
	}
	columns := []column{
		{name: "list", heading: "list", shrink: true},
		{name: "year", heading: "year"},
		{name: "approved_on", heading: "approved"},
		{name: "by"},
		{name: "budget_nominal_usd"},
		{name: "jobs", heading: "jobs"},
	}
	for i, state := range forecast.JobStates() {
		columns = append(columns, column{name: state, heading: [...]string{"waiting", "progr.", "oblig.", "done", "paid", "dropped"}[i]})
	}
	out, err := newRows(c, w.out, append(columns, column{name: "approved_nominal_usd", heading: "approved $"}, column{name: "actual_nominal_usd", heading: "actual $"})...)
	if err != nil {
		return err
	}
	return reading(c, w, func(s *store.Store) error {
		lists, err := forecast.ApprovedLists(c.Context, s.Read())
		if err != nil {
			return err
		}
		for _, l := range lists {
			var budget any
			if l.BudgetCents != nil {
				budget = cents(*l.BudgetCents)
			}
			row := []any{l.Name, l.Year, l.ApprovedOn, l.By, budget, l.Jobs}
			for _, state := range forecast.JobStates() {
				row = append(row, l.ByState[state])
			}
			if err := out.add(append(row, cents(l.ApprovedCents), cents(l.ActualCents))...); err != nil {
				return err
			}
		}
		return out.close()
	})
}

func jobList(c *cli.Context, w world) error {
	if c.Args().Len() > 1 {
		return usagef("name one approved list, or none for all")
	}
	out, err := newRows(c, w.out,
		column{name: "list", heading: "list", shrink: true}, column{name: "rank", heading: "#"}, column{name: "joint", heading: "joint"},
		column{name: "structure_number", heading: "bridge", shrink: true}, column{name: "route"}, column{name: "district", heading: "dist.", shrink: true},
		column{name: "treatment", heading: "treatment", shrink: true}, column{name: "length_ft"}, column{name: "year"},
		column{name: "state", heading: "state"}, column{name: "since", heading: "since"},
		column{name: "approved_on"}, column{name: "programmed_on"}, column{name: "obligated_on"}, column{name: "completed_on"}, column{name: "paid_on"}, column{name: "dropped_on"},
		column{name: "contract", heading: "contract", shrink: true}, column{name: "approved_nominal_usd", heading: "approved $"},
		column{name: "actual_nominal_usd", heading: "actual $"}, column{name: "note"}, column{name: "reason"})
	if err != nil {
		return err
	}
	return reading(c, w, func(s *store.Store) error {
		f := forecast.JobFilter{List: c.Args().First(), Progress: c.String("state")}
		if ref := c.String("joint"); ref != "" {
			j, err := inventory.FindJoint(c.Context, s.Read(), ref)
			if err != nil {
				return err
			}
			f.JointID = j.ID
		}
		jobs, err := forecast.Jobs(c.Context, s.Read(), f)
		if err != nil {
			return err
		}
		for i := range jobs {
			j := &jobs[i]
			var actual any
			if j.ActualCents != nil {
				actual = cents(*j.ActualCents)
			}
			if err := out.add(j.List, j.Rank, j.Tag, j.StructureNumber, j.Route, j.District, j.Treatment, known(j.LengthFt), j.Year, j.Progress, j.Since(),
				j.ApprovedOn, j.ProgrammedOn, j.ObligatedOn, j.CompletedOn, j.PaidOn, j.DroppedOn, j.Contract, cents(j.CostCents), actual, j.Note, j.Reason); err != nil {
				return err
			}
		}
		if err := out.close(); err != nil || out.format != "table" {
			return err
		}
		for i := range jobs {
			if j := &jobs[i]; j.Note != "" {
				writeWrapped(w, fmt.Sprintf("%s %s: %s", j.Tag, j.Progress, j.Note))
			}
		}
		return nil
	})
}

// jobMove takes the jobs that the command line names one step.
func jobMove(c *cli.Context, w world, to string) error {
	step := forecast.Step{To: to, Contract: c.String("contract"), Reason: c.String("reason")}
	var err error
	if step.On, err = onDay(c, w); err != nil {
		return err
	}
	if step.ActualCents, err = jobCost(c); err != nil {
		return err
	}
	n := 0
	var odd []string
	err = changing(c, w, func(tx *store.Tx) error {
		jobs, err := jobsNamed(c, tx, to)
		if err != nil {
			return err
		}
		for i := range jobs {
			if err := jobs[i].Move(c.Context, tx, step, inventory.DateOf(w.now())); err != nil {
				return err
			}
			if step.ActualCents != nil {
				odd = append(odd, jobs[i].OddCost())
			}
			n++
		}
		return nil
	})
	if to == "" {
		return done(c, w, err, "%s taken one step back", plural(n, "job"))
	}
	if err := done(c, w, err, "%s %s as of %s", plural(n, "job"), to, step.On); err != nil {
		return err
	}
	notes(c, w, odd...)
	return nil
}

// jobCost reads --cost, which is of one job.
func jobCost(c *cli.Context) (*int64, error) {
	text := c.String("cost")
	if text == "" {
		return nil, nil
	}
	v, err := money.Parse(text)
	if err != nil || v < 0 {
		return nil, usagef("--cost is dollars, for example 9,840, not %q", text)
	}
	if c.Args().Len() != 1 {
		return nil, usagef("--cost is of one job: name one joint")
	}
	return &v, nil
}

// jobsNamed are the jobs of the joints in the arguments, or with --all those of
// a list that can take the step.
func jobsNamed(c *cli.Context, tx *store.Tx, to string) ([]forecast.Job, error) {
	if c.Bool("all") {
		if c.Args().Present() || c.String("list") == "" {
			return nil, usagef("--all goes with --list and without joints")
		}
		jobs, err := forecast.Jobs(c.Context, tx, forecast.JobFilter{List: c.String("list")})
		if err != nil {
			return nil, err
		}
		var able []forecast.Job
		for _, j := range jobs {
			if j.Can(to) {
				able = append(able, j)
			}
		}
		if len(able) == 0 {
			return nil, store.Invalid("see where they stand with: reseal job list "+c.String("list"), "no job of %q can take this step", c.String("list"))
		}
		return able, nil
	}
	if !c.Args().Present() {
		return nil, usagef("name joints, or --list LIST --all")
	}
	var jobs []forecast.Job
	for _, ref := range c.Args().Slice() {
		j, err := jobOf(c.Context, tx, ref, c.String("list"), to == "")
		if err != nil {
			return nil, err
		}
		jobs = append(jobs, j)
	}
	return jobs, nil
}

// jobOf is the joint's one open job; with any it may be finished too.
func jobOf(ctx context.Context, tx *store.Tx, ref, list string, any bool) (forecast.Job, error) {
	joint, err := inventory.FindJoint(ctx, tx, ref)
	if err != nil {
		return forecast.Job{}, err
	}
	jobs, err := forecast.Jobs(ctx, tx, forecast.JobFilter{JointID: joint.ID, List: list, Open: !any && list == ""})
	switch {
	case err != nil:
		return forecast.Job{}, err
	case len(jobs) == 0:
		return forecast.Job{}, store.NotFound("see reseal job list; a list is approved with: reseal worklist --approve NAME", "joint %s has no open job", joint.Tag)
	case len(jobs) > 1:
		return forecast.Job{}, store.Invalid("choose one with --list", "joint %s has jobs on %q and %q", joint.Tag, jobs[0].List, jobs[1].List)
	}
	return jobs[0], nil
}
