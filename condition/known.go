package condition

import (
	"context"

	"github.com/uptrace/bun"

	"reseal/inventory"
)

// KnownOf loads what is on record of a joint for an entry of the given day.
func KnownOf(ctx context.Context, db bun.IDB, j *inventory.Joint, on, today inventory.Date) (*Known, error) {
	k := &Known{Joint: *j, Today: today}
	b, err := inventory.BridgeByID(ctx, db, j.BridgeID)
	if err != nil {
		return nil, err
	}
	k.Bridge = *b
	if k.Stretches, err = inventory.Stretches(ctx, db, j.ID); err != nil {
		return nil, err
	}
	if k.Work, err = inventory.WorkOn(ctx, db, j.ID); err != nil {
		return nil, err
	}
	if k.Readings, err = Readings(ctx, db, j.ID); err != nil {
		return nil, err
	}
	if k.SameDay, err = sameDay(ctx, db, j.ID, on); err != nil {
		return nil, err
	}
	if k.Last, err = withFeet(ctx, db, j.ID, "i.inspected_on < ?", on, "DESC"); err != nil {
		return nil, err
	}
	k.Next, err = withFeet(ctx, db, j.ID, "i.inspected_on > ?", on, "ASC")
	return k, err
}

// sameDay returns the inspections of a day that count.
func sameDay(ctx context.Context, db bun.IDB, jointID int64, on inventory.Date) (found []Inspection, err error) {
	err = db.NewSelect().Model(&found).Relation("Feet").
		Where("i.joint_id = ? AND i.inspected_on = ?", jointID, on).
		Where("NOT EXISTS (SELECT 1 FROM inspections x WHERE x.replaces_id = i.id)").
		Order("i.id").Scan(ctx)
	return found, err
}

// withFeet returns the first inspection, in an order by date, that counts, has
// feet in it and keeps a condition on its day; or nil.
func withFeet(ctx context.Context, db bun.IDB, jointID int64, condition string, on inventory.Date, order string) (*Inspection, error) {
	var found []Inspection
	err := db.NewSelect().Model(&found).Relation("Feet").
		Where("i.joint_id = ?", jointID).Where(condition, on).
		Where("NOT EXISTS (SELECT 1 FROM inspections x WHERE x.replaces_id = i.id)").
		Where("EXISTS (SELECT 1 FROM inspection_feet f WHERE f.inspection_id = i.id)").
		OrderExpr("i.inspected_on ?0, i.id ?0", bun.Safe(order)).Limit(1).Scan(ctx)
	if err != nil || len(found) == 0 {
		return nil, err
	}
	return &found[0], nil
}
