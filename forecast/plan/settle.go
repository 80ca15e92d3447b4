package plan

import (
	"math"
	"math/rand/v2"
	"slices"
)

// settle changes options until no contract is broken: those that are broken are
// either filled, with work of other years or work not planned, or not let, whichever
// costs less; the others stay as they are. It reports whether any was broken.
func (x *exchange) settle(all bool) bool {
	contracts := x.m.rows.contracts
	if !slices.ContainsFunc(contracts, func(c contractYear) bool { return c.broken(x.l.use) }) {
		return false
	}
	var held []*contractYear
	for k := range contracts {
		if c := &contracts[k]; !x.l.goal.decided(c) {
			held = append(held, c)
			if !c.broken(x.l.use) {
				x.l.goal.decide(c, c.let(x.l.use))
			}
		}
	}
	for _, c := range held {
		switch {
		case x.l.goal.decided(c):
		case !c.broken(x.l.use):
			x.l.goal.decide(c, c.let(x.l.use))
		default:
			x.fillOrClose(c)
		}
	}
	x.scope = nil
	x.fill(all)
	x.release(held)
	return true
}

// release leaves contracts undecided again.
func (x *exchange) release(held []*contractYear) {
	for _, c := range held {
		x.l.goal.free(c)
	}
	x.l.recount()
}

// fillOrClose decides a broken contract for what costs less.
func (x *exchange) fillOrClose(c *contractYear) {
	before := slices.Clone(x.l.choice)
	x.scope = c.bridges
	letCost := x.tryContract(c, true)
	let := slices.Clone(x.l.choice)
	x.l.load(before)
	if closeCost := x.tryContract(c, false); letCost < closeCost {
		x.l.goal.decide(c, true)
		x.l.load(let)
		x.l.recount()
	}
	x.scope = nil
}

// tryContract decides a contract, repairs the plan and returns what it then costs.
func (x *exchange) tryContract(c *contractYear, let bool) float64 {
	x.l.goal.decide(c, let)
	x.l.recount()
	x.repair()
	return x.measure()
}

// turn tries each contract the other way, and keeps what costs less.
func (x *exchange) turn() {
	if !x.l.kept() {
		return
	}
	held, g := x.hold(), x.l.goal
	for _, c := range held {
		if x.ctx.Err() != nil {
			break
		}
		before, cost, let := slices.Clone(x.l.choice), x.measure(), c.let(x.l.use)
		x.scope = c.bridges
		x.tryContract(c, !let)
		if x.l.exceeded == 0 {
			x.fill(false)
		}
		if x.l.exceeded > 0 || x.measure() >= cost-1e-9*math.Abs(cost) {
			g.decide(c, let)
			x.l.load(before)
			x.l.recount()
		}
	}
	x.scope = nil
	x.release(held)
}

// contracts improves the best plan by other decisions on contracts, and by the best
// plan for each.
func (s *solver) contracts(d *dual, x *exchange, out *outcome) {
	x.l.load(out.choice)
	if len(s.m.jointID) <= ruinLimit {
		x.turn()
		s.keep(x, out)
	}
	s.decided(d, out)
	if len(s.m.jointID) <= exactLimit {
		s.shake(d, x, out)
		s.decided(d, out)
	}
}

// decided solves with every contract let or not as the best plan has it.
func (s *solver) decided(d *dual, out *outcome) {
	held := d.goal.clone()
	l := newLedger(s.m, d.goal, out.choice)
	for k := range s.m.rows.contracts {
		if c := &s.m.rows.contracts[k]; !held.decided(c) {
			held.decide(c, c.let(l.use))
		}
	}
	inner := *s
	inner.inexact = true
	got := inner.solve(held, out.u, out.choice)
	if l.load(got.choice); l.value() < out.value {
		out.value, out.choice = l.value(), got.choice
	}
}

// shake improves the best plan by turning contracts at random, each turn followed by
// a short ruin and recreate, from a fixed seed. Somewhat worse plans are accepted, less
// and less.
func (s *solver) shake(d *dual, x *exchange, out *outcome) {
	x.l.load(out.choice)
	if !x.l.kept() {
		return
	}
	rng := rand.New(rand.NewPCG(2, uint64(len(s.m.jointID))))
	x.pool.widen(d, out.u, 30, rng)
	held := x.hold()
	r := newRuin(x, rng)
	best, least := slices.Clone(x.l.choice), x.measure()
	hot := 3e-3 * math.Abs(out.value) / math.Sqrt(float64(len(s.m.jointID)))
	n := s.effort * min(shakes/s.parts, 10*len(held))
	for k := range n {
		if s.ctx.Err() != nil {
			break
		}
		before, cost := slices.Clone(x.l.choice), x.measure()
		turned := x.pickTurn(held, rng)
		for _, c := range turned {
			x.l.goal.decide(c, !c.let(x.l.use))
		}
		x.l.recount()
		x.scope = turned[0].bridges
		x.repair()
		x.scope = nil
		heat := hot * math.Pow(1e-2, float64(k)/float64(n))
		r.run(shakeRounds, heat)
		if x.l.exceeded > 0 || x.measure()-cost > -heat*math.Log(1-rng.Float64()) {
			for _, c := range turned {
				x.l.goal.free(c)
			}
			x.l.load(before)
			for _, c := range turned {
				x.l.goal.decide(c, c.let(x.l.use))
			}
			x.l.recount()
		} else if v := x.measure(); v < least {
			least = v
			copy(best, x.l.choice)
		}
	}
	x.release(held)
	x.l.load(best)
	s.keep(x, out)
}

// pickTurn picks a contract to turn: at times one that is let, with another of its
// near years that is not.
func (x *exchange) pickTurn(held []*contractYear, rng *rand.Rand) []*contractYear {
	at := rng.IntN(len(held))
	if rng.IntN(4) == 0 {
		return held[at : at+1]
	}
	for n := range held {
		c := held[(at+n)%len(held)]
		if !c.let(x.l.use) {
			continue
		}
		other := held[min(max((at+n)%len(held)+rng.IntN(7)-3, 0), len(held)-1)]
		if other.contract == c.contract && !other.let(x.l.use) {
			return []*contractYear{c, other}
		}
		return []*contractYear{c}
	}
	return held[at : at+1]
}

// Turns of shake, and rounds of ruin and recreate after each.
const (
	shakes      = 600
	shakeRounds = 20
)

// hold decides every contract as the plan has it.
func (x *exchange) hold() (held []*contractYear) {
	for k := range x.m.rows.contracts {
		if c := &x.m.rows.contracts[k]; !x.l.goal.decided(c) {
			held = append(held, c)
			x.l.goal.decide(c, c.let(x.l.use))
		}
	}
	return held
}
