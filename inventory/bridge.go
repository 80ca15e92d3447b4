package inventory

import (
	"context"
	"fmt"
	"strings"

	"github.com/uptrace/bun"

	"reseal/geo"
	"reseal/inventory/store"
)

// Bridge is one structure. Its structure number is unique within its state.
// Pointers are values that may be unknown where zero means something.
type Bridge struct {
	bun.BaseModel `bun:"table:bridges,alias:b" json:"-"`

	ID                   int64        `bun:"id,pk,autoincrement" json:"id"`
	UID                  string       `bun:"uid,nullzero" json:"uid"`
	Geom                 geo.Geometry `bun:"geom" json:"geometry"`
	State                string       `bun:"state" json:"state"` // two-digit FIPS code
	StructureNumber      string       `bun:"structure_number" json:"structure_number"`
	Name                 string       `bun:"name,nullzero" json:"name,omitempty"`
	FacilityCarried      string       `bun:"facility_carried,nullzero" json:"facility_carried,omitempty"`
	FeatureIntersected   string       `bun:"feature_intersected,nullzero" json:"feature_intersected,omitempty"`
	Route                string       `bun:"route,nullzero" json:"route,omitempty"`
	Milepost             *float64     `bun:"milepost" json:"milepost,omitempty"`
	District             string       `bun:"district,nullzero" json:"district,omitempty"`
	County               string       `bun:"county,nullzero" json:"county,omitempty"`
	Owner                string       `bun:"owner,nullzero" json:"owner,omitempty"`
	Location             string       `bun:"location,nullzero" json:"location,omitempty"`
	YearBuilt            int          `bun:"year_built,nullzero" json:"year_built,omitempty"`
	YearReconstructed    int          `bun:"year_reconstructed,nullzero" json:"year_reconstructed,omitempty"`
	LengthFt             *float64     `bun:"length_ft" json:"length_ft,omitempty"`
	MainSpans            *int         `bun:"main_spans" json:"main_spans,omitempty"`
	ApproachSpans        *int         `bun:"approach_spans" json:"approach_spans,omitempty"`
	SkewDeg              *float64     `bun:"skew_deg" json:"skew_deg,omitempty"` // of the joints against the line square to the roadway
	SkewVaries           bool         `bun:"skew_varies,nullzero" json:"skew_varies,omitempty"`
	CurbWidthFt          *float64     `bun:"curb_width_ft" json:"curb_width_ft,omitempty"`
	OutWidthFt           *float64     `bun:"out_width_ft" json:"out_width_ft,omitempty"`
	BearingDeg           *float64     `bun:"bearing_deg" json:"bearing_deg,omitempty"` // of increasing milepost, clockwise from north
	Material             string       `bun:"material,nullzero" json:"material,omitempty"`
	Continuous           *bool        `bun:"continuous" json:"continuous,omitempty"`
	Design               string       `bun:"design,nullzero" json:"design,omitempty"`
	Lanes                *int         `bun:"lanes" json:"lanes,omitempty"`
	ADT                  *int         `bun:"adt" json:"adt,omitempty"` // vehicles a day
	ADTYear              int          `bun:"adt_year,nullzero" json:"adt_year,omitempty"`
	TruckPct             *float64     `bun:"truck_pct" json:"truck_pct,omitempty"`
	Climate              string       `bun:"climate,nullzero" json:"climate,omitempty"` // moderate or cold, AASHTO LRFD 3.12.2.1
	DeckTempMinF         *float64     `bun:"deck_temp_min_f" json:"deck_temp_min_f,omitempty"`
	DeckTempMaxF         *float64     `bun:"deck_temp_max_f" json:"deck_temp_max_f,omitempty"`
	Deicing              string       `bun:"deicing,nullzero" json:"deicing,omitempty"`
	DetourMi             *float64     `bun:"detour_mi" json:"detour_mi,omitempty"`
	Below                string       `bun:"below,nullzero" json:"below,omitempty"`
	NHS                  *bool        `bun:"nhs" json:"nhs,omitempty"`
	DeckRating           *int         `bun:"deck_rating" json:"deck_rating,omitempty"`
	SuperstructureRating *int         `bun:"superstructure_rating" json:"superstructure_rating,omitempty"`
	SubstructureRating   *int         `bun:"substructure_rating" json:"substructure_rating,omitempty"`
	JointsRating         *int         `bun:"joints_rating" json:"joints_rating,omitempty"` // SNBI B.C.08
	InspectionMonths     int          `bun:"inspection_months,nullzero" json:"inspection_months,omitempty"`
	LastInspection       string       `bun:"last_inspection,nullzero" json:"last_inspection,omitempty"` // YYYY-MM or YYYY-MM-DD
	Twin                 string       `bun:"twin,nullzero" json:"twin,omitempty"`
	Access               string       `bun:"access,nullzero" json:"access,omitempty"`
	Status               string       `bun:"status,nullzero" json:"status"`
	StatusOn             Date         `bun:"status_on" json:"status_on,omitzero"`
	Source               string       `bun:"source,nullzero" json:"source,omitempty"`
	PositionProblem      string       `bun:"position_problem,nullzero" json:"position_problem,omitempty"`
	Notes                string       `bun:"notes,nullzero" json:"notes,omitempty"`
	store.Stamp
}

// What becomes of a bridge or joint.
const (
	InService  = "in service"
	Retired    = "retired"
	Proposed   = "proposed"
	Eliminated = "eliminated" // the deck was made continuous
	Rejected   = "rejected"   // proposed, and not there
	Split      = "split"      // a bridge quantity that became its real joints
)

// FindBridge returns the bridge that ref names: its structure number, which
// must be unique among the states on record or be written STATE/NUMBER.
func FindBridge(ctx context.Context, db bun.IDB, ref string) (*Bridge, error) {
	state, number := SplitStructure(ref)
	var found []Bridge
	q := db.NewSelect().Model(&found).Where("structure_number = ?", number).Order("state").Limit(3)
	if state != "" {
		q.Where("state = ?", state)
	}
	if err := q.Scan(ctx); err != nil {
		return nil, err
	}
	switch len(found) {
	case 0:
		return nil, store.NotFound("list the bridges with: reseal bridge list --text "+number, "there is no bridge %q", ref)
	case 1:
		return &found[0], nil
	}
	return nil, store.Invalid(fmt.Sprintf("write it with its state, for example %s/%s", found[0].State, number),
		"more than one state has a bridge %q", number)
}

// SplitStructure takes STATE/NUMBER apart; a number alone has no state. Both
// ends are trimmed, inner spaces belong to the number.
func SplitStructure(ref string) (state, number string) {
	if s, n, ok := strings.Cut(ref, "/"); ok && len(s) == 2 && s[0] >= '0' && s[0] <= '9' && s[1] >= '0' && s[1] <= '9' {
		return s, strings.TrimSpace(n)
	}
	return "", strings.TrimSpace(ref)
}

// Validate says what cannot be on record of a bridge.
func (b *Bridge) Validate() error {
	switch {
	case b.StructureNumber == "":
		return store.Invalid("give its number", "a bridge needs a structure number")
	case len(b.State) != 2 || strings.Trim(b.State, "0123456789") != "":
		return store.Invalid("give the two-digit FIPS code, for example 41", "%q is not a state", b.State)
	case b.SkewDeg != nil && !(*b.SkewDeg >= 0 && *b.SkewDeg <= 90):
		return store.Invalid("give degrees from the line square to the roadway, 0 to 90", "a skew of %g° cannot be", *b.SkewDeg)
	case b.BearingDeg != nil && !(*b.BearingDeg >= 0 && *b.BearingDeg < 360):
		return store.Invalid("give degrees clockwise from north, 0 to under 360", "a bearing of %g° cannot be", *b.BearingDeg)
	}
	for name, v := range map[string]*float64{"length": b.LengthFt, "curb width": b.CurbWidthFt, "out width": b.OutWidthFt} {
		if v != nil && !(*v >= 0 && *v < 1e6) {
			return store.Invalid("give feet", "a %s of %g ft cannot be", name, *v)
		}
	}
	return nil
}

// AddBridge puts a new bridge on record.
func AddBridge(ctx context.Context, tx *store.Tx, b *Bridge) error {
	if err := b.Validate(); err != nil {
		return err
	}
	b.UID, b.Stamp = tx.NewUID(), tx.Created()
	if b.Status == "" {
		b.Status = InService
	}
	_, err := tx.NewInsert().Model(b).Exec(ctx)
	return err
}

// SaveBridge writes a changed bridge back; history keeps what it was. Its
// joints whose line is drawn are drawn anew.
func SaveBridge(ctx context.Context, tx *store.Tx, b *Bridge) error {
	if err := b.Validate(); err != nil {
		return err
	}
	tx.Changed(&b.Stamp)
	if _, err := tx.NewUpdate().Model(b).WherePK().Exec(ctx); err != nil {
		return err
	}
	return redraw(ctx, tx, "b.id = ?", b.ID)
}

// RetireBridge takes a bridge and its joints out of service on a day. Joints
// that it shares with a bridge in service stay.
func RetireBridge(ctx context.Context, tx *store.Tx, b *Bridge, on Date) error {
	b.Status, b.StatusOn = Retired, on
	if err := SaveBridge(ctx, tx, b); err != nil {
		return err
	}
	var joints []Joint
	err := tx.NewSelect().Model(&joints).
		Where("status IN (?)", bun.List([]string{InService, Proposed})).
		Where("bridge_id = ?0 OR second_bridge_id = ?0", b.ID).
		Where("NOT EXISTS (SELECT 1 FROM bridges o WHERE o.id IN (j.bridge_id, j.second_bridge_id) AND o.id <> ? AND o.status = ?)", b.ID, InService).
		Scan(ctx)
	if err != nil {
		return err
	}
	for i := range joints {
		joints[i].Status, joints[i].StatusOn = Retired, on
		if err := SaveJoint(ctx, tx, &joints[i]); err != nil {
			return err
		}
	}
	return nil
}

// Spans is the number of spans, 0 where it is not known.
func (b *Bridge) Spans() int {
	n := 0
	for _, s := range []*int{b.MainSpans, b.ApproachSpans} {
		if s != nil {
			n += *s
		}
	}
	return n
}

// BridgeByID returns the bridge with the given key.
func BridgeByID(ctx context.Context, db bun.IDB, id int64) (*Bridge, error) {
	b := &Bridge{ID: id}
	err := db.NewSelect().Model(b).WherePK().Scan(ctx)
	return b, err
}
