package inventory

import (
	"context"
	"slices"

	"github.com/paulmach/orb"
	"github.com/uptrace/bun"

	"reseal/inventory/store"
)

// redraw draws the joints of changed bridges anew, which where and args choose
// as b: those whose line is drawn, or that had none for want of the bridge's
// place.
func redraw(ctx context.Context, tx *store.Tx, where string, args ...any) error {
	var ids []int64
	err := tx.NewSelect().TableExpr("joints AS j").Join("JOIN bridges b ON b.id = j.bridge_id").Column("j.id").Where(where, args...).
		Where("coalesce(j.geometry_source, ?) = ?", Drawn, Drawn).Where("j.status IN (?)", bun.List([]string{InService, Proposed})).
		Order("j.bridge_id", "j.id").Scan(ctx, &ids)
	if err != nil || len(ids) == 0 {
		return err
	}
	rows, err := store.RowsOf[Joint](ctx, tx)
	if err != nil {
		return err
	}
	for batch := range slices.Chunk(ids, sheetBatch) {
		var joints []*Joint
		if err := tx.NewSelect().Model(&joints).Where("id IN (?)", bun.List(batch)).Order("id").Scan(ctx); err != nil {
			return err
		}
		at := newAtlas()
		if err := at.scanBridges(ctx, tx, "id IN (SELECT bridge_id FROM joints WHERE id IN (?))", bun.List(batch)); err != nil {
			return err
		}
		for _, j := range joints {
			was := *j
			j.Draw(at.bridges[j.BridgeID])
			if was.GeometrySource == j.GeometrySource && orb.Equal(was.Geom.Geometry, j.Geom.Geometry) {
				continue
			}
			tx.Changed(&j.Stamp)
			if err := rows.Update(j); err != nil {
				return err
			}
		}
	}
	return rows.Close()
}
