package forecast

import (
	"strings"

	"reseal/condition"
	"reseal/geo"
	"reseal/inventory"
)

// Record is what is on record of one joint on a day, as plain values: all that
// a forecast, a work list or a budget needs.
type Record struct {
	ID       int64
	Tag      string
	Label    string
	LengthFt float64 // 0: not on record
	SkewDeg  float64 // of the joint, or else of the bridge; below 0: not on record
	Lanes    int     // across the joint; 0: not on record
	Place    string
	Quantity bool  // a quantity known only for the whole bridge
	ParentID int64 // the quantity that it was split from

	Bridge    Site
	Stretches []Stretch
	Looks     []Look    // oldest first
	Work      []Work    // oldest first
	Findings  []Finding // open ones, oldest first
	Projects  []inventory.Project
	Decided   []Decision     // that stand, see Decide
	Gap       *condition.Gap // nil: not looked at

	geom     []byte // as stored; few who read records draw them
	gapNoted bool   // the opening at which one of its seals went in is on record
}

// Geometry is where the joint lies.
func (r *Record) Geometry() (g geo.Geometry, err error) {
	if r.geom != nil {
		err = g.Scan(r.geom)
	}
	return g, err
}

// Site is the joint's bridge.
type Site struct {
	ID              int64
	State           string
	StructureNumber string
	FacilityCarried string
	FeatureCrossed  string
	Route           string
	Milepost        *float64
	District        string
	County          string
	Deicing         string
	Climate         string
	VehiclesADay    int
	TrucksPct       float64 // below 0: not on record
	BuiltYear       int     // or reconstructed, whichever is later; 0: not on record
}

// Stretch is a length of the joint with the seals that it has had.
type Stretch struct {
	ID           int64
	FromFt, ToFt float64
	Seals        []Seal // oldest first
}

// Seal is one seal's life on a stretch.
type Seal struct {
	Kind          string
	Header        string
	Installed     inventory.Date // zero: not on record
	Precision     string         // of Installed: day, month or year
	Removed       inventory.Date // zero: in place
	RemovedWhy    string         // as the inventory has it: wear, plough, overlay and so on
	WarrantyUntil inventory.Date
}

// Look is an inspection with feet by state.
type Look struct {
	On       inventory.Date
	Latest   bool // only the latest day that it can have been is known
	Observed bool // rates may be estimated from it
	OfParent bool // of the quantity that the joint was split from
	Feet     []StretchFeet
}

// StretchFeet is the feet in CS1 to CS4 of one stretch. Feet not seen are left
// out.
type StretchFeet struct {
	StretchID int64
	StateFt   [4]float64
}

// Work is something done at the joint.
type Work struct {
	On           inventory.Date
	Treatment    string
	FromFt, ToFt float64 // ToFt 0: the whole length
	NewSeal      bool
}

// Finding is an open finding.
type Finding struct {
	Kind    string
	FoundOn inventory.Date
	Urgency string
}

// Urgent are the open findings that stand apart from any ranking: severe ones
// and plates.
func (r *Record) Urgent() (out []Finding) {
	for _, f := range r.Findings {
		if f.Urgency == severe || f.Kind == inventory.PlatePlaced {
			out = append(out, f)
		}
	}
	return out
}

// sealOn is the seal in place on a day, or nil.
func (t *Stretch) sealOn(day inventory.Date) *Seal {
	for i := len(t.Seals) - 1; i >= 0; i-- {
		s := &t.Seals[i]
		if !day.Before(s.Installed) && (s.Removed.IsZero() || day.Before(s.Removed)) {
			return s
		}
	}
	return nil
}

// shares are the shares of the length seen in each state; ok is false where
// nothing was seen.
func (l *Look) shares() (shares [4]float64, ok bool) {
	var ft [4]float64
	for _, f := range l.Feet {
		for s, v := range f.StateFt {
			ft[s] += v
		}
	}
	return sharesOf(ft)
}

// sharesOn are those of one stretch, or of all where the look does not tell
// stretches apart.
func (l *Look) sharesOn(stretchID int64) (shares [4]float64, ok bool) {
	for _, f := range l.Feet {
		if f.StretchID == stretchID {
			return sharesOf(f.StateFt)
		}
	}
	return l.shares()
}

func sharesOf(ft [4]float64) (shares [4]float64, ok bool) {
	total := ft[0] + ft[1] + ft[2] + ft[3]
	if !(total > 0) {
		return shares, false
	}
	for s, v := range ft {
		shares[s] = v / total
	}
	return shares, true
}

// cleaning is the treatment that washes a joint.
const cleaning = "clean and flush"

// changesNothing is true of work that leaves the condition as it was.
func (w *Work) changesNothing() bool {
	return strings.EqualFold(w.Treatment, inventory.TemporaryPlate) || strings.EqualFold(w.Treatment, cleaning)
}

// overlap is how much of a stretch the work made new, as a share of the
// stretch. A new seal resets its feet, and so does a repair from one foot to
// another. Work on the whole length without a new seal waits for the next
// inspection to tell.
func (w *Work) overlap(t *Stretch, lengthFt float64) float64 {
	switch {
	case w.changesNothing():
		return 0
	case w.ToFt == 0 && w.FromFt == 0:
		if w.NewSeal {
			return 1
		}
		return 0
	}
	to := w.ToFt
	if to == 0 || to >= lengthFt-1 && w.FromFt <= 1 { // quantities are whole feet
		to = max(t.ToFt, to)
	}
	ft := min(to, t.ToFt) - max(w.FromFt, t.FromFt)
	if share := ft / (t.ToFt - t.FromFt); share > 0 {
		return min(share, 1)
	}
	return 0
}
