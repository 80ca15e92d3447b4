package inventory

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/uptrace/bun"

	"reseal/inventory/store"
)

// JointColumns are what people may set of a joint.
func JointColumns() []string {
	return []string{
		"label", "place", "movement", "sequence", "station_ft", "length_ft", "skew_deg", "expansion_length_ft",
		"expansion_assumed", "below", "lanes", "direction", "sidewalk_ft", "upturn_ft", "notes",
	}
}

// SealColumns are what people may correct of a seal on record.
func SealColumns() []string {
	return []string{
		"kind", "size", "min_open_in", "max_open_in", "header", "installed_on", "installed_by", "contract",
		"installed_gap_in", "installed_deck_temp_f", "product", "lot", "warranty_until", "notes",
	}
}

// BridgeColumns are what people may set of a bridge.
func BridgeColumns() []string {
	return []string{
		"name", "facility_carried", "feature_intersected", "route", "milepost", "district", "county", "owner", "location",
		"year_built", "year_reconstructed", "length_ft", "main_spans", "approach_spans", "skew_deg", "skew_varies",
		"curb_width_ft", "out_width_ft", "bearing_deg", "material", "continuous", "design", "lanes", "adt", "adt_year",
		"truck_pct", "climate", "deck_temp_min_f", "deck_temp_max_f", "deicing", "detour_mi", "below", "nhs", "deck_rating",
		"superstructure_rating", "substructure_rating", "joints_rating", "inspection_months", "last_inspection", "twin",
		"access", "notes",
	}
}

// Edit is what a person changes of a row: values as people write them, by
// column.
type Edit struct {
	Values map[string]string
	Seen   store.Instant // when the row was last changed as the person saw it; empty: does not matter
}

// apply puts the values into a row whose stamp is s. A row that somebody else
// has changed since it was seen is store.ErrConflict.
func (e Edit) apply(row any, s store.Stamp, allowed []string) error {
	if e.Seen != "" && e.Seen != s.ChangedAt {
		return &store.Error{
			Kind: store.ErrConflict, Text: fmt.Sprintf("%s changed it in the meantime", s.ChangedBy),
			Hint: "look at what it is now, and save again what is still to be changed",
		}
	}
	for _, column := range slices.Sorted(maps.Keys(e.Values)) {
		if !slices.Contains(allowed, column) {
			return store.Invalid("", "%s cannot be changed", column)
		}
		if err := SetColumn(row, column, strings.TrimSpace(e.Values[column])); err != nil {
			return store.Invalid("correct it and save again", "%s: %v", strings.ReplaceAll(column, "_", " "), err)
		}
	}
	return nil
}

// EditJoint changes columns of JointColumns of a joint and draws it anew.
func EditJoint(ctx context.Context, tx *store.Tx, ref string, e Edit) error {
	j, err := FindJoint(ctx, tx, ref)
	if err != nil {
		return err
	}
	b, err := BridgeByID(ctx, tx, j.BridgeID)
	if err != nil {
		return err
	}
	if err := e.apply(j, j.Stamp, JointColumns()); err != nil {
		return err
	}
	j.Draw(b)
	return SaveJoint(ctx, tx, j)
}

// EditBridge changes columns of BridgeColumns of a bridge; its joints whose line
// is drawn are drawn anew.
func EditBridge(ctx context.Context, tx *store.Tx, ref string, e Edit) error {
	b, err := FindBridge(ctx, tx, ref)
	if err != nil {
		return err
	}
	if err := e.apply(b, b.Stamp, BridgeColumns()); err != nil {
		return err
	}
	return SaveBridge(ctx, tx, b)
}

// EditSeal changes columns of SealColumns of a seal of a joint.
func EditSeal(ctx context.Context, tx *store.Tx, jointID, sealID int64, e Edit) error {
	s, err := sealOf(ctx, tx, jointID, sealID)
	if err != nil {
		return err
	}
	if err := e.apply(s, s.Stamp, SealColumns()); err != nil {
		return err
	}
	var known int
	if err := tx.NewRaw("SELECT count(*) FROM seal_kinds WHERE kind = ?", s.Kind).Scan(ctx, &known); err != nil {
		return err
	}
	switch {
	case known == 0:
		return store.Invalid("see them with: reseal settings table list seal_kinds", "there is no seal kind %q", s.Kind)
	case s.MinOpenIn != nil && s.MaxOpenIn != nil && *s.MaxOpenIn <= *s.MinOpenIn:
		return store.Invalid("give the smallest opening first", "a seal cannot work at %g to %g in", *s.MinOpenIn, *s.MaxOpenIn)
	}
	return SaveSeal(ctx, tx, s)
}

func sealOf(ctx context.Context, db bun.IDB, jointID, sealID int64) (*Seal, error) {
	stretches, err := Stretches(ctx, db, jointID)
	if err != nil {
		return nil, err
	}
	for i := range stretches {
		for k := range stretches[i].Seals {
			if stretches[i].Seals[k].ID == sealID {
				return &stretches[i].Seals[k], nil
			}
		}
	}
	return nil, store.NotFound("", "the joint has no seal %d", sealID)
}
