package strategy

import (
	"fmt"
	"math"
)

// Effect is what a treatment does to a joint's condition.
type Effect uint8

// The effects.
const (
	Nothing Effect = iota // the seal wears on as before
	Renews                // a new seal on the whole length
	Repairs               // some feet are made new, the worst first; the seal stays
	Removes               // there is no joint any more, and nothing to fail
)

// Treatment is something that can be done to the joint, in any year.
type Treatment struct {
	Name        string
	CostDollars float64 // for this joint, its part of the visit included; constant dollars, 0 or more
	Effect      Effect

	// Of a treatment that renews: the life of the new seal, by its own kind, with
	// the pace that this joint has shown, and with that of any joint.
	Site, Group Curve
	// Of one that repairs: the life after it, by the year in which it is done;
	// years past the last are not open to it.
	After []Curve

	// The same of the share of length in CS4, for Value.CS4At only; or nil.
	SiteCS4, GroupCS4 Curve
	AfterCS4          []Curve
}

// Joint is one joint as it stands at the start of the first year.
type Joint struct {
	Now                Curve   // of the seal in place, untreated
	ConsequenceDollars float64 // what a year in the failed state costs, 0 or more
	Treatments         []Treatment

	NowCS4 Curve // share of length in CS4 of the seal in place, for Value.CS4At only; or nil
}

// Terms are what all joints of a network share.
type Terms struct {
	Years     int     // of the horizon, 1 to 50
	Rate      float64 // real discount rate a year, over 0 and at most 1
	SiteShare float64 // probability that a new seal keeps the pace of the one before it
}

func (t Terms) validate() error {
	if t.Years < 1 || t.Years > ReachYears-10 {
		return fmt.Errorf("%w: a horizon of %d years; give 1 to %d", ErrInvalid, t.Years, ReachYears-10)
	}
	if !(t.Rate > 0 && t.Rate <= 1) {
		return fmt.Errorf("%w: a discount rate of %g; renewal for ever has a finite cost only over 0", ErrInvalid, t.Rate)
	}
	if !(t.SiteShare >= 0 && t.SiteShare <= 1) {
		return fmt.Errorf("%w: a site share of %g; give 0 to 1", ErrInvalid, t.SiteShare)
	}
	return nil
}

func amount(v float64) bool { return v >= 0 && !math.IsInf(v, 0) }

func (j *Joint) validate(t Terms) error {
	if err := j.Now.validate("the seal in place"); err != nil {
		return err
	}
	if !amount(j.ConsequenceDollars) {
		return fmt.Errorf("%w: a consequence of %g dollars", ErrInvalid, j.ConsequenceDollars)
	}
	if j.NowCS4 != nil {
		if err := j.NowCS4.validate("the seal in place, in CS4"); err != nil {
			return err
		}
	}
	renews := false
	for i := range j.Treatments {
		r := &j.Treatments[i]
		if !amount(r.CostDollars) {
			return fmt.Errorf("%w: %s costs %g dollars", ErrInvalid, r.Name, r.CostDollars)
		}
		var curves []Curve
		switch r.Effect {
		case Renews:
			renews, curves = true, []Curve{r.Site, r.Group}
			if j.NowCS4 != nil {
				curves = append(curves, r.SiteCS4, r.GroupCS4)
			}
		case Repairs:
			curves = r.After[:min(len(r.After), t.Years+1)]
			if j.NowCS4 != nil && len(r.AfterCS4) != len(r.After) {
				return fmt.Errorf("%w: %s has %d lives and %d shares in CS4", ErrInvalid, r.Name, len(r.After), len(r.AfterCS4))
			}
		}
		for _, c := range curves {
			if err := c.validate(r.Name); err != nil {
				return err
			}
		}
	}
	if !renews {
		return fmt.Errorf("%w: no treatment renews the seal, so nothing can go on for ever", ErrInvalid)
	}
	return nil
}
