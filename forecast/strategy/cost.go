package strategy

import (
	"cmp"
	"fmt"
	"slices"
)

// Action is a treatment in the middle of a year.
type Action struct {
	Treatment int // index into Joint.Treatments
	Year      int // from 0
}

// Costs are the parts of a strategy's expected cost: present values in
// constant dollars at the start of the first year.
type Costs struct {
	Treatments float64 // within the horizon
	Failed     float64 // harm of the time spent failed, within the horizon
	After      float64 // all that comes after the horizon, renewals at the best age for ever
}

// Total is the sum of the parts.
func (c Costs) Total() float64 { return c.Treatments + c.Failed + c.After }

// middle is the point of the middle of a year.
func middle(year int) int { return year*StepsPerYear + StepsPerYear/2 }

// Cost is the expected cost of doing these actions, one a year at most and in
// the order of years, and nothing else within the horizon:
//
//	Σ v^T cost + consequence · ∫ F(t) v^t dt + v^H · (the best renewal after)
//
// with T the middle of each action's year. What follows the horizon is the best
// age, from there on, to renew the last seal, and renewal at the best age for
// ever. Errors wrap ErrInvalid.
func (v *Value) Cost(actions ...Action) (Costs, error) {
	if err := v.check(actions); err != nil {
		return Costs{}, err
	}
	var c Costs
	seal, since, seals := v.now, 0, 0
	for _, a := range actions {
		at, r := middle(a.Year), &v.joint.Treatments[a.Treatment]
		c.Treatments += v.factors[at] * r.CostDollars
		if seal == nil { // nothing is left there
			continue
		}
		next := seal
		switch r.Effect {
		case Nothing:
			continue
		case Renews:
			seals++
			next = v.sealed[a.Treatment][min(seals, generations)]
		case Repairs:
			next = v.mended[a.Treatment][a.Year]
		case Removes:
			next = nil
		}
		c.Failed += v.factors[since] * seal.harm[at-since]
		seal, since = next, at
	}
	if seal == nil {
		return c, nil
	}
	age := v.terms.Years*StepsPerYear - since
	c.Failed += v.factors[since] * seal.harm[age]
	c.After = v.factors[since] * (seal.least[age] - seal.harm[age])
	return c, nil
}

// HarmUntil is the harm that the seal in place, left alone, is expected to do up
// to the middle of a year, which is not after the last of a Curve: a present
// value at the start of the first year.
func (v *Value) HarmUntil(year int) float64 { return v.now.harm[middle(year)] }

func (v *Value) check(actions []Action) error {
	other := false // a seal whose condition at a repair is not known
	for i, a := range actions {
		switch {
		case a.Treatment < 0 || a.Treatment >= len(v.joint.Treatments):
			return fmt.Errorf("%w: there is no treatment %d", ErrInvalid, a.Treatment)
		case a.Year < 0 || a.Year >= v.terms.Years || i > 0 && a.Year <= actions[i-1].Year:
			return fmt.Errorf("%w: a treatment in year %d of %d; years must rise", ErrInvalid, a.Year, v.terms.Years)
		}
		switch v.joint.Treatments[a.Treatment].Effect {
		case Renews:
			other = true
		case Repairs:
			if other || a.Year >= len(v.mended[a.Treatment]) {
				return fmt.Errorf("%w: the life after a repair in year %d is not known", ErrInvalid, a.Year)
			}
			other = true
		}
	}
	return nil
}

// outright is the cost of a treatment in a year and the best that can follow
// it, with no limit of money. from is the treatment of that year, whose
// follow-up is kept when it is done in another.
func (v *Value) outright(treatment, year, from int) (float64, bool) {
	r := &v.joint.Treatments[treatment]
	at := middle(year)
	before, discount := v.now.harm[at], v.factors[at]
	switch r.Effect {
	case Renews:
		return before + discount*(r.CostDollars+v.sealed[treatment][1].least[0]), true
	case Removes:
		return before + discount*r.CostDollars, true
	case Repairs:
		if year >= len(v.mended[treatment]) {
			return 0, false
		}
		lag := v.mended[treatment][from].at[0]
		return before + discount*(r.CostDollars+v.mended[treatment][year].harm[lag]+v.factors[lag]*v.next[0].Dollars), true
	}
	return v.now.least[0] + discount*r.CostDollars, true // what follows does not depend on it
}

// Outright is the expected cost of a treatment in the middle of a year and the
// best that can follow it, with no limit of money. ok is false where it cannot
// be done in that year.
func (v *Value) Outright(treatment, year int) (dollars float64, ok bool) {
	if v.check([]Action{{treatment, year}}) != nil {
		return 0, false
	}
	return v.outright(treatment, year, year)
}

// Wait is the cost of waiting one year: the treatment exactly one year later
// with the same follow-up, less the treatment in the year. Below 0 waiting
// pays. ok is false where the treatment cannot wait, because the life after it
// is not known so late. It looks past the horizon, never at what else a plan
// holds.
func (v *Value) Wait(treatment, year int) (dollars float64, ok bool) {
	if v.check([]Action{{treatment, year}}) != nil {
		return 0, false
	}
	now, _ := v.outright(treatment, year, year)
	later, ok := v.outright(treatment, year+1, year)
	return later - now, ok
}

// Best is the first treatment and its year with no limit of money.
type Best struct {
	Action
	Dollars   float64 // expected cost of all that is to come
	Beyond    bool    // it is best to do nothing within the horizon; Action is then zero
	StopsYear int     // the first year in which waiting costs, of a treatment that renews; -1: none within the horizon
}

// Best finds the treatment and year of least cost. Where two are equal the
// earlier year is taken, and the treatment that stands first.
func (v *Value) Best() Best {
	horizon := v.terms.Years * StepsPerYear
	best := Best{Dollars: v.now.least[horizon], Beyond: true, StopsYear: -1}
	for i := range v.joint.Treatments {
		if b, ok := v.BestOf(i); ok && b.Dollars < best.Dollars {
			best = b
		}
	}
	if best.Beyond {
		best.StopsYear = v.stops(v.next[0].Treatment)
	}
	return best
}

// BestOf is the best year of one treatment; ok is false where there is none.
func (v *Value) BestOf(treatment int) (best Best, ok bool) {
	var all []Best
	for y := range v.terms.Years {
		if d, can := v.outright(treatment, y, y); can {
			all = append(all, Best{Action: Action{treatment, y}, Dollars: d})
		}
	}
	if len(all) == 0 {
		return Best{}, false
	}
	best = slices.MinFunc(all, func(a, b Best) int { return cmp.Compare(a.Dollars, b.Dollars) })
	best.StopsYear = v.stops(treatment)
	return best, true
}

// stops is the first year in which waiting with a treatment costs, or -1.
func (v *Value) stops(treatment int) int {
	for y := range v.terms.Years {
		if d, ok := v.Wait(treatment, y); ok && d > 0 {
			return y
		}
	}
	return -1
}

// FailedAt is the probability that the joint has failed at the end of a year,
// the horizon's first being 1, when these actions, and no others, are done.
func (v *Value) FailedAt(year int, actions ...Action) (float64, error) {
	return v.at(year, actions, false)
}

// CS4At is the mean share of length in CS4 at the end of a year, counted as in
// FailedAt. The joint needs its CS4 curves.
func (v *Value) CS4At(year int, actions ...Action) (float64, error) {
	return v.at(year, actions, true)
}

func (v *Value) at(year int, actions []Action, cs4 bool) (float64, error) {
	if err := v.check(actions); err != nil {
		return 0, err
	}
	if year < 1 || year > v.terms.Years || cs4 && v.joint.NowCS4 == nil {
		return 0, fmt.Errorf("%w: how the joint stands at the end of year %d is not known", ErrInvalid, year)
	}
	one := func(failed, cs4Curve Curve) Curve {
		if cs4 {
			return cs4Curve
		}
		return failed
	}
	now := one(v.joint.Now, v.joint.NowCS4)
	curve, kept, since := func(i int) float64 { return now[i] }, 1.0, 0
	for _, a := range actions {
		if a.Year >= year {
			break
		}
		r := &v.joint.Treatments[a.Treatment]
		switch r.Effect {
		case Nothing:
			continue
		case Renews:
			kept *= v.terms.SiteShare
			share, site, group := kept, one(r.Site, r.SiteCS4), one(r.Group, r.GroupCS4)
			curve = func(i int) float64 { return group[i] + share*(site[i]-group[i]) }
		case Repairs:
			after := r.After
			if cs4 {
				after = r.AfterCS4
			}
			mended := after[a.Year]
			curve = func(i int) float64 { return mended[i] }
		case Removes:
			return 0, nil
		}
		since = middle(a.Year)
	}
	return curve(year*StepsPerYear - since), nil
}
