package forecast

import (
	"fmt"

	"reseal/forecast/strategy"
)

// Why a treatment is planned.
const (
	WhyPinned  = "pinned"
	WhyOpening = "opening" // its gap leaves the range of the seal in place
	WhyWear    = "wear"
	WhyAgain   = "again" // the next seal after one of this plan
)

// freshYears is within how many years of its installation a seal that is planned
// to be renewed is pointed out.
const freshYears = 4

// planReason is what the plan tells about a joint beside its work.
type planReason struct {
	firstYear  int    // fiscal, of byOpening
	byOpening  []bool // by year: its opening is likelier to fail it than wear; nil: never
	pinnedYear int    // fiscal; 0: not pinned
	sealedYear int    // fiscal, of the newest seal in place; 0: not on record
}

func (m *Model) planReason(j *Projected) planReason {
	r := planReason{firstYear: j.Years[0], byOpening: openingLeads(j.Forecast)}
	if pin := j.decided(Pin); pin != nil {
		r.pinnedYear = pin.Year
	}
	if s := j.sealOn(j.AsOf); s != nil && !s.Installed.IsZero() {
		r.sealedYear = m.YearOf(s.Installed)
	}
	return r
}

// openingLeads tells by year whether the opening is likelier to fail the seal
// than wear; nil where it never is.
func openingLeads(f *Forecast) (leads []bool) {
	for i, out := range f.OutOfRange {
		if out <= f.Worn[i] {
			continue
		}
		if leads == nil {
			leads = make([]bool, len(f.OutOfRange))
		}
		leads[i] = true
	}
	return leads
}

// why is the reason for work in a year.
func (r *planReason) why(year int, again bool) string {
	switch {
	case again:
		return WhyAgain
	case year == r.pinnedYear:
		return WhyPinned
	}
	if n := len(r.byOpening); n > 0 && r.byOpening[min(max(year-r.firstYear, 0), n-1)] {
		return WhyOpening
	}
	return WhyWear
}

// fresh tells whether work in a year renews a seal that is nearly new then.
func (r *planReason) fresh(t *Treatment, year int, again bool) bool {
	return !again && t.effect() == strategy.Renews && r.sealedYear != 0 && year-r.sealedYear < freshYears
}

// Fresh lists, by reason, the joints whose nearly new seal the plan renews: a
// planner looks at each before believing it.
func (p *Plan) Fresh() (byReason map[string][]string) {
	byReason = map[string][]string{}
	for _, i := range p.Items {
		if i.Fresh {
			byReason[i.Why] = append(byReason[i.Why], fmt.Sprintf("%s in %d", i.Tag, i.Year))
		}
	}
	return byReason
}
