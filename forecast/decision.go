package forecast

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/uptrace/bun"

	"reseal/forecast/money"
	"reseal/inventory"
	"reseal/inventory/store"
)

// What a person can decide about a joint.
const (
	Pin          = "pin"       // it is done in the year, whatever its rank
	Hold         = "hold"      // nothing is done before the year
	Exclude      = "exclude"   // it is left out
	FixTreatment = "treatment" // this treatment and no other
	FixCost      = "cost"      // this cost in place of the table's
)

// Decision is what a person decided about a joint, with a reason. One of each
// kind stands at a time; the ones before it stay on record.
type Decision struct {
	bun.BaseModel `bun:"table:decisions,alias:d" json:"-"`

	ID        int64          `bun:"id,pk,autoincrement" json:"id"`
	UID       string         `bun:"uid,nullzero" json:"uid"`
	JointID   int64          `bun:"joint_id" json:"joint_id"`
	What      string         `bun:"what" json:"what"`
	Year      int            `bun:"year,nullzero" json:"year,omitempty"`           // fiscal, of pin and hold
	Treatment string         `bun:"treatment,nullzero" json:"treatment,omitempty"` // of pin and treatment; blank: the best
	CostCents int64          `bun:"cost_cents" json:"cost_cents,omitempty"`        // of cost: constant dollars without the visit
	PriceYear int            `bun:"price_year,nullzero" json:"price_year,omitempty"`
	TakesOver string         `bun:"takes_over,nullzero" json:"takes_over,omitempty"` // of an elimination: joints, see TakeOvers
	Reason    string         `bun:"reason" json:"reason"`
	EndedOn   inventory.Date `bun:"ended_on" json:"ended_on,omitzero"`
	store.Stamp

	Tag string `bun:"tag,scanonly" json:"tag,omitempty"`
}

// Validate refuses a decision that lacks what its kind needs.
func (d *Decision) Validate() error {
	switch {
	case strings.TrimSpace(d.Reason) == "":
		return store.Invalid("give it with --reason", "a decision needs a reason")
	case (d.What == Pin || d.What == Hold) && (d.Year < 1990 || d.Year > 2100):
		return store.Invalid("for example: reseal decide J000123 pin 2027", "%s needs a fiscal year from 1990 to 2100", d.What)
	case d.What == FixTreatment && d.Treatment == "":
		return store.Invalid("name one of: reseal settings table list treatments", "which treatment?")
	case d.What == FixCost && (d.CostCents <= 0 || d.PriceYear == 0):
		return store.Invalid("give it in dollars of today, for example 24,500", "a cost is over 0")
	case !slices.Contains([]string{Pin, Hold, Exclude, FixTreatment, FixCost}, d.What):
		return store.Invalid("it is pin, hold, exclude, treatment or cost", "nobody can decide %q", d.What)
	}
	return nil
}

// NewDecision is what is decided about a joint as people write it: of pin and
// hold a fiscal year, of treatment its name, of cost dollars of today. A
// treatment may go with pin and cost.
func (t *Tables) NewDecision(jointID int64, what, value, treatment, reason string, today inventory.Date) (*Decision, error) {
	d := &Decision{JointID: jointID, What: what, Treatment: treatment, Reason: reason}
	var err error
	switch what {
	case Pin, Hold:
		if d.Year, err = strconv.Atoi(strings.TrimSpace(value)); err != nil {
			return nil, store.Invalid("for example: reseal decide J000123 pin 2027", "%q is not a fiscal year", value)
		}
		if now := t.Settings.Calendar().YearOf(today.Year, today.Month); d.Year < now {
			return nil, store.Invalid(fmt.Sprintf("give a fiscal year from %d on", now), "%d is over: nothing can be decided for it", d.Year)
		}
	case FixTreatment:
		d.Treatment = value
	case FixCost:
		if d.CostCents, err = money.Parse(value); err != nil {
			return nil, store.Hinted(fmt.Errorf("cost: %w", err), "give it in dollars of today, for example 24,500")
		}
		d.PriceYear = t.Settings.Calendar().YearOf(today.Year, today.Month)
	}
	if d.Treatment != "" {
		named, err := t.Treatment(d.Treatment)
		if err != nil {
			return nil, err
		}
		d.Treatment = named.Name
	}
	return d, nil
}

// Decide puts a decision on record in place of the one of its kind that stood.
func Decide(ctx context.Context, tx *store.Tx, d *Decision, on inventory.Date) error {
	if err := d.Validate(); err != nil {
		return err
	}
	if _, err := Undecide(ctx, tx, d.JointID, d.What, on); err != nil {
		return err
	}
	d.UID, d.Stamp = tx.NewUID(), tx.Created()
	_, err := tx.NewInsert().Model(d).Exec(ctx)
	return err
}

// Undecide ends the decisions of a kind, or of all kinds where it is blank, and
// returns how many stood.
func Undecide(ctx context.Context, tx *store.Tx, jointID int64, what string, on inventory.Date) (int, error) {
	var standing []Decision
	q := tx.NewSelect().Model(&standing).Where("joint_id = ? AND ended_on IS NULL", jointID)
	if what != "" {
		q = q.Where("what = ?", what)
	}
	if err := q.Scan(ctx); err != nil {
		return 0, err
	}
	for i := range standing {
		d := &standing[i]
		d.EndedOn = on
		tx.Changed(&d.Stamp)
		if _, err := tx.NewUpdate().Model(d).Column("ended_on", "changed_at", "changed_by").WherePK().Exec(ctx); err != nil {
			return 0, err
		}
	}
	return len(standing), nil
}

// Decisions lists those that stand, by joint.
func Decisions(ctx context.Context, db bun.IDB) ([]Decision, error) {
	var out []Decision
	err := db.NewSelect().Model(&out).ColumnExpr("d.*, j.tag AS tag").Join("JOIN joints j ON j.id = d.joint_id").
		Where("d.ended_on IS NULL").Order("j.tag", "d.what").Scan(ctx)
	return out, err
}

// DecisionsOn lists what was ever decided about a joint, the latest first; what
// has not ended stands.
func DecisionsOn(ctx context.Context, db bun.IDB, jointID int64) ([]Decision, error) {
	var out []Decision
	err := db.NewSelect().Model(&out).Where("d.joint_id = ?", jointID).Order("d.id DESC").Scan(ctx)
	return out, err
}

// decisions reads those that stand on the day.
func (l *loader) decisions(ids []int64) error {
	return l.of(func(r *Record, row *row) {
		r.Decided = append(r.Decided, Decision{
			JointID: r.ID, What: row.text(1), Year: int(row.int(2)), Treatment: row.text(3), CostCents: row.int(4), PriceYear: int(row.int(5)),
			Reason: row.text(6), Stamp: store.Stamp{CreatedBy: row.text(7), CreatedAt: store.Instant(row.text(8))},
		})
	}, `SELECT joint_id, what, year, treatment, cost_cents, price_year, reason, created_by, substr(created_at, 1, 10)
		FROM decisions WHERE `+among("joint_id", ids)+` AND (ended_on IS NULL OR ended_on > ?) ORDER BY joint_id, id`, l.asOf)
}

// decided returns the decision of a kind, or nil.
func (r *Record) decided(what string) *Decision {
	for i := range r.Decided {
		if r.Decided[i].What == what {
			return &r.Decided[i]
		}
	}
	return nil
}

// Words say what was decided.
func (d *Decision) Words() string {
	switch d.What {
	case Pin:
		if d.Treatment != "" {
			return fmt.Sprintf("pinned to %d, %s", d.Year, d.Treatment)
		}
		return fmt.Sprintf("pinned to %d", d.Year)
	case Hold:
		return fmt.Sprintf("held until %d", d.Year)
	case FixTreatment:
		return "treatment: " + d.Treatment
	case FixCost:
		return fmt.Sprintf("cost: $%s of %d", money.FormatDollars(d.CostCents), d.PriceYear)
	}
	return "left out"
}
