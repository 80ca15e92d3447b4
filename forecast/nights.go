package forecast

import (
	"math"

	"reseal/condition/sheet"
	"reseal/forecast/strategy"
)

// nights is how many closures a treatment takes at a joint, one a night: by what a
// crew does in a shift where the table of treatments has it, else by the rule of the
// crew's sheet, at its rate and the setting closure_hours. Without either, and for
// work on no length, it is one.
func (t *Tables) nights(of *Treatment, lengthFt float64) int {
	if of.FeetPerShift > 0 {
		return max(1, int(math.Ceil(lengthFt/of.FeetPerShift-1e-9)))
	}
	switch of.effect() {
	case strategy.Repairs:
		lengthFt *= of.RepairsShare
	case strategy.Nothing:
		return 1
	}
	n, err := t.closures(lengthFt)
	if err != nil { // told where a plan is made
		return 1
	}
	return max(1, n)
}

// closures is how many closures the crew's sheet has for some length; 0 where the
// closure is not given.
func (t *Tables) closures(lengthFt float64) (int, error) {
	if t.Gaps == nil || t.Gaps.ClosureHours == 0 {
		return 0, nil
	}
	p := t.Gaps.Practice()
	return sheet.Closures(lengthFt/p.SealFtPerHour, t.Gaps.ClosureHours, p.SetUpHours, p.CureHours)
}

// shifts is how many of a crew's shifts a treatment takes at a joint: where the table
// has the feet of a shift, a part of one may go to another joint.
func (t *Tables) shifts(of *Treatment, lengthFt float64) float64 {
	if of.FeetPerShift > 0 {
		return lengthFt / of.FeetPerShift
	}
	return float64(t.nights(of, lengthFt))
}
