package layer

import (
	"context"

	"github.com/paulmach/orb"

	"reseal/forecast"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

// workListLayer is the ranked list of a year as worklist prints it.
func workListLayer() *rows[forecast.WorkItem] {
	type row = forecast.WorkItem
	return &rows[row]{
		title: "worklist", caution: Caution, projected: true,
		at:   func(i *row) (int64, orb.Geometry) { return 0, i.Geom.Geometry },
		each: eachWorkItem,
		fields: []field[row]{
			textField("part", func(i *row) string { return string(i.Part) }),
			countField("rank", func(i *row) int { return i.Rank }),
			textField("tag", func(i *row) string { return i.Tag }),
			textField("label", func(i *row) string { return i.Label }),
			textField("state", func(i *row) string { return i.State }),
			textField("structure_number", func(i *row) string { return i.StructureNumber }),
			textField("route", func(i *row) string { return i.Route }),
			numberField("milepost", table.Float, func(i *row) *float64 { return i.Milepost }),
			textField("district", func(i *row) string { return i.District }),
			textField("county", func(i *row) string { return i.County }),
			textField("place", func(i *row) string { return i.Place }),
			textField("seal_kind", func(i *row) string { return i.Kind }),
			textField("treatment", func(i *row) string { return i.Treatment }),
			numberField("length_ft", table.Length, func(i *row) *float64 { return &i.LengthFt }),
			countField("lane_closures", func(i *row) int { return i.Lanes }),
			centsField("cost_nominal_usd", func(i *row) int64 { return i.CostCents }),
			numberField("failed_probability", table.Float, func(i *row) *float64 { return &i.FailedProbability }),
			countField("replace_year_10", func(i *row) int { return i.EarlyYear }),
			countField("replace_year", func(i *row) int { return i.ReplaceYear }),
			countField("replace_year_90", func(i *row) int { return i.LateYear }),
			textField("reason", func(i *row) string { return i.Reason }),
			textField("notes", func(i *row) string { return i.Notes }),
		},
	}
}

// eachWorkItem gives the items of the list: the urgent ones, by rank, and what is
// known only for a whole bridge.
func eachWorkItem(ctx context.Context, s *store.Store, q Query, fn func(*forecast.WorkItem) error) error {
	list, err := q.WorkList(ctx)
	if err != nil {
		return err
	}
	for _, items := range [][]forecast.WorkItem{list.Urgent, list.Ranked, list.Whole} {
		for i := range items {
			if err := fn(&items[i]); err != nil {
				return err
			}
		}
	}
	return nil
}
