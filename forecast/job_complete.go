package forecast

import (
	"cmp"
	"context"
	"fmt"

	"reseal/condition"
	"reseal/forecast/money"
	"reseal/forecast/strategy"
	"reseal/inventory"
	"reseal/inventory/store"
)

// Completion tells how a job came to be completed.
type Completion struct {
	On  inventory.Date
	New bool // its work was put on record with it
}

// Complete says that the job is done. It finds the work of the job on record, see
// [WorkOfJob], of the step's day if one is given; with AsRecorded whatever its
// treatment. Where there is none, it puts it on record: with a new seal where the
// treatment renews, which is the step's, else of the kind that the treatment puts
// in, else of the kind in place.
func (j *Job) Complete(ctx context.Context, tx *store.Tx, s Step, today inventory.Date) (done Completion, err error) {
	s.To = Completed
	if !j.Can(Completed) { // before any work is written
		s.On = today
		return done, j.take(s)
	}
	if s.work, err = WorkOfJob(ctx, tx, j, s.On, s.AsRecorded); err != nil {
		return done, err
	}
	if s.work == nil {
		if err := j.putWork(ctx, tx, &s, today); err != nil {
			return done, err
		}
		done.New = true
	}
	s.On = s.work.DoneOn
	done.On = s.On
	return done, j.advance(ctx, tx, s)
}

// OddCost says that the actual cost is under a fifth of the approved, or over five
// times it, and how to correct it; empty: it is neither, or not known.
func (j *Job) OddCost() string {
	if j.ActualCents == nil || j.CostCents <= 0 || *j.ActualCents >= j.CostCents/5 && *j.ActualCents <= 5*j.CostCents {
		return ""
	}
	how := "under a fifth of"
	if *j.ActualCents > j.CostCents {
		how = "over five times"
	}
	return fmt.Sprintf("check the cost of joint %s: $%s is %s the $%s approved. It is kept; if it is wrong: reseal job undo %s --list %q, and take the step again with --cost DOLLARS",
		j.Tag, money.FormatDollars(*j.ActualCents), how, money.FormatDollars(j.CostCents), j.Tag, j.List)
}

// putWork puts the work of a job on record, and into the step. Other work on record
// since the approval may be the job's under another name: that is for a person to
// say.
func (j *Job) putWork(ctx context.Context, tx *store.Tx, s *Step, today inventory.Date) error {
	other, err := WorkOfJob(ctx, tx, j, s.On, true)
	switch {
	case err != nil:
		return err
	case other != nil:
		return store.Invalid("say that it did this job (--as-recorded, or the box for it), or give another day",
			"joint %s has %q of %s on record, and %q was approved", j.Tag, other.Treatment, other.DoneOn, j.Treatment)
	case s.AsRecorded:
		return store.Invalid("put it on record first, or leave --as-recorded (the box for it) out", "joint %s has no work on record since %s", j.Tag, j.ApprovedOn)
	case s.On.IsZero():
		s.On = today
	}
	if err := j.recordWork(ctx, tx, *s, today); err != nil {
		return err
	}
	s.work, err = WorkOfJob(ctx, tx, j, s.On, false)
	if err == nil && s.work == nil {
		err = fmt.Errorf("the work of joint %s was put on record and is not found", j.Tag)
	}
	return err
}

func (j *Job) recordWork(ctx context.Context, tx *store.Tx, s Step, today inventory.Date) error {
	by, contract := InHouse, cmp.Or(s.Contract, j.Contract)
	if contract != "" {
		by = Contract
	}
	tables, err := LoadTables(ctx, tx)
	if err != nil {
		return err
	}
	t, err := tables.Treatment(j.Treatment)
	if err != nil {
		return err
	}
	if t.effect() != strategy.Renews {
		return inventory.AddWork(ctx, tx, &inventory.Work{
			JointID: j.JointID, DoneOn: s.On, Treatment: j.Treatment, CostCents: s.ActualCents, ByWhom: by, Contract: contract, Notes: s.Notes,
		})
	}
	a := &condition.AsBuilt{
		On: s.On, Treatment: j.Treatment, CostCents: s.ActualCents, ByWhom: by, Contract: contract, Why: "worn", Notes: s.Notes,
	}
	a.Seal.Kind = s.Kind
	if err := condition.NameSeal(ctx, tx, &a.Seal, s.Seal); err != nil {
		return err
	}
	a.Seal.Kind = cmp.Or(a.Seal.Kind, t.NewKind)
	if a.Seal.Kind == "" {
		if a.Seal.Kind, err = kindInPlace(ctx, tx, j.JointID); err != nil {
			return err
		}
	}
	joint, err := inventory.FindJoint(ctx, tx, j.Tag)
	if err != nil {
		return err
	}
	_, err = a.Record(ctx, tx, joint, s.AcceptOdd, today)
	return err
}

// kindInPlace is the kind of the first seal in place on a joint; blank: none.
func kindInPlace(ctx context.Context, tx *store.Tx, jointID int64) (string, error) {
	stretches, err := inventory.Stretches(ctx, tx, jointID)
	for i := range stretches {
		if s := stretches[i].Current(); s != nil {
			return s.Kind, err
		}
	}
	return "", err
}
