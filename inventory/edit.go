package inventory

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
	"github.com/uptrace/bun"

	"reseal/geo"
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

// BridgePlace are the names under which an Edit has a bridge's place: degrees,
// WGS 84.
var BridgePlace = []string{"latitude", "longitude"}

// EditBridge changes columns of BridgeColumns of a bridge, and its place by the
// names of BridgePlace; its joints whose line is drawn are drawn anew.
func EditBridge(ctx context.Context, tx *store.Tx, ref string, e Edit) error {
	b, err := FindBridge(ctx, tx, ref)
	if err != nil {
		return err
	}
	columns := maps.Clone(e.Values)
	maps.DeleteFunc(columns, func(name, _ string) bool { return slices.Contains(BridgePlace, name) })
	if err := (Edit{columns, e.Seen}).apply(b, b.Stamp, BridgeColumns()); err != nil {
		return err
	}
	if len(columns) < len(e.Values) {
		if err := b.move(e.Values); err != nil {
			return err
		}
	}
	return SaveBridge(ctx, tx, b)
}

// PlaceText is the bridge's place in degrees as people write it; empty: it is
// not on record.
func (b *Bridge) PlaceText() (latitude, longitude string) {
	at, ok := b.Geom.Geometry.(orb.Point)
	if !ok {
		return "", ""
	}
	text := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	return text(at[1]), text(at[0])
}

// move puts the bridge to the latitude and longitude given; what is not given
// stays.
func (b *Bridge) move(values map[string]string) error {
	var text [2]string
	text[0], text[1] = b.PlaceText()
	var at [2]float64
	for i, name := range BridgePlace {
		if v, ok := values[name]; ok {
			text[i] = strings.TrimSpace(v)
		}
		v, err := strconv.ParseFloat(text[i], 64)
		if limit := float64(90 * (i + 1)); err != nil || !(v >= -limit && v <= limit) {
			return store.Invalid("give both, latitude and longitude, in decimal degrees; west is negative", "a %s of %q cannot be", name, text[i])
		}
		at[i] = v
	}
	b.Geom, b.PositionProblem = geo.Geometry{Geometry: orb.Point{at[1], at[0]}}, ""
	return nil
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
