package condition

import (
	"fmt"
	"math"
	"slices"

	"reseal/inventory"
	"reseal/inventory/store"
)

// Known is what is on record of a joint when an entry about it is judged.
type Known struct {
	Joint     inventory.Joint
	Bridge    inventory.Bridge
	Stretches []inventory.SealedStretch
	Work      []inventory.Work // oldest first
	Last      *Inspection      // the latest with feet before the entry, nil if none
	Next      *Inspection      // the earliest with feet after it, nil if none
	SameDay   []Inspection     // those of the entry's day that count
	Readings  []Reading        // oldest first
	Today     inventory.Date
}

// Limits of what can be measured on a deck.
const (
	MaxGapIn       = 40.0
	MinDeckTempF   = -60.0
	MaxDeckTempF   = 180.0
	toleranceFt    = 1.0  // quantities are whole feet
	toleranceShare = 0.02 // of the length
)

// Judge says whether an inspection can be right. What cannot be is refused
// with an error; what is merely odd comes back in words, for the inspector to
// confirm.
func Judge(in *Inspection, k *Known) (odd []string, err error) {
	if err := impossible(in, k); err != nil {
		return nil, err
	}
	odd = append(odd, oddAgain(in, k)...)
	odd = append(odd, oddCondition(in, k)...)
	odd = append(odd, oddDefects(in)...)
	for i := range in.Readings {
		odd = append(odd, OddReading(&in.Readings[i], k)...)
	}
	return odd, nil
}

func impossible(in *Inspection, k *Known) error {
	if err := impossibleDate(in.InspectedOn, k); err != nil {
		return err
	}
	if len(in.Feet) == 0 && len(in.Defects) == 0 && len(in.Readings) == 0 && !in.Quick {
		return store.Invalid("give feet by state, a worst state, a defect or a gap reading", "the entry says nothing about the joint")
	}
	lengths := map[int64]float64{}
	for _, t := range k.Stretches {
		lengths[t.ID] = t.LengthFt()
	}
	for _, f := range in.Feet {
		length, ok := lengths[f.StretchID]
		if !ok {
			return store.Invalid("", "stretch %d is not one of joint %s", f.StretchID, k.Joint.Tag)
		}
		if err := feetMiss(f, length, k.Joint); err != nil {
			return err
		}
	}
	for _, d := range in.Defects {
		if err := impossibleDefect(d, k.Joint); err != nil {
			return err
		}
	}
	for i := range in.Readings {
		if err := ImpossibleReading(&in.Readings[i]); err != nil {
			return err
		}
	}
	return nil
}

func impossibleDate(on inventory.Date, k *Known) error {
	switch {
	case on.IsZero():
		return store.Invalid("give the day of the inspection (YYYY-MM-DD)", "the inspection has no date")
	case k.Today.Before(on):
		return store.Invalid("correct the date", "%s is in the future", on)
	case k.Bridge.YearBuilt > 0 && on.Year < k.Bridge.YearBuilt:
		return store.Invalid("correct the date, or the year built of the bridge", "%s is before the bridge was built (%d)", on, k.Bridge.YearBuilt)
	}
	return nil
}

// feetMiss refuses feet that miss the length by more than 1 ft or 2 %.
func feetMiss(f Feet, lengthFt float64, j inventory.Joint) error {
	for _, v := range append(f.statesSlice(), f.NotSeenFt) {
		if v < 0 || math.IsNaN(v) || math.IsInf(v, 0) {
			return store.Invalid("feet are 0 or more", "%g ft in a state", v)
		}
	}
	if j.LengthFt == nil { // nothing to miss yet
		return nil
	}
	miss := f.TotalFt() - lengthFt
	if math.Abs(miss) <= math.Max(toleranceFt, toleranceShare*lengthFt) {
		return nil
	}
	word := "more"
	if miss < 0 {
		word = "less"
	}
	return store.Invalid(fmt.Sprintf("correct the feet, or the length: reseal joint edit %s --length-ft %.4g", j.Tag, f.TotalFt()),
		"the feet add up to %.4g, %.4g ft %s than the length of %.4g ft", f.TotalFt(), math.Abs(miss), word, lengthFt)
}

func (f Feet) statesSlice() []float64 { s := f.States(); return s[:] }

func impossibleDefect(d Defect, j inventory.Joint) error {
	if d.State < 1 || d.State > 4 {
		return store.Invalid("a state is 1, 2, 3 or 4", "defect %d has state %d", d.Number, d.State)
	}
	if d.Number != 7000 && (d.Number < 2310 || d.Number > 2370 || d.Number%10 != 0) {
		return store.Invalid("joint defects are 2310 leakage, 2320 seal adhesion, 2330 seal damage, 2340 seal cracking, 2350 debris impaction, 2360 adjacent deck or header, 2370 metal; 7000 is damage",
			"%d is not a joint defect", d.Number)
	}
	if d.FromFt != nil && d.ToFt != nil && *d.ToFt < *d.FromFt {
		return store.Invalid("from is the smaller", "defect %d runs from %g to %g ft", d.Number, *d.FromFt, *d.ToFt)
	}
	if d.ToFt != nil && j.LengthFt != nil && *d.ToFt > *j.LengthFt+math.Max(toleranceFt, toleranceShare**j.LengthFt) {
		return store.Invalid("correct the feet, or the joint's length", "defect %d runs to %g ft on a joint of %.4g ft", d.Number, *d.ToFt, *j.LengthFt)
	}
	return nil
}

// ImpossibleReading refuses a gap or temperature that no deck can have.
func ImpossibleReading(r *Reading) error {
	if !(r.GapIn >= 0 && r.GapIn <= MaxGapIn) {
		return store.Invalid("a gap is 0 to 40 in", "a gap of %g in cannot be", r.GapIn)
	}
	for _, t := range []struct {
		name string
		f    *float64
	}{{"deck", r.DeckTempF}, {"air", r.AirTempF}} {
		if t.f != nil && !(*t.f >= MinDeckTempF && *t.f <= MaxDeckTempF) {
			return store.Invalid("temperatures are -60 to 180 degrees Fahrenheit", "a %s temperature of %g °F cannot be", t.name, *t.f)
		}
	}
	return nil
}

// oddAgain finds the inspection that the same inspector logged on the same day
// of the same stretch: entered twice, it would count twice.
func oddAgain(in *Inspection, k *Known) (odd []string) {
	for i := range k.SameDay {
		o := &k.SameDay[i]
		if o.ID == in.ReplacesID || o.Inspector != in.Inspector {
			continue
		}
		sameStretch := slices.ContainsFunc(o.Feet, func(a Feet) bool {
			return slices.ContainsFunc(in.Feet, func(b Feet) bool { return a.StretchID == b.StretchID })
		})
		if sameStretch || o.Quick && in.Quick {
			odd = append(odd, fmt.Sprintf("inspection %d of the same day by the same inspector is on record", o.ID))
		}
	}
	return odd
}

// oddCondition compares with the inspections before and after: an entry may
// come in late.
func oddCondition(in *Inspection, k *Known) (odd []string) {
	if k.Last != nil {
		since := k.Last.InspectedOn
		if better(k.Last, in) && !workBetween(k.Work, since, in.InspectedOn) {
			odd = append(odd, fmt.Sprintf("better than on %s with no work on record", since))
		}
		odd = append(odd, oddJump(k.Last, in)...)
	}
	if k.Next != nil {
		until := k.Next.InspectedOn
		if better(in, k.Next) && !workBetween(k.Work, in.InspectedOn, until) {
			odd = append(odd, fmt.Sprintf("worse than later, on %s, with no work on record", until))
		}
		odd = append(odd, oddJump(in, k.Next)...)
	}
	return odd
}

// oddJump finds a worst state that is two states worse within a year.
func oddJump(from, to *Inspection) (odd []string) {
	was, is := Worst(from.StateFt()), Worst(to.StateFt())
	years := to.InspectedOn.YearsSince(from.InspectedOn)
	if was > 0 && is-was >= 2 && years <= 1.25 {
		odd = append(odd, fmt.Sprintf("worst state goes from CS%d to CS%d within %.1f years", was, is, math.Max(years, 0)))
	}
	return odd
}

// oddDefects compares the defects with the feet: the worst defect at a foot
// decides its state.
func oddDefects(in *Inspection) (odd []string) {
	worst := Worst(in.StateFt())
	if worst == 0 {
		return nil
	}
	for _, d := range in.Defects {
		if d.State > worst {
			odd = append(odd, fmt.Sprintf("defect %d is in CS%d, but no feet are", d.Number, d.State))
		}
	}
	return odd
}

// better tells whether less of the length is in or beyond some state than
// before, by more than the feet can be counted.
func better(before, after *Inspection) bool {
	was, is := before.StateFt(), after.StateFt()
	total := func(ft [4]float64) float64 { return ft[0] + ft[1] + ft[2] + ft[3] }
	nWas, nIs := total(was), total(is)
	if nWas == 0 || nIs == 0 {
		return false
	}
	var w, i float64
	for s := 3; s > 0; s-- {
		w += was[s] / nWas
		i += is[s] / nIs
		if (w-i)*nIs > math.Max(toleranceFt, toleranceShare*nIs) {
			return true
		}
	}
	return false
}

// workBetween tells whether work that can improve condition was done after
// one day and up to another. A temporary plate cannot.
func workBetween(work []inventory.Work, after, upTo inventory.Date) bool {
	for _, w := range work {
		if w.Treatment != inventory.TemporaryPlate && after.Before(w.DoneOn) && !upTo.Before(w.DoneOn) {
			return true
		}
	}
	return false
}

// OddReading compares a reading with the last one at the same position: an
// expansion joint opens as the deck cools.
func OddReading(r *Reading, k *Known) (odd []string) {
	if k.Joint.Movement != "expansion" || r.DeckTempF == nil {
		return nil
	}
	var last *Reading
	for i := range k.Readings {
		o := &k.Readings[i]
		if o.ReadOn.Before(r.ReadOn) && o.Position == r.Position && o.DeckTempF != nil {
			last = o
		}
	}
	if last == nil {
		return nil
	}
	const sureF, sureIn = 15.0, 0.125 // past both, neither tape nor thermometer explains it
	dT, dGap := *r.DeckTempF-*last.DeckTempF, r.GapIn-last.GapIn
	if math.Abs(dT) >= sureF && math.Abs(dGap) >= sureIn && (dT > 0) == (dGap > 0) {
		word := "wider though the deck was warmer"
		if dT < 0 {
			word = "narrower though the deck was colder"
		}
		odd = append(odd, fmt.Sprintf("the gap is %.3g in %s than on %s", math.Abs(dGap), word, last.ReadOn))
	}
	return odd
}
