package plan

import (
	"math"
	"math/bits"
)

// ascend shares the visits out so as to raise the sum of the joints' bounds, each
// joint by one step in turn, until none can rise, and returns the sum.
func (s *bridgeSolver) ascend(n int) float64 {
	s.slack = s.visit
	for i := range n {
		g := &s.joints[i]
		clear(g.share[:s.m.in.Years])
		g.bound = math.Inf(1)
		for k := range g.all {
			g.all[k].shared = g.all[k].cost
			g.bound = min(g.bound, g.all[k].cost)
		}
		g.coarse = coarseStep * (g.best - g.bound)
	}
	sum := 0.0
	for range 2 { // coarse steps, then fine ones
		for rising := true; rising; {
			rising = false
			for i := range n {
				rising = s.raise(&s.joints[i]) || rising
			}
		}
		sum = 0
		for i := range n {
			g := &s.joints[i]
			g.bound = math.Inf(1)
			for _, c := range g.all {
				g.bound = min(g.bound, c.shared)
			}
			sum += g.bound
			g.coarse *= coarseStep
			g.raised = false
		}
	}
	return sum
}

// coarseStep is the first step of a bound, as a share of the most it can rise.
const coarseStep = 0.1

// raise lifts a joint's bound to its next choice, or as far as the visits of the
// choices that hold it down have something left to share, and reports whether it
// could. Choices less than a coarse step above the bound count as holding it down.
func (s *bridgeSolver) raise(g *jointChoices) bool {
	if g.raised {
		return false
	}
	tight := g.bound + g.coarse + 1e-11*math.Abs(g.bound)
	next := math.Inf(1)
	chosen := uint32(0)
	for _, c := range g.all {
		if c.shared > tight {
			next = min(next, c.shared)
			continue
		}
		if c.years&chosen != 0 {
			continue
		}
		most, at := 0.0, -1
		for left := c.years; left != 0; left &= left - 1 {
			if y := bits.TrailingZeros32(left); s.slack[y] > most {
				most, at = s.slack[y], y
			}
		}
		if at < 0 {
			g.raised = true
			return false
		}
		chosen |= 1 << at
	}
	rise := next - g.bound
	for left := chosen; left != 0; left &= left - 1 {
		rise = min(rise, s.slack[bits.TrailingZeros32(left)])
	}
	for left := chosen; left != 0; left &= left - 1 {
		y := bits.TrailingZeros32(left)
		g.share[y] += rise
		s.slack[y] -= rise
	}
	for k := range g.all {
		if both := g.all[k].years & chosen; both != 0 {
			g.all[k].shared += rise * float64(bits.OnesCount32(both))
		}
	}
	g.bound += rise
	return true
}
