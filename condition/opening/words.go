package opening

import (
	"fmt"
	"math"
	"strings"
)

// Words tells the check in plain sentences, the gravest first. It never calls a
// joint safe: the last word is an engineer's.
func (c *Check) Words() string {
	var say []string
	add := func(format string, args ...any) { say = append(say, fmt.Sprintf(format, args...)) }
	has := c.Findings.Has
	if has(NotChecked) {
		return "Not checked: the input is not usable."
	}
	if has(TooWideCold) {
		add("%s too wide when cold: at %.0f °F the opening is expected %s the seal's largest, %.2f in (%s out of range).",
			likely(c.Cold.ProbNegative), c.Range.MinF, beyond(c.Cold.MeanIn), c.Limits.MaxIn, percent(c.Cold.ProbNegative))
	}
	if has(CrushedHot) {
		add("%s crushed when hot: at %.0f °F the opening is expected %s the seal's smallest, %.2f in (%s out of range).",
			likely(c.Hot.ProbNegative), c.Range.MaxF, beyond(c.Hot.MeanIn), c.Limits.MinIn, percent(c.Hot.ProbNegative))
	}
	if c.Limits.Known() && !has(TooWideCold) && !has(CrushedHot) {
		add("The seal fits the gap: %.2f in to spare at %.0f °F and %.2f in at %.0f °F (%s out of range).",
			c.Cold.MeanIn, c.Range.MinF, c.Hot.MeanIn, c.Range.MaxF, percent(c.ProbOut))
	}
	if has(RackingOver) {
		add("Racks %.2f in along the skew, more than the %.2f in the seal allows.", c.RackingIn, c.Limits.RackingIn)
	}
	if has(DoesNotMove) {
		add("Does not move (%s): look for a frozen bearing, a locked or packed joint. Needs an engineer's review.", percent(c.StuckWeight))
	}
	if has(MovesThoughStill) {
		add("Moves with temperature though it should be still (%s). Needs an engineer's review.", percent(c.StrayWeight))
	}
	if has(Drifting) {
		way := "opening"
		if c.DriftInPerYr < 0 {
			way = "closing"
		}
		add("Drifting, %s %.2f in a year (%s): look for a moving abutment or pavement push. Needs an engineer's review.",
			way, math.Abs(c.DriftInPerYr), percent(c.DriftWeight))
	}
	switch {
	case has(OneReading):
		add("From theory through one reading: a second reading at a very different temperature would show whether it moves.")
	case has(CannotTell):
		add("Cannot tell whether it moves: the readings are too close in temperature.")
	}
	if has(NoLimits) {
		add("The seal's limits are not on record: fit not judged.")
	}
	if len(say) == 0 {
		add("Nothing out of the ordinary.")
	}
	return strings.Join(say, " ")
}

func likely(p float64) string {
	if p >= 0.5 {
		return "Likely"
	}
	return "May be"
}

// beyond says on which side of a limit a margin lies.
func beyond(marginIn float64) string {
	if marginIn < 0 {
		return fmt.Sprintf("%.2f in beyond", -marginIn)
	}
	return fmt.Sprintf("%.2f in within", marginIn)
}

// percent never rounds a chance to none or to certainty.
func percent(p float64) string {
	switch {
	case p < 0.01:
		return "under 1 % likely"
	case p > 0.99:
		return "over 99 % likely"
	default:
		return fmt.Sprintf("%.0f %% likely", 100*p)
	}
}
