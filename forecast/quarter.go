package forecast

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"github.com/uptrace/bun"

	"reseal/condition"
	"reseal/inventory"
)

// Tally counts joints with their length and money, nominal.
type Tally struct {
	Joints        int
	Feet          float64 // of those whose length is on record
	ApprovedCents int64   // as estimated when approved
	ActualCents   int64   // of those whose cost is on record
	NoCost        int     // of Joints, those whose cost is not
}

func (t *Tally) add(feet float64, approved int64, actual *int64) {
	t.Joints++
	t.Feet += feet
	t.ApprovedCents += approved
	if actual == nil {
		t.NoCost++
	} else {
		t.ActualCents += *actual
	}
}

// ListProgress is how far one approved list has come by the last day.
type ListProgress struct {
	List      string
	Year      int   // fiscal
	Approved  Tally // all its jobs
	Before    Tally // completed before the quarter
	Done      Tally // completed in the quarter
	Dropped   Tally // dropped in the quarter or before
	Remaining Tally
}

// FootCost is what one foot of a treatment really cost.
type FootCost struct {
	Treatment string
	Joints    int
	Feet      float64
	Cents     int64
}

// PerFootCents is the cost of one foot, or 0 of none.
func (f FootCost) PerFootCents() float64 {
	if f.Feet <= 0 {
		return 0
	}
	return float64(f.Cents) / f.Feet
}

// OpenPlate is a plate that lies on a joint.
type OpenPlate struct {
	inventory.Finding
	District string
	Days     int // that it has lain
}

// Quarter is what became of the approved work in a fiscal quarter, and what is
// left undone at its end.
type Quarter struct {
	Year, Number  int // fiscal
	From, Through inventory.Date

	Lists    []ListProgress
	Dropped  []Job      // in the quarter, with their reasons
	Unlisted Tally      // work done in the quarter that no list had
	PerFoot  []FootCost // of work done in the quarter whose cost and length are on record
	Plates   []OpenPlate
	Overdue  []*condition.Due // inspections due before the last day, the longest first
}

// QuarterOf is the fiscal quarter of a day, with its first and last day.
func (m *Model) QuarterOf(day inventory.Date) (year, number int, from, through inventory.Date) {
	start := max(m.tables.Settings.Calendar().StartMonth, time.January)
	months := (int(day.Month) - int(start) + 12) % 12 // since the fiscal year began
	from = inventory.Date{Year: day.Year, Month: day.Month, Day: 1}.AddMonths(-(months % 3))
	return m.YearOf(day), months/3 + 1, from, from.AddMonths(3).AddDays(-1)
}

// NewQuarter reports on the fiscal quarter of a day, through today at most.
// Jobs, plates and work are counted as of its last day; inspections are overdue
// by the records of today.
func (m *Model) NewQuarter(ctx context.Context, db bun.IDB, day, today inventory.Date) (*Quarter, error) {
	q := &Quarter{}
	q.Year, q.Number, q.From, q.Through = m.QuarterOf(day)
	if today.Before(q.Through) {
		q.Through = today
	}
	jobs, err := Jobs(ctx, db, JobFilter{})
	if err != nil {
		return nil, err
	}
	q.addJobs(jobs)
	if err := q.addWork(ctx, db); err != nil {
		return nil, err
	}
	if err := q.addPlates(ctx, db); err != nil {
		return nil, err
	}
	due, err := condition.DueBy(ctx, db, inventory.Filter{}, q.Through, condition.DueRules{})
	if err != nil {
		return nil, err
	}
	for _, d := range due {
		if d.DueOn.Before(q.Through) {
			q.Overdue = append(q.Overdue, d)
		}
	}
	slices.SortStableFunc(q.Overdue, func(a, b *condition.Due) int { return cmp.Compare(a.DueOn.String(), b.DueOn.String()) })
	return q, nil
}

// by tells whether something happened by the last day; in, whether in the
// quarter.
func (q *Quarter) by(day inventory.Date) bool { return !day.IsZero() && !q.Through.Before(day) }
func (q *Quarter) in(day inventory.Date) bool { return q.by(day) && !day.Before(q.From) }

// addJobs counts the lists approved by the last day.
func (q *Quarter) addJobs(jobs []Job) {
	at := map[string]int{}
	for i := range jobs {
		j := &jobs[i]
		if !q.by(j.ApprovedOn) {
			continue
		}
		k, seen := at[j.List]
		if !seen {
			k = len(q.Lists)
			at[j.List] = k
			q.Lists = append(q.Lists, ListProgress{List: j.List, Year: j.Year})
		}
		l := &q.Lists[k]
		l.Approved.add(j.LengthFt, j.CostCents, nil)
		part := &l.Remaining
		switch {
		case q.in(j.CompletedOn):
			part = &l.Done
		case q.by(j.CompletedOn):
			part = &l.Before
		case q.by(j.DroppedOn):
			part = &l.Dropped
		}
		part.add(j.LengthFt, j.CostCents, j.ActualCents)
		if q.in(j.DroppedOn) {
			q.Dropped = append(q.Dropped, *j)
		}
	}
}

// addWork counts the work done in the quarter: its cost by foot, and what no
// list had.
func (q *Quarter) addWork(ctx context.Context, db bun.IDB) error {
	work, err := pricedWorks(ctx, db, q.From, q.Through, "")
	if err != nil {
		return err
	}
	at := map[string]int{}
	for i := range work {
		w := &work[i]
		feet := w.feet()
		var actual *int64
		if w.actual.Valid {
			actual = &w.actual.Int64
		}
		if !w.approved.Valid {
			q.Unlisted.add(feet, 0, actual)
		}
		if actual == nil || feet <= 0 {
			continue
		}
		name := strings.ToLower(w.treatment)
		k, seen := at[name]
		if !seen {
			k = len(q.PerFoot)
			at[name] = k
			q.PerFoot = append(q.PerFoot, FootCost{Treatment: w.treatment})
		}
		f := &q.PerFoot[k]
		f.Joints, f.Feet, f.Cents = f.Joints+1, f.Feet+feet, f.Cents+*actual
	}
	slices.SortFunc(q.PerFoot, func(a, b FootCost) int { return cmp.Compare(a.Treatment, b.Treatment) })
	return nil
}

// addPlates lists the plates that lay on the last day, the oldest first.
func (q *Quarter) addPlates(ctx context.Context, db bun.IDB) error {
	all, err := inventory.Findings(ctx, db, inventory.FindingFilter{Kind: inventory.PlatePlaced, Closed: true})
	if err != nil {
		return err
	}
	var joints []int64
	for _, f := range all {
		if q.by(f.FoundOn) && !q.by(f.ClosedOn) {
			q.Plates = append(q.Plates, OpenPlate{Finding: f, Days: int(q.Through.Time().Sub(f.FoundOn.Time()).Hours() / 24)})
			joints = append(joints, f.JointID)
		}
	}
	if len(joints) == 0 {
		return nil
	}
	var of []struct {
		ID       int64
		District string
	}
	if err := db.NewRaw("SELECT j.id, coalesce(b.district, '') AS district FROM joints j JOIN bridges b ON b.id = j.bridge_id WHERE j.id IN (?)",
		bun.List(joints)).Scan(ctx, &of); err != nil {
		return err
	}
	for i := range q.Plates {
		for _, j := range of {
			if j.ID == q.Plates[i].JointID {
				q.Plates[i].District = j.District
			}
		}
	}
	slices.SortStableFunc(q.Plates, func(a, b OpenPlate) int { return cmp.Compare(b.Days, a.Days) })
	return nil
}
