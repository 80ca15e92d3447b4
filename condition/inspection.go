package condition

import (
	"context"
	"strings"

	"github.com/uptrace/bun"

	"reseal/inventory"
	"reseal/inventory/store"
)

// Inspection is one look at a joint. It is only ever added: a correction is a
// new inspection that names the one it replaces.
type Inspection struct {
	bun.BaseModel `bun:"table:inspections,alias:i" json:"-"`

	ID          int64          `bun:"id,pk,autoincrement" json:"id"`
	UID         string         `bun:"uid,nullzero" json:"uid"`
	JointID     int64          `bun:"joint_id" json:"joint_id"`
	InspectedOn inventory.Date `bun:"inspected_on" json:"inspected_on"`
	DateKnown   string         `bun:"date_known,nullzero" json:"date_known"`
	Source      string         `bun:"source,nullzero" json:"source"`
	Inspector   string         `bun:"inspector,nullzero" json:"inspector,omitempty"`
	SeenFrom    string         `bun:"seen_from,nullzero" json:"seen_from,omitempty"`
	AccessLimit string         `bun:"access_limit,nullzero" json:"access_limit,omitempty"`
	Wet         *bool          `bun:"wet" json:"wet,omitempty"`
	Quick       bool           `bun:"quick" json:"quick,omitempty"`
	QuickWorst  int            `bun:"quick_worst,nullzero" json:"quick_worst,omitempty"`
	Leaking     *bool          `bun:"leaking" json:"leaking,omitempty"`
	Odd         string         `bun:"odd,nullzero" json:"odd,omitempty"`
	Photos      string         `bun:"photos,nullzero" json:"photos,omitempty"`
	Notes       string         `bun:"notes,nullzero" json:"notes,omitempty"`
	ReplacesID  int64          `bun:"replaces_id,nullzero" json:"replaces_id,omitempty"`
	CreatedAt   store.Instant  `bun:"created_at,nullzero" json:"created_at,omitempty"`
	CreatedBy   string         `bun:"created_by,nullzero" json:"created_by,omitempty"`

	Feet     []Feet    `bun:"rel:has-many,join:id=inspection_id" json:"feet,omitempty"`
	Defects  []Defect  `bun:"rel:has-many,join:id=inspection_id" json:"defects,omitempty"`
	Readings []Reading `bun:"rel:has-many,join:id=inspection_id" json:"readings,omitempty"`
}

// How well an inspection's day is known.
const (
	OnDay       = "day"
	InMonth     = "month"         // the day stored is the month's first
	NoLaterThan = "no later than" // only the year of submission is known
)

// Where an inspection comes from.
const (
	FromInspection  = "inspection"
	FromElementFile = "element file"
)

// Observed tells whether the inspection has a date of its own, so that rates
// may be estimated from it.
func (i *Inspection) Observed() bool { return i.DateKnown != NoLaterThan }

// Feet is the length of one stretch in each condition state.
type Feet struct {
	bun.BaseModel `bun:"table:inspection_feet" json:"-"`

	ID           int64   `bun:"id,pk,autoincrement" json:"-"`
	InspectionID int64   `bun:"inspection_id" json:"-"`
	StretchID    int64   `bun:"stretch_id" json:"stretch_id"`
	CS1Ft        float64 `bun:"cs1_ft" json:"cs1_ft"`
	CS2Ft        float64 `bun:"cs2_ft" json:"cs2_ft"`
	CS3Ft        float64 `bun:"cs3_ft" json:"cs3_ft"`
	CS4Ft        float64 `bun:"cs4_ft" json:"cs4_ft"`
	NotSeenFt    float64 `bun:"not_seen_ft" json:"not_seen_ft,omitempty"` // neither good nor used to estimate
}

// States are the feet in CS1 to CS4.
func (f Feet) States() [4]float64 { return [4]float64{f.CS1Ft, f.CS2Ft, f.CS3Ft, f.CS4Ft} }

// TotalFt is all feet, those not seen included.
func (f Feet) TotalFt() float64 { return f.CS1Ft + f.CS2Ft + f.CS3Ft + f.CS4Ft + f.NotSeenFt }

// StateFt adds up the feet in CS1 to CS4 of all stretches.
func (i *Inspection) StateFt() (ft [4]float64) {
	for _, f := range i.Feet {
		for s, v := range f.States() {
			ft[s] += v
		}
	}
	return ft
}

// StateWord names a condition state; empty for 0, not known.
func StateWord(state int) string {
	if state < 1 || state > 4 {
		return ""
	}
	return []string{"CS1 good", "CS2 fair", "CS3 poor", "CS4 severe"}[state-1]
}

// Worst is the worst state with any feet in it, 1 to 4; 0 where nothing was seen.
func Worst(ft [4]float64) int {
	for s := 3; s >= 0; s-- {
		if ft[s] > 0 {
			return s + 1
		}
	}
	return 0
}

// Defect is one of the defects 2310 to 2370 with its state, and where.
type Defect struct {
	bun.BaseModel `bun:"table:inspection_defects" json:"-"`

	ID           int64    `bun:"id,pk,autoincrement" json:"-"`
	InspectionID int64    `bun:"inspection_id" json:"-"`
	StretchID    int64    `bun:"stretch_id,nullzero" json:"stretch_id,omitempty"`
	Number       int      `bun:"defect" json:"defect"`
	State        int      `bun:"state" json:"state"`
	FromFt       *float64 `bun:"from_ft" json:"from_ft,omitempty"`
	ToFt         *float64 `bun:"to_ft" json:"to_ft,omitempty"`
}

// DefectLeakage is the defect that can be seen from below alone.
const DefectLeakage = 2310

// Reading is one measurement of the gap, square to the joint.
type Reading struct {
	bun.BaseModel `bun:"table:readings,alias:r" json:"-"`

	ID           int64          `bun:"id,pk,autoincrement" json:"id"`
	UID          string         `bun:"uid,nullzero" json:"uid"`
	JointID      int64          `bun:"joint_id" json:"joint_id"`
	InspectionID int64          `bun:"inspection_id,nullzero" json:"inspection_id,omitempty"`
	ReadOn       inventory.Date `bun:"read_on" json:"read_on"`
	Position     string         `bun:"position,nullzero" json:"position,omitempty"`
	GapIn        float64        `bun:"gap_in" json:"gap_in"`
	DeckTempF    *float64       `bun:"deck_temp_f" json:"deck_temp_f,omitempty"`
	AirTempF     *float64       `bun:"air_temp_f" json:"air_temp_f,omitempty"`
	Faces        string         `bun:"faces,nullzero" json:"faces,omitempty"`
	DepthIn      *float64       `bun:"depth_in" json:"depth_in,omitempty"`
	AtInstall    bool           `bun:"at_install" json:"at_install,omitempty"`
	Cells        int            `bun:"cells,nullzero" json:"cells,omitempty"` // of a modular joint, of which one was measured and stands for all
	Odd          string         `bun:"odd,nullzero" json:"odd,omitempty"`
	Notes        string         `bun:"notes,nullzero" json:"notes,omitempty"`
	ReplacesID   int64          `bun:"replaces_id,nullzero" json:"replaces_id,omitempty"`
	CreatedAt    store.Instant  `bun:"created_at,nullzero" json:"created_at,omitempty"`
	CreatedBy    string         `bun:"created_by,nullzero" json:"created_by,omitempty"`
}

// Inspections returns the inspections of a joint that count, the latest first.
func Inspections(ctx context.Context, db bun.IDB, jointID int64) ([]Inspection, error) {
	var out []Inspection
	err := db.NewSelect().Model(&out).Relation("Feet").Relation("Defects").Relation("Readings").
		Where("i.joint_id = ?", jointID).
		Where("NOT EXISTS (SELECT 1 FROM inspections x WHERE x.replaces_id = i.id)").
		Order("i.inspected_on DESC", "i.id DESC").Scan(ctx)
	return out, err
}

// Readings returns the readings of a joint that count, oldest first.
func Readings(ctx context.Context, db bun.IDB, jointID int64) ([]Reading, error) {
	var out []Reading
	err := db.NewSelect().Model(&out).Where("r.joint_id = ?", jointID).
		Where("NOT EXISTS (SELECT 1 FROM readings x WHERE x.replaces_id = r.id)").
		Order("r.read_on", "r.id").Scan(ctx)
	return out, err
}

// save writes an inspection with its feet, defects and readings.
func save(ctx context.Context, tx *store.Tx, in *Inspection, odd []string) error {
	uid, err := tx.TakeUID(in.UID)
	if err != nil {
		return err
	}
	in.UID, in.CreatedAt, in.CreatedBy = uid, tx.At, tx.Actor
	in.Odd = strings.Join(odd, "\n")
	if in.DateKnown == "" {
		in.DateKnown = OnDay
	}
	if in.Source == "" {
		in.Source = FromInspection
	}
	if _, err := tx.NewInsert().Model(in).Exec(ctx); err != nil {
		return err
	}
	for i := range in.Feet {
		in.Feet[i].InspectionID = in.ID
	}
	for i := range in.Defects {
		in.Defects[i].InspectionID = in.ID
	}
	for i := range in.Readings {
		r := &in.Readings[i]
		r.InspectionID, r.JointID, r.UID, r.CreatedAt, r.CreatedBy = in.ID, in.JointID, tx.NewUID(), tx.At, tx.Actor
		if r.ReadOn.IsZero() {
			r.ReadOn = in.InspectedOn
		}
	}
	for _, rows := range []struct {
		n    int
		rows any
	}{{len(in.Feet), &in.Feet}, {len(in.Defects), &in.Defects}, {len(in.Readings), &in.Readings}} {
		if rows.n == 0 {
			continue
		}
		if _, err := tx.NewInsert().Model(rows.rows).Exec(ctx); err != nil {
			return err
		}
	}
	return nil
}
