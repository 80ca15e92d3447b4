package condition

import (
	"context"
	"fmt"
	"sort"

	"github.com/uptrace/bun"

	"reseal/inventory"
)

// DueRules say how often a joint is looked at. The zero value stands for the
// defaults in brackets; which are common practice, no source, but for the
// cycle of 24 months (23 CFR 650.311, routine inspection).
type DueRules struct {
	CycleMonths    int // where the bridge has no cycle of its own [24]
	PoorMonths     int // with any feet in CS3 [12]
	SevereMonths   int // with any feet in CS4 [6]
	SoonMonths     int // with an open finding that is to be seen to soon [6]
	ReviewMonths   int // with an open severe finding or a plate [1]
	WarrantyDays   int // before a warranty ends [90]
	UnknownIsDueOn inventory.Date
}

func (r DueRules) withDefaults() DueRules {
	for _, d := range []struct {
		field *int
		value int
	}{{&r.CycleMonths, 24}, {&r.PoorMonths, 12}, {&r.SevereMonths, 6}, {&r.SoonMonths, 6}, {&r.ReviewMonths, 1}, {&r.WarrantyDays, 90}} {
		if *d.field == 0 {
			*d.field = d.value
		}
	}
	return r
}

// Due is a joint whose inspection is due.
type Due struct {
	inventory.JointRow
	DueOn inventory.Date `json:"due_on"`
	Why   string         `json:"why"`
}

// dueFacts are what shortens a joint's cycle.
type dueFacts struct {
	months       int              // of the bridge's own cycle; 0 if it has none
	bridgeSeen   string           // the bridge's last inspection, YYYY-MM
	worstFinding string           // urgency of the most urgent open finding
	plate        bool             // a plate is open
	warranties   []inventory.Date // ends of those of the current seals, earliest first
}

// nextDue is when a joint is to be looked at next, and why then.
func nextDue(r DueRules, j *inventory.JointRow, f dueFacts) (inventory.Date, string) {
	last := j.InspectedOn
	if d, err := inventory.ParseDate(f.bridgeSeen + "-01"); err == nil && last.Before(d) {
		last = d
	}
	if last.IsZero() {
		return r.UnknownIsDueOn, "never inspected"
	}
	months, why := r.CycleMonths, "cycle"
	if f.months > 0 {
		months = f.months
	}
	why = fmt.Sprintf("%s of %d months", why, months)
	shorten := func(apply bool, to int, because string) {
		if apply && to < months {
			months, why = to, fmt.Sprintf("%s: every %d months", because, to)
			if to == 1 {
				why = because + ": every month"
			}
		}
	}
	shorten(j.WorstState == 3, r.PoorMonths, "feet in CS3")
	shorten(j.WorstState == 4, r.SevereMonths, "feet in CS4")
	shorten(f.worstFinding == "soon", r.SoonMonths, "open finding")
	shorten(f.worstFinding == "severe", r.ReviewMonths, "severe finding open")
	shorten(f.plate, r.ReviewMonths, "plate in place")
	due := last.AddMonths(months)
	for _, until := range f.warranties {
		if before := until.AddDays(-r.WarrantyDays); last.Before(before) && before.Before(due) {
			return before, fmt.Sprintf("warranty ends %s", until)
		}
	}
	return due, why
}

// DueBy returns the joints that f chooses and that are to be looked at by a
// day, in the order of travel: by route, then milepost, then along the bridge.
// f's limit and offset count the due joints.
func DueBy(ctx context.Context, db bun.IDB, f inventory.Filter, by inventory.Date, rules DueRules) ([]*Due, error) {
	rules = rules.withDefaults()
	facts, err := loadDueFacts(ctx, db)
	if err != nil {
		return nil, err
	}
	limit, offset := f.Limit, f.Offset
	f.Sort, f.Limit, f.Offset = "travel", 0, 0
	var out []*Due
	err = inventory.EachJoint(ctx, db, f, func(j *inventory.JointRow) error {
		fact := facts.joints[j.ID]
		b := facts.bridges[j.BridgeID]
		fact.months, fact.bridgeSeen = b.months, b.seen
		if on, why := nextDue(rules, j, fact); !by.Before(on) {
			out = append(out, &Due{JointRow: *j, DueOn: on, Why: why})
		}
		return nil
	})
	out = out[min(offset, len(out)):]
	if limit > 0 {
		out = out[:min(limit, len(out))]
	}
	return out, err
}

type bridgeCycle struct {
	months int
	seen   string
}

type allFacts struct {
	joints  map[int64]dueFacts
	bridges map[int64]bridgeCycle
}

// loadDueFacts reads the bridges' cycles and the few joints with open findings
// or warranties.
func loadDueFacts(ctx context.Context, db bun.IDB) (*allFacts, error) {
	a := &allFacts{joints: map[int64]dueFacts{}, bridges: map[int64]bridgeCycle{}}
	var cycles []struct {
		ID     int64
		Months int
		Seen   string
	}
	err := db.NewRaw(`SELECT id, coalesce(inspection_months, 0) AS months, substr(coalesce(last_inspection, ''), 1, 7) AS seen
		FROM bridges WHERE inspection_months IS NOT NULL OR last_inspection IS NOT NULL`).Scan(ctx, &cycles)
	if err != nil {
		return nil, err
	}
	for _, c := range cycles {
		a.bridges[c.ID] = bridgeCycle{c.Months, c.Seen}
	}
	findings, err := inventory.Findings(ctx, db, inventory.FindingFilter{})
	if err != nil {
		return nil, err
	}
	for i := len(findings) - 1; i >= 0; i-- { // the most urgent last, so that it stays
		f := a.joints[findings[i].JointID]
		f.worstFinding = findings[i].Urgency
		f.plate = f.plate || findings[i].Kind == inventory.PlatePlaced
		a.joints[findings[i].JointID] = f
	}
	var warranties []struct {
		JointID int64
		Until   inventory.Date
	}
	err = db.NewRaw(`SELECT DISTINCT t.joint_id, s.warranty_until AS until FROM seals s JOIN stretches t ON t.id = s.stretch_id
		WHERE s.removed_on IS NULL AND s.warranty_until IS NOT NULL ORDER BY until`).Scan(ctx, &warranties)
	if err != nil {
		return nil, err
	}
	for _, w := range warranties {
		f := a.joints[w.JointID]
		f.warranties = append(f.warranties, w.Until)
		a.joints[w.JointID] = f
	}
	return a, nil
}

// Trip is the due joints of one route that need the same access.
type Trip struct {
	Route, Access string
	Bridges       int
	Joints        int
}

// Trips sums up due joints by route and access, in the order of travel.
func Trips(due []*Due) []Trip {
	type key struct{ route, access string }
	at := map[key]int{}
	seen := map[int64]bool{}
	var out []Trip
	for _, d := range due {
		k := key{d.Route, d.Access}
		i, ok := at[k]
		if !ok {
			i = len(out)
			at[k] = i
			out = append(out, Trip{Route: d.Route, Access: d.Access})
		}
		out[i].Joints++
		if !seen[d.BridgeID] {
			seen[d.BridgeID] = true
			out[i].Bridges++
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Route < out[j].Route })
	return out
}
