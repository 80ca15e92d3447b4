package forecast

import (
	"context"
	"slices"
	"strings"

	"github.com/uptrace/bun"

	"reseal/inventory"
	"reseal/inventory/store"
)

// The states of a job, in the order of its way. In-house work has no contract,
// and so is never obligated.
const (
	Approved   = "approved"
	Programmed = "programmed"
	Obligated  = "obligated"
	Completed  = "completed"
	Paid       = "paid"
	Dropped    = "dropped"
)

// JobStates lists the states in the order of a job's way.
func JobStates() []string {
	return []string{Approved, Programmed, Obligated, Completed, Paid, Dropped}
}

// Job is a joint of an approved work list, on its way to being paid. What was
// approved never changes; the state, its days and the actual cost do.
type Job struct {
	bun.BaseModel `bun:"table:work_list_items,alias:i" json:"-"`

	ID        int64  `bun:"id,pk,autoincrement" json:"-"`
	ListID    int64  `bun:"list_id" json:"-"`
	JointID   int64  `bun:"joint_id" json:"-"`
	Rank      int    `bun:"rank" json:"rank"`
	Treatment string `bun:"treatment" json:"treatment"`
	CostCents int64  `bun:"cost_cents" json:"cost_cents"` // as approved, nominal
	WaitCents int64  `bun:"wait_cents" json:"wait_cents"` // of leaving it a year, constant dollars
	Reason    string `bun:"reason" json:"reason"`         // why it was on the list

	Progress     string         `bun:"progress" json:"progress"`
	Contract     string         `bun:"contract,nullzero" json:"contract,omitempty"`
	Note         string         `bun:"progress_note,nullzero" json:"note,omitempty"` // why it was dropped
	ProgrammedOn inventory.Date `bun:"programmed_on" json:"programmed_on,omitzero"`
	ObligatedOn  inventory.Date `bun:"obligated_on" json:"obligated_on,omitzero"`
	CompletedOn  inventory.Date `bun:"completed_on" json:"completed_on,omitzero"`
	PaidOn       inventory.Date `bun:"paid_on" json:"paid_on,omitzero"`
	DroppedOn    inventory.Date `bun:"dropped_on" json:"dropped_on,omitzero"`
	ActualCents  *int64         `bun:"actual_cents" json:"actual_cents,omitempty"` // nominal
	WorkID       int64          `bun:"work_id,nullzero" json:"work_id,omitempty"`  // the work on record that did it
	store.Stamp

	List            string         `bun:"list,scanonly" json:"list"`
	Year            int            `bun:"year,scanonly" json:"year"` // fiscal
	ApprovedOn      inventory.Date `bun:"approved_on,scanonly" json:"approved_on"`
	Tag             string         `bun:"tag,scanonly" json:"tag"`
	LengthFt        float64        `bun:"length_ft,scanonly" json:"length_ft"` // 0: not on record
	State           string         `bun:"state,scanonly" json:"state"`         // of the bridge, FIPS
	StructureNumber string         `bun:"structure_number,scanonly" json:"structure_number"`
	Route           string         `bun:"route,scanonly" json:"route"`
	District        string         `bun:"district,scanonly" json:"district"`
}

// JobFilter chooses jobs; its zero value takes all.
type JobFilter struct {
	List     string // name of the approved list
	Progress string // state
	JointID  int64
	BridgeID int64
	Open     bool // neither paid nor dropped
}

// Jobs lists the jobs of approved lists, by list, the latest first, and rank.
func Jobs(ctx context.Context, db bun.IDB, f JobFilter) ([]Job, error) {
	var jobs []Job
	q := db.NewSelect().Model(&jobs).
		ColumnExpr(`i.*, l.name AS list, l.year AS year, l.as_of AS approved_on, j.tag AS tag, coalesce(j.length_ft, 0) AS length_ft,
			b.state AS state, b.structure_number AS structure_number, coalesce(b.route, '') AS route, coalesce(b.district, '') AS district`).
		Join("JOIN work_lists l ON l.id = i.list_id").Join("JOIN joints j ON j.id = i.joint_id").Join("JOIN bridges b ON b.id = j.bridge_id").
		Order("l.id DESC", "i.rank", "i.id")
	if f.List != "" {
		q = q.Where("l.name = ?", f.List)
	}
	if f.Progress != "" {
		q = q.Where("i.progress = ?", f.Progress)
	}
	if f.JointID != 0 {
		q = q.Where("i.joint_id = ?", f.JointID)
	}
	if f.BridgeID != 0 {
		q = q.Where("j.bridge_id = ?", f.BridgeID)
	}
	if f.Open {
		q = q.Where("i.progress NOT IN (?, ?)", Paid, Dropped)
	}
	if err := q.Scan(ctx); err != nil {
		return nil, err
	}
	if len(jobs) == 0 && f.List != "" {
		var n int
		if err := db.NewRaw("SELECT count(*) FROM work_lists WHERE name = ?", f.List).Scan(ctx, &n); err != nil {
			return nil, err
		}
		if n == 0 {
			return nil, store.NotFound("list them with: reseal job lists", "there is no approved list %q", f.List)
		}
	}
	return jobs, nil
}

// Step is one move of a job.
type Step struct {
	To          string         // blank: the last step is taken back
	On          inventory.Date // zero: today; of a completion the day of its work on record
	Contract    string         // number; an obligation needs one
	ActualCents *int64         // nominal, of a completion or a payment
	Reason      string         // of a drop

	// Of a completion, see [Job.Complete].
	Seal, Kind            string // what went in: a row of the catalogue by its name, or a kind alone
	Notes                 string
	AsRecorded, AcceptOdd bool

	work *inventory.Work // that did it
}

// before are the states from which a job may come to a state.
func before(state string) []string {
	switch state {
	case Programmed:
		return []string{Approved}
	case Obligated:
		return []string{Programmed}
	case Completed:
		return []string{Obligated, Programmed}
	case Paid:
		return []string{Completed}
	case Dropped:
		return []string{Approved, Programmed, Obligated}
	}
	return nil
}

// day is where the job keeps the day of a state.
func (j *Job) day(state string) *inventory.Date {
	switch state {
	case Programmed:
		return &j.ProgrammedOn
	case Obligated:
		return &j.ObligatedOn
	case Completed:
		return &j.CompletedOn
	case Paid:
		return &j.PaidOn
	case Dropped:
		return &j.DroppedOn
	}
	return &j.ApprovedOn
}

// take applies a step to the job, or says why it cannot be.
func (j *Job) take(s Step) error {
	since := j.Since()
	switch {
	case !j.Can(s.To):
		return store.Invalid("a job goes from approved to programmed, obligated (a contract), completed and paid; it can be dropped until it is completed",
			"joint %s of %q is %s, and cannot become %s", j.Tag, j.List, j.Progress, s.To)
	case s.On.Before(since):
		return store.Invalid("correct the date", "joint %s of %q was %s on %s, later than %s", j.Tag, j.List, j.Progress, since, s.On)
	case s.To == Obligated && s.Contract == "" && j.Contract == "":
		return store.Invalid("give it: --contract NUMBER, or the field Contract; in-house work goes from programmed to completed", "an obligation needs the number of its contract")
	case s.To == Dropped && strings.TrimSpace(s.Reason) == "":
		return store.Invalid("give it: --reason WHY, or the field Reason", "a job is dropped for a reason")
	case s.To == Paid && s.ActualCents == nil && j.ActualCents == nil:
		return store.Invalid("give it: --cost DOLLARS, or the field Cost", "what joint %s of %q really cost is not on record", j.Tag, j.List)
	case s.ActualCents != nil && s.To != Completed && s.To != Paid:
		return store.Invalid("the cost is known at the end", "a job that becomes %s has no actual cost", s.To)
	}
	j.Progress, *j.day(s.To) = s.To, s.On
	if s.Contract != "" {
		j.Contract = s.Contract
	}
	if s.ActualCents != nil {
		j.ActualCents = s.ActualCents
	}
	if s.To == Dropped {
		j.Note = s.Reason
	}
	return nil
}

// advance moves the job and keeps it. A job is completed by work on record.
func (j *Job) advance(ctx context.Context, tx *store.Tx, s Step) error {
	if err := j.take(s); err != nil {
		return err
	}
	if s.To == Completed {
		j.WorkID = s.work.ID
		if j.ActualCents == nil {
			j.ActualCents = s.work.CostCents
		}
	}
	return j.save(ctx, tx)
}

// Undo takes the last step back, to correct a mistake; work on record stays.
func (j *Job) Undo(ctx context.Context, tx *store.Tx) error {
	if j.Progress == Approved {
		return store.Invalid("", "joint %s of %q has taken no step yet", j.Tag, j.List)
	}
	switch j.Progress {
	case Completed:
		j.WorkID, j.ActualCents = 0, nil
	case Dropped:
		j.Note = ""
	case Obligated:
		j.Contract = ""
	}
	*j.day(j.Progress) = inventory.Date{}
	j.Progress = Approved
	for _, state := range []string{Completed, Obligated, Programmed} {
		if !j.day(state).IsZero() {
			j.Progress = state
			break
		}
	}
	return j.save(ctx, tx)
}

func (j *Job) save(ctx context.Context, tx *store.Tx) error {
	tx.Changed(&j.Stamp)
	_, err := tx.NewUpdate().Model(j).Column("progress", "contract", "progress_note", "programmed_on", "obligated_on", "completed_on",
		"paid_on", "dropped_on", "actual_cents", "work_id", "changed_at", "changed_by").WherePK().Exec(ctx)
	return err
}

// WorkOfJob is the work on record that can have done the job: the last on the
// joint since the list was approved, on the day if one is given, that did no other
// job; of the job's treatment unless any will do. It is nil where there is none.
func WorkOfJob(ctx context.Context, db bun.IDB, j *Job, on inventory.Date, any bool) (*inventory.Work, error) {
	all, err := inventory.WorkOn(ctx, db, j.JointID)
	if err != nil {
		return nil, err
	}
	var taken []int64
	if err := db.NewRaw("SELECT work_id FROM work_list_items WHERE joint_id = ? AND work_id IS NOT NULL", j.JointID).Scan(ctx, &taken); err != nil {
		return nil, err
	}
	for i := len(all) - 1; i >= 0; i-- {
		w := &all[i]
		fits := any || strings.EqualFold(w.Treatment, j.Treatment)
		if fits && !w.DoneOn.Before(j.ApprovedOn) && (on.IsZero() || w.DoneOn == on) && !slices.Contains(taken, w.ID) {
			return w, nil
		}
	}
	return nil, nil
}

// ApprovedList is one approved list with where its jobs stand.
type ApprovedList struct {
	Name          string         `json:"name"`
	Year          int            `json:"year"` // fiscal
	ApprovedOn    inventory.Date `json:"approved_on"`
	By            string         `json:"approved_by"`
	BudgetCents   *int64         `json:"budget_cents,omitempty"` // nil: none was given
	Jobs          int            `json:"jobs"`
	ByState       map[string]int `json:"by_state"`
	ApprovedCents int64          `json:"approved_cents"` // of all jobs, nominal
	ActualCents   int64          `json:"actual_cents"`   // of those whose cost is known
	DroppedCents  int64          `json:"dropped_cents"`  // approved for jobs that were dropped
}

// ApprovedLists lists the approved lists, the latest first.
func ApprovedLists(ctx context.Context, db bun.IDB) ([]ApprovedList, error) {
	var rows []struct {
		Name   string         `bun:"name"`
		Year   int            `bun:"year"`
		AsOf   inventory.Date `bun:"as_of"`
		By     string         `bun:"created_by"`
		Budget *int64         `bun:"budget_cents"`
	}
	if err := db.NewRaw("SELECT name, year, as_of, coalesce(created_by, '') AS created_by, budget_cents FROM work_lists ORDER BY id DESC").Scan(ctx, &rows); err != nil {
		return nil, err
	}
	jobs, err := Jobs(ctx, db, JobFilter{})
	if err != nil {
		return nil, err
	}
	lists := make([]ApprovedList, len(rows))
	at := map[string]*ApprovedList{}
	for i, r := range rows {
		lists[i] = ApprovedList{Name: r.Name, Year: r.Year, ApprovedOn: r.AsOf, By: r.By, BudgetCents: r.Budget, ByState: map[string]int{}}
		at[r.Name] = &lists[i]
	}
	for i := range jobs {
		l := at[jobs[i].List]
		l.Jobs++
		l.ByState[jobs[i].Progress]++
		l.ApprovedCents += jobs[i].CostCents
		if a := jobs[i].ActualCents; a != nil {
			l.ActualCents += *a
		}
		if jobs[i].Progress == Dropped {
			l.DroppedCents += jobs[i].CostCents
		}
	}
	return lists, nil
}

// Can tells whether the job may take a step to a state; to none, whether it has
// a step to take back.
func (j *Job) Can(to string) bool {
	if to == "" {
		return j.Progress != Approved
	}
	return slices.Contains(before(to), j.Progress)
}

// Since is the day on which the job came to its state.
func (j *Job) Since() inventory.Date { return *j.day(j.Progress) }
