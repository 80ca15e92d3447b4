package inventory

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/uptrace/bun"

	"reseal/inventory/store"
)

// Work is something done at a joint. It is only ever added: a correction is a
// new row that names the one it replaces.
type Work struct {
	bun.BaseModel `bun:"table:work,alias:w" json:"-"`

	ID         int64         `bun:"id,pk,autoincrement" json:"id"`
	UID        string        `bun:"uid,nullzero" json:"uid"`
	JointID    int64         `bun:"joint_id" json:"joint_id"`
	DoneOn     Date          `bun:"done_on" json:"done_on"`
	Treatment  string        `bun:"treatment" json:"treatment"`
	FromFt     float64       `bun:"from_ft" json:"from_ft"`
	ToFt       *float64      `bun:"to_ft" json:"to_ft,omitempty"` // nil: the whole length
	NewSeal    bool          `bun:"new_seal" json:"new_seal"`
	CostCents  *int64        `bun:"cost_cents" json:"cost_cents,omitempty"`
	ByWhom     string        `bun:"by_whom,nullzero" json:"by_whom,omitempty"`
	Contract   string        `bun:"contract,nullzero" json:"contract,omitempty"`
	Notes      string        `bun:"notes,nullzero" json:"notes,omitempty"`
	ReplacesID int64         `bun:"replaces_id,nullzero" json:"replaces_id,omitempty"`
	CreatedAt  store.Instant `bun:"created_at,nullzero" json:"created_at,omitempty"`
	CreatedBy  string        `bun:"created_by,nullzero" json:"created_by,omitempty"`
}

// TemporaryPlate is the treatment that never improves condition.
const TemporaryPlate = "temporary plate"

// Whole tells whether the work took in the joint's whole length.
func (w *Work) Whole(lengthFt float64) bool {
	return w.FromFt <= 0 && (w.ToFt == nil || *w.ToFt >= lengthFt-1)
}

// AddWork puts work done on record.
func AddWork(ctx context.Context, tx *store.Tx, w *Work) error {
	w.UID, w.CreatedAt, w.CreatedBy = tx.NewUID(), tx.At, tx.Actor
	_, err := tx.NewInsert().Model(w).Exec(ctx)
	return err
}

// WorkOn returns the work that counts on a joint, oldest first.
func WorkOn(ctx context.Context, db bun.IDB, jointID int64) ([]Work, error) {
	var work []Work
	err := db.NewSelect().Model(&work).Where("joint_id = ?", jointID).
		Where("NOT EXISTS (SELECT 1 FROM work r WHERE r.replaces_id = w.id)").Order("done_on", "id").Scan(ctx)
	return work, err
}

// Finding is something seen at a joint between inspections.
type Finding struct {
	bun.BaseModel `bun:"table:findings,alias:f" json:"-"`

	ID         int64    `bun:"id,pk,autoincrement" json:"id"`
	UID        string   `bun:"uid,nullzero" json:"uid"`
	JointID    int64    `bun:"joint_id" json:"joint_id"`
	Kind       string   `bun:"kind" json:"kind"`
	FoundOn    Date     `bun:"found_on" json:"found_on"`
	Source     string   `bun:"source,nullzero" json:"source,omitempty"`
	FromFt     *float64 `bun:"from_ft" json:"from_ft,omitempty"`
	ToFt       *float64 `bun:"to_ft" json:"to_ft,omitempty"`
	Urgency    string   `bun:"urgency,nullzero" json:"urgency"`
	Action     string   `bun:"action,nullzero" json:"action,omitempty"`
	Owner      string   `bun:"owner,nullzero" json:"owner,omitempty"`
	ClosedOn   Date     `bun:"closed_on" json:"closed_on,omitzero"`
	ClosedNote string   `bun:"closed_note,nullzero" json:"closed_note,omitempty"`
	Notes      string   `bun:"notes,nullzero" json:"notes,omitempty"`
	Photos     string   `bun:"photos,nullzero" json:"photos,omitempty"` // file names, one a line
	store.Stamp

	Tag string `bun:"tag,scanonly" json:"tag,omitempty"` // of the joint, in lists

	// Where the joint is, in lists.
	Route              string   `bun:"route,scanonly" json:"-"`
	Milepost           *float64 `bun:"milepost,scanonly" json:"-"`
	District           string   `bun:"district,scanonly" json:"-"`
	FacilityCarried    string   `bun:"facility_carried,scanonly" json:"-"`
	FeatureIntersected string   `bun:"feature_intersected,scanonly" json:"-"`
}

// DaysOpen is how long the finding has been, or was, open.
func (f *Finding) DaysOpen(today Date) int {
	until := today
	if !f.ClosedOn.IsZero() {
		until = f.ClosedOn
	}
	return int(until.Time().Sub(f.FoundOn.Time()).Hours() / 24)
}

// Validate says what cannot be on record of a finding.
func (f *Finding) Validate() error {
	switch {
	case !slices.Contains(FindingKinds, f.Kind):
		return store.Invalid("it is one of: "+strings.Join(FindingKinds, ", "), "there is no finding of kind %q", f.Kind)
	case !slices.Contains(Urgencies, f.Urgency):
		return store.Invalid("it is one of: "+strings.Join(Urgencies, ", "), "there is no urgency %q", f.Urgency)
	case f.FromFt != nil && f.ToFt != nil && *f.ToFt < *f.FromFt:
		return store.Invalid("from is the smaller", "the finding runs from %g to %g ft", *f.FromFt, *f.ToFt)
	}
	return nil
}

// The kinds and urgencies of findings. A severe one needs an engineer's review.
var (
	FindingKinds = []string{"leak", "plough strike", "loose steel", "spalled header", "plate placed", "complaint", "damage below", "other"}
	Urgencies    = []string{"routine", "soon", "severe"}
)

// PlatePlaced is the finding that stays open until the plate is gone.
const PlatePlaced = "plate placed"

// AddFinding puts a finding on record.
func AddFinding(ctx context.Context, tx *store.Tx, f *Finding) error {
	if f.Urgency == "" {
		f.Urgency = "routine"
	}
	if err := f.Validate(); err != nil {
		return err
	}
	if err := f.within(ctx, tx); err != nil {
		return err
	}
	uid, err := tx.TakeUID(f.UID)
	if err != nil {
		return err
	}
	f.UID, f.Stamp = uid, tx.Created()
	_, err = tx.NewInsert().Model(f).Exec(ctx)
	return err
}

// within refuses a place that is not on the joint.
func (f *Finding) within(ctx context.Context, db bun.IDB) error {
	var length *float64
	if err := db.NewRaw("SELECT length_ft FROM joints WHERE id = ?", f.JointID).Scan(ctx, &length); err != nil {
		return err
	}
	for _, at := range []*float64{f.FromFt, f.ToFt} {
		if at != nil && (*at < 0 || length != nil && *at > *length+0.05) {
			if length == nil {
				return store.Invalid("feet run from 0 on", "the finding lies at %g ft", *at)
			}
			return store.Invalid(fmt.Sprintf("give feet from 0 to %g", *length), "the finding lies at %g ft of a joint of %g ft", *at, *length)
		}
	}
	return nil
}

// FindingEntry is a finding as a person or a device gives it: the joint by
// name.
type FindingEntry struct {
	Joint    string `json:"joint"`
	JointUID string `json:"joint_uid,omitempty"` // that the device knew the joint by; empty: not compared
	Finding
}

// Log puts the finding on record, in any number of tries once: again tells
// that it was there by its uid. A finding without a day is of today; one in
// the future is refused.
func (e *FindingEntry) Log(ctx context.Context, tx *store.Tx, today Date) (again bool, err error) {
	j, err := SameJoint(ctx, tx, e.Joint, e.JointUID)
	if err != nil {
		return false, err
	}
	e.ID, e.JointID, e.Tag = 0, j.ID, j.Tag
	if e.UID != "" {
		if e.ID, err = tx.IDOf(ctx, "findings", e.UID); err != nil || e.ID != 0 {
			return e.ID != 0, err
		}
	}
	if e.FoundOn.IsZero() {
		e.FoundOn = today
	}
	if today.Before(e.FoundOn) {
		return false, store.Invalid("correct the date", "%s is in the future", e.FoundOn)
	}
	return false, AddFinding(ctx, tx, &e.Finding)
}

// CloseFinding ends a finding on a day, with what was done about it.
func CloseFinding(ctx context.Context, tx *store.Tx, f *Finding, on Date, note string) error {
	if !f.ClosedOn.IsZero() {
		return store.Invalid("", "finding %d was closed on %s", f.ID, f.ClosedOn)
	}
	if on.Before(f.FoundOn) {
		return store.Invalid("give the day it was closed", "finding %d was found on %s, after %s", f.ID, f.FoundOn, on)
	}
	f.ClosedOn, f.ClosedNote = on, note
	tx.Changed(&f.Stamp)
	_, err := tx.NewUpdate().Model(f).WherePK().Exec(ctx)
	return err
}

// FindFinding returns the finding with the given number.
func FindFinding(ctx context.Context, db bun.IDB, id int64) (*Finding, error) {
	f := &Finding{}
	err := db.NewSelect().Model(f).Where("id = ?", id).Scan(ctx)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, store.NotFound("see them with: reseal finding list", "there is no finding %d", id)
	}
	return f, err
}

// FindingFilter chooses findings. The zero value chooses all open ones.
type FindingFilter struct {
	JointID  int64
	BridgeID int64 // of any joint of the bridge
	Kind     string
	Urgency  string
	District string
	Closed   bool // closed ones too
}

// Findings returns the findings that f chooses: the open ones first, the most
// urgent and oldest of them first.
func Findings(ctx context.Context, db bun.IDB, f FindingFilter) ([]Finding, error) {
	var out []Finding
	q := db.NewSelect().Model(&out).ColumnExpr("f.*, j.tag, b.route, b.milepost, b.district, b.facility_carried, b.feature_intersected").
		Join("JOIN joints j ON j.id = f.joint_id").Join("JOIN bridges b ON b.id = j.bridge_id").
		OrderExpr("closed_on IS NOT NULL, CASE urgency WHEN 'severe' THEN 0 WHEN 'soon' THEN 1 ELSE 2 END, found_on, f.id")
	if f.JointID != 0 {
		q.Where("f.joint_id = ?", f.JointID)
	}
	if f.BridgeID != 0 {
		q.Where("j.bridge_id = ?", f.BridgeID)
	}
	if f.Kind != "" {
		q.Where("f.kind = ?", f.Kind)
	}
	if f.Urgency != "" {
		q.Where("f.urgency = ?", f.Urgency)
	}
	if f.District != "" {
		q.Where("b.district = ?", f.District)
	}
	if !f.Closed {
		q.Where("closed_on IS NULL")
	}
	err := q.Scan(ctx)
	return out, err
}
