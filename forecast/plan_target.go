package forecast

import (
	"fmt"
	"math"

	"reseal/forecast/plan"
	"reseal/inventory/store"
)

// What a target of a plan is about.
const (
	TargetFailed = "failed" // joints expected to have failed
	TargetCS4    = "cs4"    // share of the length expected to be in CS4
)

// PlanTarget is how the network is to stand at the end of a fiscal year: at most
// so much, or at a price of so much, or both. It counts the joints that a plan
// looks at, which are those with a forecast and a length.
type PlanTarget struct {
	What         string
	Year         int     // fiscal
	Most         float64 // joints, or a share of the length from 0 to 1; below 0: no limit
	PriceDollars float64 // present value of each failed joint, or of each foot in CS4, in the objective
}

// Units in which targets are summed, to be exact: parts of a joint and of a foot.
const (
	jointUnits = 10_000
	footUnits  = 100
)

// Words name the target.
func (t PlanTarget) Words() string {
	if t.What == TargetCS4 {
		return fmt.Sprintf("share in CS4 at the end of %d", t.Year)
	}
	return fmt.Sprintf("joints failed at the end of %d", t.Year)
}

// inUnits is a value of the target, as people give it, in its sum's units.
func (p *Problem) inUnits(t PlanTarget, value float64) float64 {
	if t.What == TargetCS4 {
		return value * footUnits * p.feet
	}
	return value * jointUnits
}

// addTargets begins the targets of an instance; their uses are added option by
// option, and closeTargets sets their caps.
func (p *Problem) addTargets(o PlanOptions) error {
	for _, t := range o.Targets {
		hint := fmt.Sprintf("give a year from %d to %d", o.FirstYear, o.FirstYear+o.Years-1)
		switch {
		case t.What != TargetFailed && t.What != TargetCS4:
			return store.Invalid("it is failed or cs4", "there is no target for %q", t.What)
		case t.Year < o.FirstYear || t.Year >= o.FirstYear+o.Years:
			return store.Invalid(hint, "a target for %d is outside the plan", t.Year)
		case math.IsNaN(t.Most) || t.What == TargetCS4 && t.Most > 1 || t.Most > 1e6 || !(t.PriceDollars >= 0 && t.PriceDollars <= 1e8):
			return store.Invalid("give joints, or a share such as 5%, or a price in dollars", "a target of %g at $%g cannot be", t.Most, t.PriceDollars)
		}
		unit := float64(jointUnits)
		if t.What == TargetCS4 {
			unit = footUnits
		}
		p.targets = append(p.targets, t)
		p.Instance.Targets = append(p.Instance.Targets, plan.Target{Name: t.Words(), Cap: plan.NoLimit, Price: t.PriceDollars / unit})
	}
	return nil
}

// use adds what an option of a joint counts in each target.
func (p *Problem) use(j *Projected, c *course) error {
	actions := append(c.actions(), j.Prospect.projectOnly()...)
	for k, t := range p.targets {
		year := t.Year - p.FirstYear + 1
		units := 0.0
		if t.What == TargetCS4 {
			share, err := j.Prospect.Value.CS4At(year, actions...)
			if err != nil {
				return err
			}
			units = footUnits * j.LengthFt * share
		} else {
			failed, err := j.Prospect.Value.FailedAt(year, actions...)
			if err != nil {
				return err
			}
			units = jointUnits * failed
		}
		p.Instance.Targets[k].Use = append(p.Instance.Targets[k].Use, int32(math.Round(units)))
	}
	return nil
}

// closeTargets sets the caps, once the length of all joints is known.
func (p *Problem) closeTargets() {
	for k, t := range p.targets {
		if t.Most >= 0 {
			p.Instance.Targets[k].Cap = int64(math.Round(p.inUnits(t, t.Most)))
		}
	}
}
