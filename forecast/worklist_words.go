package forecast

import (
	"fmt"
	"strings"

	"reseal/condition"
	"reseal/forecast/money"
	"reseal/inventory"
)

// why says in plain words what puts the joint on the list: that its seal was
// seen failed, or that it is projected to have.
func (m *Model) why(j Projected, item WorkItem, year int) string {
	words := fmt.Sprintf("projected failed: %s likely by the end of %d, from its state on %s", condition.Likely(item.FailedProbability), year, j.Since)
	look := j.latestLook()
	var shares [4]float64
	if look != nil && j.Since == look.On {
		shares, _ = look.shares()
	}
	if shares[3] > 0 && shares[3] >= m.tables.Settings.FailedShare-1e-9 {
		words = fmt.Sprintf("seen failed: %.0f %% of its length in CS4 when inspected %s", 100*shares[3], look.On)
	} else if driver := j.Driver(year); driver != "" {
		words += "; " + driver
	}
	water := j.Bridge.Deicing
	if water == "" {
		water = AssumedDeicing
	}
	words += fmt.Sprintf("; a failed seal costs about $%s a year (deicing %s", money.FormatDollars(int64(100*item.ConsequenceAYear)), water)
	if j.Bridge.VehiclesADay > 0 {
		words += fmt.Sprintf(", %s vehicles a day", money.FormatDollars(100*int64(j.Bridge.VehiclesADay)))
	}
	return words + ")"
}

// notes are what else a planner must know before sending a crew.
func (m *Model) notes(j Projected, year int) string {
	var notes []string
	if words := m.warrantyNote(j, year); words != "" {
		notes = append(notes, words)
	}
	for _, p := range j.Projects {
		notes = append(notes, fmt.Sprintf("%s committed for %d", p.Kind, p.Year))
	}
	if len(j.Urgent()) > 0 {
		notes = append(notes, "has an open severe finding or plate, see the urgent part")
	}
	if j.Quantity {
		notes = append(notes, "a quantity for the whole bridge: find its joints first, with reseal joint split "+j.Tag+" NUMBER")
	}
	if j.Bridge.Deicing == "" {
		notes = append(notes, "deicing not on record, "+AssumedDeicing+" assumed")
	}
	return strings.Join(notes, "; ")
}

// warrantyNote says what the warranty of a joint's seal means for work in a year;
// empty where there is none then.
func (m *Model) warrantyNote(j Projected, year int) string {
	if c := j.claim(j.AsOf); c != nil && c.DaysLeft >= 0 {
		return fmt.Sprintf("to be claimed under warranty now, until %s", c.WarrantyUntil)
	} else if c != nil {
		return fmt.Sprintf("too late to claim, the warranty having ended %s", c.WarrantyUntil)
	}
	for i := range j.Stretches {
		s := j.Stretches[i].sealOn(j.AsOf)
		if s != nil && !s.WarrantyUntil.IsZero() && !s.WarrantyUntil.Before(m.endOf(year-1)) {
			return fmt.Sprintf("under warranty until %s: claim it if it fails before then", s.WarrantyUntil)
		}
	}
	return ""
}

// urgentItem lists the open findings of a joint, the oldest first.
func urgentItem(r *Record, asOf inventory.Date) (WorkItem, error) {
	item, err := newItem(Urgent, r)
	item.FoundOn, item.Notes = r.Urgent()[0].FoundOn, "needs an engineer's review"
	var out []string
	for _, f := range r.Urgent() {
		words := f.Kind
		if f.Urgency == severe {
			item.severe, words = true, "severe: "+f.Kind
		}
		days := int(asOf.Time().Sub(f.FoundOn.Time()).Hours() / 24)
		out = append(out, fmt.Sprintf("%s, open %d d since %s", words, days, f.FoundOn))
	}
	item.Reason = strings.Join(out, "; ")
	return item, err
}

// severe is the urgency that needs an engineer's review.
const severe = "severe"
