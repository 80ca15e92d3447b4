package sheet

import (
	"fmt"
	"slices"
	"strings"

	"reseal/condition/opening"
)

// Work is the treatment that was approved for the joint. The zero value is a
// new seal that no list names.
type Work struct {
	Treatment string  // its name
	Effect    string  // renews, repairs, removes or nothing; blank is renews
	MostShare float64 // of one that repairs: the most of the length that is made new
	NewKind   string  // seal kind that goes in; blank: the kind in place
}

// Repairs tells whether only the worst feet are made new.
func (w Work) Repairs() bool { return w.Effect == "repairs" }

// Cleans tells whether the joint is only cleaned, by the treatment's name.
func (w Work) Cleans() bool { return w.Effect == "nothing" && w.named("clean", "flush") }

func (w Work) renews() bool { return w.Effect == "" || w.Effect == "renews" }

// rails hold the seals of these kinds: where there are none yet, they must be set.
var rails = []string{string(opening.StripSeal), string(opening.ModularJoint)}

// HasSheet gives an error where there are no steps for the work: it takes the
// joint out, or changes steel or concrete, by its effect, its new kind or the
// words of its name.
func (w Work) HasSheet() error {
	switch {
	case w.Repairs() && w.MostShare > 0 && w.MostShare <= 1, w.Cleans():
		return nil
	case w.renews() && !w.named("full replacement", "rebuild", "overlay", "raise", "eliminat") && !slices.Contains(rails, w.NewKind):
		return nil
	}
	return fmt.Errorf("no sheet for %s: needs drawings by a licensed engineer", w.Treatment)
}

func (w Work) named(words ...string) bool {
	name := strings.ToLower(w.Treatment)
	return slices.ContainsFunc(words, func(word string) bool { return strings.Contains(name, word) })
}

// Poor is the length that an inspection saw in poor and in severe condition.
type Poor struct {
	On           string // day of the inspection; blank: none on record
	CS3Ft, CS4Ft float64
}

func (p Poor) words() string {
	if p.On == "" {
		return "no feet on record: look at the whole length"
	}
	return fmt.Sprintf("%.1f ft in CS3 and %.1f ft in CS4 on %s", p.CS3Ft, p.CS4Ft, p.On)
}

// worstFeet adds where more was seen than the repair may take.
func (s *Sheet) worstFeet() string {
	p := s.Job.Poor
	if p.CS3Ft+p.CS4Ft > s.WorkFt+0.05 {
		return p.words() + ": more than this repair covers; ask the planner before going out"
	}
	return p.words()
}

// repairSteps make the worst feet new. Common practice, no source.
func repairSteps(s *Sheet) []Step {
	return []Step{
		{fmt.Sprintf("Find and mark the worst feet (inspection: %s). At most %.1f ft in all: where more is bad, stop and tell the planner.", s.Job.Poor.words(), s.WorkFt), true},
		{"Clean the marked feet. Cut loose and torn seal back, square, to sound seal that is still bonded or locked in; leave the rest.", false},
		{"Clean both faces or the cavities there to sound, bare, dry material; prime them and the cut ends where the data sheet asks for it.", true},
		{"Fit new material of the same kind, or splice in a piece, by the seal maker's instructions; where they allow no splice, stop and tell the planner.", false},
		{"Check that the repair is bonded or seated all along, level with the old seal and below the riding surface.", true},
	}
}

// cleaningSteps leave the seal as it is. Common practice, no source.
func cleaningSteps() []Step {
	return []Step{
		{"Take debris out by hand tools or vacuum, with no sharp edge on the seal.", false},
		{"Flush from the high end with water at low pressure; hold back what local rules let into no drain or stream.", false},
		{"Look along the seal for tears, loose feet and leaks; write down what is found. Mend nothing without a sheet for it.", true},
	}
}
