package inventory

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/uptrace/bun"

	"reseal/geo"
	"reseal/inventory/store"
)

// Joint is one deck joint. Its tag is permanent and never used again; the
// label is the agency's own name for it. Lengths run along the joint, from the
// left curb facing increasing milepost.
type Joint struct {
	bun.BaseModel `bun:"table:joints,alias:j" json:"-"`

	ID                int64        `bun:"id,pk,autoincrement" json:"id"`
	UID               string       `bun:"uid,nullzero" json:"uid"`
	Geom              geo.Geometry `bun:"geom" json:"geometry"`
	Tag               string       `bun:"tag,nullzero" json:"tag"`
	Label             string       `bun:"label,nullzero" json:"label,omitempty"`
	BridgeID          int64        `bun:"bridge_id" json:"bridge_id"`
	SecondBridgeID    int64        `bun:"second_bridge_id,nullzero" json:"second_bridge_id,omitempty"` // shared, counted and paid for at the first
	Place             string       `bun:"place,nullzero" json:"place"`
	Movement          string       `bun:"movement,nullzero" json:"movement"`
	Sequence          int          `bun:"sequence,nullzero" json:"sequence,omitempty"` // order along the bridge, from 1
	StationFt         *float64     `bun:"station_ft" json:"station_ft,omitempty"`
	LengthFt          *float64     `bun:"length_ft" json:"length_ft,omitempty"`
	SkewDeg           *float64     `bun:"skew_deg" json:"skew_deg,omitempty"`
	ExpansionLengthFt *float64     `bun:"expansion_length_ft" json:"expansion_length_ft,omitempty"`
	ExpansionAssumed  bool         `bun:"expansion_assumed,nullzero" json:"expansion_assumed,omitempty"`
	Below             string       `bun:"below,nullzero" json:"below,omitempty"`
	Lanes             *int         `bun:"lanes" json:"lanes,omitempty"`
	Direction         string       `bun:"direction,nullzero" json:"direction,omitempty"`
	SidewalkFt        *float64     `bun:"sidewalk_ft" json:"sidewalk_ft,omitempty"` // apart from the element's feet
	UpturnFt          *float64     `bun:"upturn_ft" json:"upturn_ft,omitempty"`     // at the curbs, apart from the element's feet
	Scope             string       `bun:"scope,nullzero" json:"scope"`
	Element           int          `bun:"element,nullzero" json:"element,omitempty"`
	ParentElement     int          `bun:"parent_element,nullzero" json:"parent_element,omitempty"`
	Origin            string       `bun:"origin,nullzero" json:"origin"`
	GeometrySource    string       `bun:"geometry_source,nullzero" json:"geometry_source,omitempty"`
	Status            string       `bun:"status,nullzero" json:"status"`
	StatusOn          Date         `bun:"status_on" json:"status_on,omitzero"`
	SplitFromID       int64        `bun:"split_from_id,nullzero" json:"split_from_id,omitempty"`
	Notes             string       `bun:"notes,nullzero" json:"notes,omitempty"`
	store.Stamp
}

// Where a joint lies on its bridge.
var Places = []string{"abutment", "pier", "hinge", "approach slab end", "pavement relief", "longitudinal", "unknown"}

// Whether a joint takes the bridge's movement.
var Movements = []string{"expansion", "fixed", "unknown"}

// Whether a row is one joint, or a quantity of joint known only for the bridge.
const (
	ScopeJoint    = "joint"
	ScopeQuantity = "bridge quantity"
)

// Where a line comes from.
const (
	Drawn    = "drawn"    // from the bridge's location, bearing, length, skew and width
	Edited   = "edited"   // moved by hand in a GIS
	Surveyed = "surveyed" // measured
)

// TagFor is the permanent tag of the joint with the given id.
func TagFor(id int64) string { return fmt.Sprintf("J%06d", id) }

// Validate says what cannot be on record of a joint.
func (j *Joint) Validate() error {
	switch {
	case j.Place != "" && !slices.Contains(Places, j.Place):
		return store.Invalid("a place is one of: "+strings.Join(Places, ", "), "there is no place %q", j.Place)
	case j.Movement != "" && !slices.Contains(Movements, j.Movement):
		return store.Invalid("it is one of: "+strings.Join(Movements, ", "), "a joint's movement cannot be %q", j.Movement)
	case j.LengthFt != nil && !(*j.LengthFt > 0 && *j.LengthFt < 1e5):
		return store.Invalid("give the length along the joint in feet", "a length of %g ft cannot be", *j.LengthFt)
	case j.SkewDeg != nil && !(*j.SkewDeg >= 0 && *j.SkewDeg < 85):
		return store.Invalid("give degrees from the line square to the roadway, 0 to under 85", "a skew of %g° cannot be", *j.SkewDeg)
	case j.ExpansionLengthFt != nil && !(*j.ExpansionLengthFt >= 0 && *j.ExpansionLengthFt < 1e5):
		return store.Invalid("give the length of deck that moves at this joint, in feet", "an expansion length of %g ft cannot be", *j.ExpansionLengthFt)
	case j.SecondBridgeID != 0 && j.SecondBridgeID == j.BridgeID:
		return store.Invalid("name the other bridge", "both bridges of the joint are the same")
	}
	return nil
}

// FindJoint returns the joint with the given tag, in capitals or not, or else with the given
// label if only one has it.
func FindJoint(ctx context.Context, db bun.IDB, ref string) (*Joint, error) {
	ref = strings.TrimSpace(ref)
	var found []Joint
	err := db.NewSelect().Model(&found).Where("tag IN (?, ?)", ref, strings.ToUpper(ref)).OrderExpr("tag = ? DESC", ref).Limit(1).Scan(ctx)
	if err != nil {
		return nil, err
	}
	if len(found) == 0 {
		if err := db.NewSelect().Model(&found).Where("label = ?", ref).Limit(2).Scan(ctx); err != nil {
			return nil, err
		}
	}
	switch len(found) {
	case 0:
		return nil, store.NotFound("list the joints with: reseal joint list --text "+ref, "there is no joint %q", ref)
	case 1:
		return &found[0], nil
	}
	return nil, store.Invalid("use its tag: reseal joint list --text "+ref, "more than one joint has the label %q", ref)
}

// SameJoint is FindJoint for an entry that was made on a device: the joint must
// have the uid that the device knew it by, if it gives one. An entry made for
// another inventory is refused.
func SameJoint(ctx context.Context, db bun.IDB, ref, uid string) (*Joint, error) {
	j, err := FindJoint(ctx, db, ref)
	if err == nil && uid != "" && uid != j.UID {
		return nil, store.Invalid("send it to the inventory that it was made for", "the entry is about a joint %s of another inventory", ref)
	}
	return j, err
}

// AddJoint puts a new joint on record, with one stretch of its whole length
// and the given seal in it (zero: of kind other, with nothing known).
func AddJoint(ctx context.Context, tx *store.Tx, j *Joint, s Seal) error {
	if err := j.Validate(); err != nil {
		return err
	}
	id, err := tx.NextID(ctx, "joints")
	if err != nil {
		return err
	}
	j.ID, j.UID, j.Tag, j.Stamp = id, tx.NewUID(), TagFor(id), tx.Created()
	j.setDefaults()
	if _, err := tx.NewInsert().Model(j).Exec(ctx); err != nil {
		return err
	}
	t := &Stretch{JointID: j.ID, ToFt: 1}
	if j.LengthFt != nil {
		t.ToFt = *j.LengthFt
	}
	if err := AddStretch(ctx, tx, t); err != nil {
		return err
	}
	s.StretchID = t.ID
	return AddSeal(ctx, tx, &s)
}

func (j *Joint) setDefaults() {
	for _, d := range []struct {
		field *string
		value string
	}{{&j.Status, InService}, {&j.Place, "unknown"}, {&j.Movement, "unknown"}, {&j.Scope, ScopeJoint}, {&j.Origin, "entered"}} {
		if *d.field == "" {
			*d.field = d.value
		}
	}
}

// SaveJoint writes a changed joint back; history keeps what it was. A changed
// length carries over to the stretch of a joint that has only one.
func SaveJoint(ctx context.Context, tx *store.Tx, j *Joint) error {
	if err := j.Validate(); err != nil {
		return err
	}
	tx.Changed(&j.Stamp)
	if _, err := tx.NewUpdate().Model(j).WherePK().Exec(ctx); err != nil {
		return err
	}
	if j.LengthFt == nil {
		return nil
	}
	stretches, err := Stretches(ctx, tx, j.ID)
	if err != nil || len(stretches) != 1 || stretches[0].FromFt != 0 || stretches[0].ToFt == *j.LengthFt {
		return err
	}
	t := &stretches[0].Stretch
	t.ToFt = *j.LengthFt
	tx.Changed(&t.Stamp)
	_, err = tx.NewUpdate().Model(t).WherePK().Exec(ctx)
	return err
}
