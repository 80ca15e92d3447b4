package plan

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Contract is work that is let as a whole in a year, or not at all: in each year
// either nothing is drawn from the accounts of any of its parts, or at least the
// least of every part. Money that is drawn ahead of the work counts in the year in
// which it is drawn.
type Contract struct {
	Name  string
	Parts []ContractPart
}

// ContractPart is what a contract is measured by: its money, or the number of its
// jobs. No bridge visit may be paid from its accounts, and none of them may be in
// another part.
type ContractPart struct {
	Accounts []int32
	Least    int64 // > 0, in the units of the charges
}

// BrokenContract is a contract of a year that is let for less than its least.
type BrokenContract struct {
	Contract int // index into Instance.Contracts
	Name     string
	Year     int
	Used     []int64 // by part
}

func (in *Instance) checkContracts() error {
	part := map[int32]bool{}
	for _, c := range in.Contracts {
		if len(c.Parts) == 0 {
			return fmt.Errorf("contract %q has no parts", c.Name)
		}
		for _, p := range c.Parts {
			if p.Least <= 0 || p.Least > maxCents {
				return fmt.Errorf("contract %q: a least of %d, want more than zero and not too much", c.Name, p.Least)
			}
			for _, a := range p.Accounts {
				if a < 0 || int(a) >= len(in.Accounts) || part[a] {
					return fmt.Errorf("contract %q: account %d does not exist or is named twice", c.Name, a)
				}
				part[a] = true
			}
		}
	}
	for b, a := range in.VisitAccount {
		if part[a] {
			return fmt.Errorf("bridge %d: a contract's account %d pays for its visits", b, a)
		}
	}
	return nil
}

// contractYear is a contract in one year: the rows of its parts.
type contractYear struct {
	contract, year int
	rows           []int32
	least          []int64
	bridges        []int32 // of the model, with an option that counts in the contract, whatever the year
}

// broken tells whether a use of the rows is more than nothing and less than the least.
func (c *contractYear) broken(use []int64) bool {
	some, short := false, false
	for i, r := range c.rows {
		some = some || use[r] > 0
		short = short || use[r] < c.least[i]
	}
	return some && short
}

// let tells whether a use of the rows is nearer to the least than to nothing.
func (c *contractYear) let(use []int64) bool {
	nearest := math.Inf(1)
	for i, r := range c.rows {
		nearest = min(nearest, float64(use[r])/float64(c.least[i]))
	}
	return nearest >= 0.5
}

// addContracts adds a row for each part and year, and lists the contracts in an
// order that does not depend on that of the input.
func (r *rows) addContracts(in *Instance) {
	if len(in.Contracts) == 0 {
		return
	}
	r.partOf = make([]int32, len(in.Accounts))
	for a := range r.partOf {
		r.partOf[a] = -1
	}
	for k, c := range in.Contracts {
		first := len(r.contracts)
		for y := range r.years {
			r.contracts = append(r.contracts, contractYear{contract: k, year: y})
		}
		for _, p := range c.Parts {
			for _, a := range p.Accounts {
				r.partOf[a] = int32(len(r.limit))
			}
			for y := range r.years {
				at := &r.contracts[first+y]
				at.rows, at.least = append(at.rows, int32(len(r.limit))), append(at.least, p.Least)
				r.limit = append(r.limit, NoLimit)
			}
		}
	}
	slices.SortStableFunc(r.contracts, func(a, b contractYear) int {
		return cmp.Or(cmp.Compare(in.Contracts[a.contract].Name, in.Contracts[b.contract].Name), cmp.Compare(a.year, b.year))
	})
}

// inContract tells whether money in a slot counts in a contract.
func (r *rows) inContract(slot int32) bool {
	return r.partOf != nil && slot >= 0 && r.partOf[slot/int32(r.years)] >= 0
}

// findContractBridges lists the bridges of each contract.
func (m *model) findContractBridges() {
	if len(m.rows.contracts) == 0 {
		return
	}
	of := make([][]int32, len(m.in.Contracts))
	contract := map[int32]int{} // by first row of a part
	for _, c := range m.rows.contracts {
		for _, r := range c.rows {
			contract[r-int32(c.year)] = c.contract
		}
	}
	for b := range m.bridgeID {
		first, last := m.firstOption[m.firstClass[m.firstJoint[b]]], m.firstOption[m.firstClass[m.firstJoint[b+1]]]
		for _, c := range m.charges[m.firstCharge[first]:m.firstCharge[last]] {
			if !m.rows.inContract(c.slot) {
				continue
			}
			k := contract[m.rows.partOf[c.slot/int32(m.in.Years)]]
			if n := len(of[k]); n == 0 || of[k][n-1] != int32(b) {
				of[k] = append(of[k], int32(b))
			}
		}
	}
	for i := range m.rows.contracts {
		m.rows.contracts[i].bridges = of[m.rows.contracts[i].contract]
	}
}

// leaveContracts makes every contract of a goal undecided.
func (m *model) leaveContracts(g *goal) {
	if len(m.rows.contracts) > 0 {
		g.least = make([]int64, len(g.limit))
	}
}

// brokenContracts lists those of a plan.
func (m *model) brokenContracts(l *ledger) (out []BrokenContract) {
	for _, c := range m.rows.contracts {
		if !c.broken(l.use) {
			continue
		}
		b := BrokenContract{Contract: c.contract, Name: m.in.Contracts[c.contract].Name, Year: c.year}
		for _, r := range c.rows {
			b.Used = append(b.Used, l.use[r])
		}
		out = append(out, b)
	}
	return out
}

// clone copies a goal whose contracts are to be decided.
func (g *goal) clone() *goal {
	out := *g
	out.limit, out.least = slices.Clone(g.limit), slices.Clone(g.least)
	return &out
}

// over is by how much a use exceeds the limit of a row or falls short of its least.
func (g *goal) over(row int, use int64) int64 {
	if over := use - g.limit[row]; over > 0 {
		return over
	}
	if g.least != nil && use < g.least[row] {
		return g.least[row] - use
	}
	return 0
}

// decide holds a contract to being let, or not let.
func (g *goal) decide(c *contractYear, let bool) {
	for i, r := range c.rows {
		if let {
			g.limit[r], g.least[r] = NoLimit, c.least[i]
		} else {
			g.limit[r], g.least[r] = 0, 0
		}
	}
}

// free leaves a contract undecided.
func (g *goal) free(c *contractYear) {
	for _, r := range c.rows {
		g.limit[r], g.least[r] = NoLimit, 0
	}
}

// decided tells whether a contract is held to being let or not.
func (g *goal) decided(c *contractYear) bool {
	r := c.rows[0]
	return g.limit[r] != NoLimit || g.least[r] > 0
}

// undecided tells whether any contract is.
func (m *model) undecided(g *goal) bool {
	return slices.ContainsFunc(m.rows.contracts, func(c contractYear) bool { return !g.decided(&c) })
}

// kept reports whether the plan keeps every limit and every contract.
func (l *ledger) kept() bool {
	return l.exceeded == 0 && !slices.ContainsFunc(l.m.rows.contracts, func(c contractYear) bool { return c.broken(l.use) })
}

// contractPenalty is that of undecided contracts which are broken: what the nearer
// of letting and not letting each would cost.
func (l *ledger) contractPenalty() float64 {
	sum := 0.0
	for k := range l.m.rows.contracts {
		c := &l.m.rows.contracts[k]
		if l.goal.decided(c) || !c.broken(l.use) {
			continue
		}
		none, rest := 0.0, 0.0
		for i, r := range c.rows {
			if n := l.use[r]; n > 0 {
				none += l.goal.penalty[r] * float64(n)
			}
			if n := c.least[i] - l.use[r]; n > 0 {
				rest += l.goal.penalty[r] * float64(n)
			}
		}
		sum += min(none, rest)
	}
	return sum
}

// recount counts the exceeded rows anew, after the goal has changed.
func (l *ledger) recount() {
	l.reset()
	l.exceeded = 0
	for r, n := range l.use {
		if l.goal.over(r, n) > 0 {
			l.exceeded++
		}
	}
}
