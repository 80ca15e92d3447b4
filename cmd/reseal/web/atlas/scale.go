package atlas

import (
	"fmt"

	"reseal/condition/opening"
	"reseal/forecast"
	"reseal/inventory"
)

// Class is one step of a scale.
type Class struct {
	Label string
	Shade int // of the colours, 1 the best to 5 the worst; 0: not known
}

// Scale tells joints apart by one thing. Its classes go from not known over
// the best to the worst.
type Scale struct {
	Name    string // in addresses
	Title   string
	Classes []Class
}

// The scales, by their place in Atlas.Scales and Joint.Class.
const (
	byCondition = iota
	byUrgency
	byYear
	byFit
	scales
)

// yearSteps are the ends of the classes of replacement years, from this one.
var yearSteps = [...]int{20, 10, 5, 2}

// likely are the probabilities of having failed at which classes of urgency
// begin.
var likely = [...]float64{0, 0.10, 0.25, 0.50}

// scalesOf are the scales in a fiscal year.
func scalesOf(year int) [scales]Scale {
	years := []Class{{"no forecast", 0}, {fmt.Sprintf("after %d", year+yearSteps[0]), 1}}
	for i, step := range yearSteps[1:] {
		years = append(years, Class{fmt.Sprintf("%d to %d", year+step+1, year+yearSteps[i]), i + 2})
	}
	years = append(years, Class{fmt.Sprintf("%d or before", year+yearSteps[len(yearSteps)-1]), 5})
	return [scales]Scale{
		byCondition: {"condition", "Condition, worst state seen", []Class{
			{"never seen", 0}, {"CS1 good", 1}, {"CS2 fair", 2}, {"CS3 poor", 4}, {"CS4 severe", 5},
		}},
		byUrgency: {"urgency", fmt.Sprintf("Urgency, failed by the end of %d", year+1), []Class{
			{"no forecast", 0}, {"under 10 % likely", 1}, {"10 to 25 %", 2}, {"25 to 50 %", 3}, {"50 % and more", 4}, {"severe finding or plate open", 5},
		}},
		byYear: {"year", "Replacement year", years},
		byFit: {"fit", "Fit of the gap", []Class{
			{"no reading to check by", 0}, {"fits", 1}, {"cannot tell yet", 2}, {"moves as it should not", 4}, {"too wide or crushed", 5},
		}},
	}
}

// yearClass is that of the replacement year, 1 beyond the last step.
func yearClass(f *forecast.Forecast, now int) uint8 {
	if f == nil {
		return 0
	}
	class := uint8(1)
	for _, step := range yearSteps {
		if f.ReplaceYear != 0 && f.ReplaceYear <= now+step {
			class++
		}
	}
	return class
}

func urgencyClass(j *forecast.Projected, failed float64) uint8 {
	switch {
	case len(j.Urgent()) > 0:
		return 5
	case j.Forecast == nil:
		return 0
	}
	class := uint8(0)
	for _, p := range likely {
		if failed >= p {
			class++
		}
	}
	return class
}

func fitClass(f opening.Finding) uint8 {
	has := func(any opening.Finding) bool { return f&any != 0 }
	switch {
	case has(opening.NotChecked):
		return 0
	case has(opening.TooWideCold | opening.CrushedHot):
		return 4
	case has(opening.RackingOver | opening.DoesNotMove | opening.MovesThoughStill | opening.Drifting):
		return 3
	case has(opening.CannotTell | opening.OneReading | opening.NoLimits):
		return 2
	}
	return 1
}

func conditionClass(j *inventory.JointRow) uint8 { return uint8(j.WorstState) }
