package forecast

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/uptrace/bun"

	"reseal/inventory"
)

// sealFaults are the findings that a seal's warranty answers for; a plough
// strike or a complaint is nobody's poor work. (Common practice, no source.)
var sealFaults = []string{"leak", "loose steel"}

// Claim is a seal that showed a fault inside its warranty: whoever put it in is
// to mend it, and not the budget.
type Claim struct {
	Tag, StructureNumber, Route, District, Place string
	Milepost                                     *float64
	LengthFt                                     float64 // 0: not on record

	Kind          string
	Installed     inventory.Date
	WarrantyUntil inventory.Date // its last day
	DaysLeft      int            // below 0: it has ended, and the claim is late
	Fault         string         // in words
	SeenOn        inventory.Date // the first fault of it
	Urgent        bool           // an open severe finding or a plate: the agency acts at once, and claims the cost
	InstalledBy   string
	Contract      string

	stretchID int64
}

// claim is that of the joint's first stretch that has one, or nil. The fault is
// length in CS3 or CS4 at the latest inspection, or an open finding that a
// warranty answers for, seen from the installation to the last day of the
// warranty.
func (r *Record) claim(asOf inventory.Date) *Claim {
	for i := range r.Stretches {
		t := &r.Stretches[i]
		s := t.sealOn(asOf)
		if s == nil || s.WarrantyUntil.IsZero() {
			continue
		}
		inside := func(day inventory.Date) bool { return !day.Before(s.Installed) && !s.WarrantyUntil.Before(day) }
		var faults []string
		var seen inventory.Date
		note := func(on inventory.Date, words string) {
			faults = append(faults, words)
			if seen.IsZero() || on.Before(seen) {
				seen = on
			}
		}
		if look := r.latestLook(); look != nil && inside(look.On) {
			if shares, ok := look.sharesOn(t.ID); ok && shares[2]+shares[3] > 0 {
				note(look.On, fmt.Sprintf("%.0f %% of its length poor and %.0f %% severe on %s", 100*shares[2], 100*shares[3], look.On))
			}
		}
		for _, f := range r.Findings {
			if slices.Contains(sealFaults, f.Kind) && inside(f.FoundOn) {
				note(f.FoundOn, fmt.Sprintf("%s since %s", f.Kind, f.FoundOn))
			}
		}
		if len(faults) == 0 {
			continue
		}
		return &Claim{
			Tag: r.Tag, StructureNumber: r.Bridge.StructureNumber, Route: r.Bridge.Route, District: r.Bridge.District, Place: r.Place,
			Milepost: r.Bridge.Milepost, LengthFt: r.LengthFt, Kind: s.Kind, Installed: s.Installed, WarrantyUntil: s.WarrantyUntil,
			DaysLeft: int(s.WarrantyUntil.Time().Sub(asOf.Time()).Hours() / 24),
			Fault:    strings.Join(faults, "; "), SeenOn: seen, Urgent: len(r.Urgent()) > 0, stretchID: t.ID,
		}
	}
	return nil
}

// claimed tells whether the joint's next work is left to a claim: one that is in
// time and not urgent.
func (r *Record) claimed(asOf inventory.Date) bool {
	c := r.claim(asOf)
	return c != nil && c.DaysLeft >= 0 && !c.Urgent
}

// ClaimCount is how many seals are to be claimed under warranty.
type ClaimCount struct {
	Now    int // in time
	Urgent int // of them: the agency acts at once, and claims the cost
	Late   int // the warranty has ended: the work is at the agency's cost
}

// CountClaims counts them.
func CountClaims(claims []Claim) (n ClaimCount) {
	for _, c := range claims {
		switch {
		case c.DaysLeft < 0:
			n.Late++
			continue
		case c.Urgent:
			n.Urgent++
		}
		n.Now++
	}
	return n
}

// Words say how many; empty where there are none.
func (n ClaimCount) Words() string {
	var words []string
	if n.Now > 0 {
		now := someJoints(n.Now) + " to be claimed under warranty now"
		if n.Urgent > 0 {
			now += fmt.Sprintf(" (%d of them urgent: the agency acts, and claims the cost)", n.Urgent)
		}
		words = append(words, now)
	}
	if n.Late > 0 {
		words = append(words, someJoints(n.Late)+" too late to claim, the warranty having ended: at the agency's cost")
	}
	return strings.Join(words, "; ")
}

// coveredThrough is the last day on which a failure is the warranty's on every
// stretch; zero where one has none.
func (r *Record) coveredThrough(asOf inventory.Date) (day inventory.Date) {
	for i := range r.Stretches {
		s := r.Stretches[i].sealOn(asOf)
		if s == nil || s.WarrantyUntil.IsZero() {
			return inventory.Date{}
		}
		if i == 0 || s.WarrantyUntil.Before(day) {
			day = s.WarrantyUntil
		}
	}
	return day
}

// Claims lists the seals that showed a fault inside their warranty, the urgent
// first, then by the end of the warranty.
func (m *Model) Claims(ctx context.Context, db bun.IDB, o Options) ([]Claim, error) {
	var claims []Claim
	var stretches []int64
	o.ThroughYear = m.YearOf(o.AsOf) // no forecast is needed
	err := m.Each(ctx, db, o, func(j Projected) error {
		if c := j.claim(o.AsOf); c != nil {
			claims, stretches = append(claims, *c), append(stretches, c.stretchID)
		}
		return nil
	})
	if err != nil || len(claims) == 0 {
		return nil, err
	}
	var seals []struct {
		StretchID     int64
		InstalledOn   inventory.Date
		InstalledBy   string
		Contract      string
		WarrantyUntil inventory.Date
	}
	err = db.NewRaw(`SELECT stretch_id, installed_on, coalesce(installed_by, '') AS installed_by, coalesce(contract, '') AS contract, warranty_until
		FROM seals WHERE stretch_id IN (?) AND warranty_until IS NOT NULL`, bun.List(stretches)).Scan(ctx, &seals)
	if err != nil {
		return nil, err
	}
	for i := range claims {
		c := &claims[i]
		for _, s := range seals {
			if s.StretchID == c.stretchID && s.InstalledOn == c.Installed && s.WarrantyUntil == c.WarrantyUntil {
				c.InstalledBy, c.Contract = s.InstalledBy, s.Contract
			}
		}
	}
	slices.SortStableFunc(claims, func(a, b Claim) int {
		if a.Urgent != b.Urgent {
			return trueFirst(a.Urgent, b.Urgent)
		}
		return strings.Compare(a.WarrantyUntil.String(), b.WarrantyUntil.String())
	})
	return claims, nil
}
