package condition

import (
	"context"

	"github.com/uptrace/bun"

	"reseal/inventory"
	"reseal/inventory/store"
)

// ElementChange is a joint that came in under another element number.
type ElementChange struct {
	bun.BaseModel `bun:"table:element_changes,alias:c" json:"-"`

	ID          int64  `bun:"id,pk,autoincrement" json:"id"`
	UID         string `bun:"uid,nullzero" json:"uid"`
	JointID     int64  `bun:"joint_id" json:"joint_id"`
	Year        int    `bun:"year" json:"year"`
	FromElement int    `bun:"from_element" json:"from_element"`
	ToElement   int    `bun:"to_element" json:"to_element"`
	Decision    string `bun:"decision,nullzero" json:"decision,omitempty"`
	store.Stamp
}

// The ways to settle an ElementChange.
const (
	Recoding = "recoding" // the same seal under another number
	NewSeal  = "new seal"
)

// OpenChanges returns the element changes that nobody has settled, oldest first.
func OpenChanges(ctx context.Context, db bun.IDB) ([]ElementChange, error) {
	var out []ElementChange
	err := db.NewSelect().Model(&out).Where("decision IS NULL").Order("year", "joint_id").Scan(ctx)
	return out, err
}

// Recode settles the oldest open element change of a joint: the same seal
// under another number, or a new seal that went in on the given day.
func Recode(ctx context.Context, tx *store.Tx, j *inventory.Joint, decision string, installed inventory.Date) error {
	change := &ElementChange{}
	err := tx.NewSelect().Model(change).Where("joint_id = ? AND decision IS NULL", j.ID).Order("year").Limit(1).Scan(ctx)
	if err != nil {
		return store.NotFound("list them with: reseal check", "joint %s has no open change of its element number", j.Tag)
	}
	kind, err := inventory.SealKind(ctx, tx, change.ToElement)
	if err != nil {
		return err
	}
	stretches, err := inventory.Stretches(ctx, tx, j.ID)
	if err != nil {
		return err
	}
	for i := range stretches {
		t := &stretches[i]
		switch seal := t.Current(); {
		case decision == NewSeal:
			err = inventory.ReplaceSeal(ctx, tx, t, &inventory.Seal{Kind: kind, Element: change.ToElement, InstalledOn: installed}, "replaced")
		case seal != nil:
			seal.Kind, seal.Element = kind, change.ToElement
			err = inventory.SaveSeal(ctx, tx, seal)
		}
		if err != nil {
			return err
		}
	}
	change.Decision = decision
	tx.Changed(&change.Stamp)
	_, err = tx.NewUpdate().Model(change).WherePK().Exec(ctx)
	return err
}
