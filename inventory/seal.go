package inventory

import (
	"context"

	"github.com/uptrace/bun"

	"reseal/inventory/store"
)

// Stretch is a length of a joint with a seal of its own: work done in half
// widths makes two.
type Stretch struct {
	bun.BaseModel `bun:"table:stretches,alias:t" json:"-"`

	ID      int64   `bun:"id,pk,autoincrement" json:"id"`
	UID     string  `bun:"uid,nullzero" json:"uid"`
	JointID int64   `bun:"joint_id" json:"joint_id"`
	FromFt  float64 `bun:"from_ft" json:"from_ft"`
	ToFt    float64 `bun:"to_ft" json:"to_ft"`
	Stage   string  `bun:"stage,nullzero" json:"stage,omitempty"`
	EndedOn Date    `bun:"ended_on" json:"ended_on,omitzero"`
	store.Stamp
}

// LengthFt is the stretch's length along the joint.
func (t Stretch) LengthFt() float64 { return t.ToFt - t.FromFt }

// Seal is what closes a stretch, from its installation to its removal. Each
// stretch has at most one that is not removed.
type Seal struct {
	bun.BaseModel `bun:"table:seals,alias:s" json:"-"`

	ID                 int64    `bun:"id,pk,autoincrement" json:"id"`
	UID                string   `bun:"uid,nullzero" json:"uid"`
	StretchID          int64    `bun:"stretch_id" json:"stretch_id"`
	Kind               string   `bun:"kind,nullzero" json:"kind"`
	Element            int      `bun:"element,nullzero" json:"element,omitempty"`
	Size               string   `bun:"size,nullzero" json:"size,omitempty"`
	MinOpenIn          *float64 `bun:"min_open_in" json:"min_open_in,omitempty"` // smallest opening it works at
	MaxOpenIn          *float64 `bun:"max_open_in" json:"max_open_in,omitempty"`
	Header             string   `bun:"header,nullzero" json:"header,omitempty"`
	InstalledOn        Date     `bun:"installed_on" json:"installed_on,omitzero"`
	InstalledPrecision string   `bun:"installed_precision,nullzero" json:"installed_precision,omitempty"`
	InstalledBy        string   `bun:"installed_by,nullzero" json:"installed_by,omitempty"`
	Contract           string   `bun:"contract,nullzero" json:"contract,omitempty"`
	InstalledGapIn     *float64 `bun:"installed_gap_in" json:"installed_gap_in,omitempty"`
	InstalledDeckTempF *float64 `bun:"installed_deck_temp_f" json:"installed_deck_temp_f,omitempty"`
	Product            string   `bun:"product,nullzero" json:"product,omitempty"`
	Lot                string   `bun:"lot,nullzero" json:"lot,omitempty"`
	RecessIn           *float64 `bun:"recess_in" json:"recess_in,omitempty"`
	CostCents          *int64   `bun:"cost_cents" json:"cost_cents,omitempty"`
	AcceptedOn         Date     `bun:"accepted_on" json:"accepted_on,omitzero"`
	WarrantyUntil      Date     `bun:"warranty_until" json:"warranty_until,omitzero"`
	RemovedOn          Date     `bun:"removed_on" json:"removed_on,omitzero"`
	RemovedWhy         string   `bun:"removed_why,nullzero" json:"removed_why,omitempty"`
	Notes              string   `bun:"notes,nullzero" json:"notes,omitempty"`
	store.Stamp
}

// KindOther is the seal kind of which nothing more is known.
const KindOther = "other"

// RemovedForWear is why a seal came out that was worn.
const RemovedForWear = "wear"

// SealKinds are the kinds of seal that the agency's tables know.
func SealKinds(ctx context.Context, db bun.IDB) (kinds []string, err error) {
	err = db.NewRaw("SELECT kind FROM life_table UNION SELECT kind FROM seal_kinds ORDER BY kind").Scan(ctx, &kinds)
	return kinds, err
}

// SealedStretch is a stretch with the seals that it has had, the latest first.
type SealedStretch struct {
	Stretch
	Seals []Seal `json:"seals"`
}

// Current is the seal in place, or nil.
func (t *SealedStretch) Current() *Seal {
	for i := range t.Seals {
		if t.Seals[i].RemovedOn.IsZero() {
			return &t.Seals[i]
		}
	}
	return nil
}

// Stretches returns a joint's present stretches in order, with their seals.
func Stretches(ctx context.Context, db bun.IDB, jointID int64) ([]SealedStretch, error) {
	of, err := StretchesOf(ctx, db, []int64{jointID})
	return of[jointID], err
}

// StretchesOf returns what Stretches does for each of several joints.
func StretchesOf(ctx context.Context, db bun.IDB, jointIDs []int64) (map[int64][]SealedStretch, error) {
	if len(jointIDs) == 0 {
		return nil, nil
	}
	var ts []Stretch
	err := db.NewSelect().Model(&ts).Where("joint_id IN (?) AND ended_on IS NULL", bun.List(jointIDs)).Order("joint_id", "from_ft", "id").Scan(ctx)
	if err != nil || len(ts) == 0 {
		return nil, err
	}
	var seals []Seal
	err = db.NewSelect().Model(&seals).
		Where("stretch_id IN (SELECT id FROM stretches WHERE joint_id IN (?) AND ended_on IS NULL)", bun.List(jointIDs)).
		OrderExpr("removed_on IS NOT NULL, installed_on DESC, id DESC").Scan(ctx)
	in := make(map[int64][]Seal, len(ts))
	for _, s := range seals {
		in[s.StretchID] = append(in[s.StretchID], s)
	}
	of := make(map[int64][]SealedStretch, len(jointIDs))
	for _, t := range ts {
		of[t.JointID] = append(of[t.JointID], SealedStretch{Stretch: t, Seals: in[t.ID]})
	}
	return of, err
}

// AddStretch puts a stretch on record.
func AddStretch(ctx context.Context, tx *store.Tx, t *Stretch) error {
	t.UID, t.Stamp = tx.NewUID(), tx.Created()
	_, err := tx.NewInsert().Model(t).Exec(ctx)
	return err
}

// AddSeal puts a seal on record.
func AddSeal(ctx context.Context, tx *store.Tx, s *Seal) error {
	s.UID, s.Stamp = tx.NewUID(), tx.Created()
	if s.Kind == "" {
		s.Kind = KindOther
	}
	_, err := tx.NewInsert().Model(s).Exec(ctx)
	return err
}

// ReplaceSeal takes the current seal of the stretch out on the day that the
// new one goes in, and begins the new one's life.
func ReplaceSeal(ctx context.Context, tx *store.Tx, stretch *SealedStretch, s *Seal, why string) error {
	if s.InstalledOn.IsZero() {
		return store.Invalid("give the day it went in", "a new seal needs its installation date")
	}
	if old := stretch.Current(); old != nil {
		if s.InstalledOn.Before(old.InstalledOn) {
			return store.Invalid("correct one of the two dates", "the new seal's date %s is before the present one's, %s", s.InstalledOn, old.InstalledOn)
		}
		old.RemovedOn, old.RemovedWhy = s.InstalledOn, why
		if err := SaveSeal(ctx, tx, old); err != nil {
			return err
		}
	}
	s.StretchID = stretch.ID
	return AddSeal(ctx, tx, s)
}

// SaveSeal writes a changed seal back; history keeps what it was.
func SaveSeal(ctx context.Context, tx *store.Tx, s *Seal) error {
	tx.Changed(&s.Stamp)
	_, err := tx.NewUpdate().Model(s).WherePK().Exec(ctx)
	return err
}
