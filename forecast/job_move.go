package forecast

import (
	"context"
	"slices"

	"reseal/inventory"
	"reseal/inventory/store"
)

// Move takes the job one step and keeps it. What cannot be is an error that says
// what can.
func (j *Job) Move(ctx context.Context, tx *store.Tx, s Step, today inventory.Date) error {
	if today.Before(s.On) {
		return store.Invalid("correct the date; today is "+today.String(), "%s is in the future", s.On)
	}
	switch {
	case s.To == "":
		return j.Undo(ctx, tx)
	case s.To == Completed:
		_, err := j.Complete(ctx, tx, s, today)
		return err
	case s.On.IsZero():
		s.On = today
	}
	return j.advance(ctx, tx, s)
}

// JobsMove takes several jobs of an approved list one step, all or none.
type JobsMove struct {
	List string
	Seen map[int64]store.Instant // the jobs by key, and when each was last changed as the person saw it
	All  bool                    // every job of the list that can take the step, in place of Seen
	Step
}

// Move moves the jobs and returns how many. A job that somebody else has changed
// since it was seen is store.ErrConflict.
func (m JobsMove) Move(ctx context.Context, tx *store.Tx, today inventory.Date) (int, error) {
	if m.To != "" && (m.To == Approved || !slices.Contains(JobStates(), m.To)) {
		return 0, store.Invalid("choose one of the steps", "a job cannot be moved to %q", m.To)
	}
	all, err := Jobs(ctx, tx, JobFilter{List: m.List})
	if err != nil {
		return 0, err
	}
	var chosen []Job
	for _, j := range all {
		seen, named := m.Seen[j.ID]
		switch {
		case m.All && j.Can(m.To), !m.All && named && seen == j.ChangedAt:
			chosen = append(chosen, j)
		case !m.All && named:
			return 0, &store.Error{
				Kind: store.ErrConflict, Text: j.ChangedBy + " has changed the job of joint " + j.Tag + " in the meantime: it is " + j.Progress + " now, and nothing was moved",
				Hint: "look at the list as it is now, and choose again",
			}
		}
	}
	switch {
	case len(chosen) == 0 && m.All:
		return 0, store.Invalid("look at the states on the list, and choose another step", "no job of %q can take this step", m.List)
	case len(chosen) == 0:
		return 0, store.Invalid("tick the jobs that take the step", "no job is chosen")
	case len(chosen) > 1 && m.ActualCents != nil:
		return 0, store.Invalid("choose one job, or leave the cost blank", "a cost is of one job, and %d are chosen", len(chosen))
	}
	for i := range chosen {
		if err := chosen[i].Move(ctx, tx, m.Step, today); err != nil {
			return 0, err
		}
	}
	return len(chosen), nil
}
