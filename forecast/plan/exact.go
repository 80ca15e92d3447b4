package plan

import (
	"container/heap"
	"math"
	"slices"
)

// exactSearch is a best-first branch and bound over the options of a small network.
// A node closes some options; its bound is the Lagrangian bound of what stays open,
// from a few steps after its parent's multipliers. A node splits on the joint whose
// choice wavered most between the steps: it takes its commonest option, or never.
type exactSearch struct {
	d      *dual
	x      *exchange // to turn a node's choices into plans
	closed []bool    // options excluded for good
	nodes  nodeHeap
	number int // of the last node made
	looked int // nodes expanded
	report func(value, bound float64)

	choice []int32 // best plan
	upper  float64
	freed  []*contractYear // that the nodes decide
	counts []int32         // by option, at the node at hand
	broken []int32         // likewise by contract year, that are not decided
}

type node struct {
	bound  float64
	number int
	parent *node
	joint  int32 // split on; option is fixed for it, or closed
	option int32
	fixed  bool
	let    *contractYear // split on instead, let where fixed and not let otherwise
	closed []bool        // options that the contracts decided down to here leave out
	u      []float64
	reach  float64
}

type nodeHeap []*node

func (h nodeHeap) Len() int { return len(h) }
func (h nodeHeap) Less(i, j int) bool {
	if h[i].bound != h[j].bound {
		return h[i].bound < h[j].bound
	}
	return h[i].number > h[j].number
}
func (h nodeHeap) Swap(i, j int) { h[i], h[j] = h[j], h[i] }
func (h *nodeHeap) Push(v any)   { *h = append(*h, v.(*node)) }
func (h *nodeHeap) Pop() any {
	old := *h
	n := old[len(old)-1]
	*h = old[:len(old)-1]
	return n
}

// nodeSteps is the number of multiplier steps at a node. Where a node splits on a contract,
// plans are made at every plansEvery-th only: they take longer than the bound.
const (
	nodeSteps  = 30
	plansEvery = 4
)

// run searches until nothing is open or the evaluations are used up. It returns the
// bound: the least of what is still open, or the plan's own value.
func (e *exactSearch) run(root ascent, evaluations int) float64 {
	e.counts = make([]int32, len(e.d.m.optionID))
	e.broken = make([]int32, len(e.d.m.rows.contracts))
	e.d.banned = make([]bool, len(e.closed))
	for k := range e.broken {
		if c := &e.d.m.rows.contracts[k]; !e.d.goal.decided(c) {
			e.freed = append(e.freed, c)
		}
	}
	heap.Push(&e.nodes, &node{bound: root.bound, closed: e.closed, u: root.u, reach: root.reach})
	for len(e.nodes) > 0 && evaluations > 0 && e.d.ctx.Err() == nil {
		n := heap.Pop(&e.nodes).(*node)
		if e.pruned(n.bound) {
			return e.upper // best first: all others are no better
		}
		e.report(e.upper, n.bound)
		evaluations -= e.expand(n)
	}
	if len(e.nodes) > 0 && !e.pruned(e.nodes[0].bound) {
		return e.nodes[0].bound
	}
	return e.upper
}

// tolerance is the relative difference under which two costs count as the same.
const tolerance = 1e-10

func (e *exactSearch) pruned(bound float64) bool {
	return bound >= e.upper-tolerance*math.Abs(e.upper)
}

// expand bounds a node, looks for plans and adds its two halves. It returns the
// evaluations used.
func (e *exactSearch) expand(n *node) int {
	if !e.close(n) {
		return 0
	}
	clear(e.counts)
	clear(e.broken)
	steps := 0
	got := e.d.maximise(ascent{u: n.u, reach: n.reach}, nodeSteps, e.upper-tolerance*math.Abs(e.upper), func() {
		steps++
		e.look()
	})
	bound := math.Max(n.bound, got.bound)
	if e.pruned(bound) {
		return steps
	}
	contract := e.splitContract()
	if e.looked++; contract == nil || e.looked%plansEvery == 1 {
		e.plan()
		if contract == nil {
			contract = e.splitContract()
		}
	}
	joint, option := e.split()
	if joint < 0 || e.pruned(bound) {
		return steps // every joint has one option left, and look has seen the plan
	}
	for _, fixed := range []bool{false, true} {
		e.number++
		heap.Push(&e.nodes, &node{bound: bound, number: e.number, parent: n, joint: joint, option: option, fixed: fixed, let: contract, u: got.u, reach: got.reach})
	}
	return steps
}

// plan makes plans from the options at hand.
func (e *exactSearch) plan() {
	e.x.l.load(e.d.choice)
	e.x.repair()
	e.x.fill(false)
	e.countBroken(e.x.l.use)
	e.x.settle(false)
	e.keep()
}

// close sets the options that are closed and the contracts that are decided at node
// n. It reports false when no plan is left.
func (e *exactSearch) close(n *node) bool {
	for k := range e.freed {
		e.d.goal.free(e.freed[k])
	}
	for at := n; at.parent != nil; at = at.parent {
		if at.let != nil {
			e.d.goal.decide(at.let, at.fixed)
		}
	}
	e.d.leaveUndecided()
	if n.closed == nil {
		n.closed = n.parent.closed
		if n.let != nil {
			n.closed = slices.Clone(n.closed)
			e.closeContracts(n.closed)
			if !e.d.m.narrow(e.d.goal, n.closed) {
				return false
			}
		}
	}
	copy(e.d.banned, n.closed)
	for at := n; at.parent != nil; at = at.parent {
		switch {
		case at.let != nil:
		case !at.fixed:
			e.d.banned[at.option] = true
		default:
			for o, last := e.d.m.options(at.joint); o < last; o++ {
				e.d.banned[o] = e.d.banned[o] || o != at.option
			}
		}
	}
	return e.open()
}

// open reports whether every joint has an option left.
func (e *exactSearch) open() bool {
	for j := range e.d.m.jointID {
		first, last := e.d.m.options(int32(j))
		if !slices.Contains(e.d.banned[first:last], false) {
			return false
		}
	}
	return true
}

// look counts the options chosen by the last evaluation, and keeps them when they
// are a better plan.
func (e *exactSearch) look() {
	for _, o := range e.d.choice {
		e.counts[o]++
	}
	e.countBroken(e.d.use)
	for r, n := range e.d.use {
		if e.d.goal.over(r, n) > 0 && math.IsInf(e.d.goal.penalty[r], 1) {
			return
		}
	}
	e.x.l.load(e.d.choice)
	e.keep()
}

// keep takes the ledger's plan when it is the best so far.
func (e *exactSearch) keep() {
	if v := e.x.l.value(); v < e.upper-tolerance*math.Abs(v) {
		e.upper = v
		copy(e.choice, e.x.l.choice)
	}
}

// split returns the joint to branch on and its commonest option, or -1.
func (e *exactSearch) split() (joint, option int32) {
	m := e.d.m
	joint = -1
	best := -1.0
	for j := range m.jointID {
		open, total, most, at := 0, int32(0), int32(-1), int32(-1)
		for o, last := m.options(int32(j)); o < last; o++ {
			if e.d.banned[o] {
				continue
			}
			open++
			total += e.counts[o]
			if e.counts[o] > most {
				most, at = e.counts[o], o
			}
		}
		if open < 2 {
			continue
		}
		doubt := 1 - float64(most)/math.Max(1, float64(total)) + 1e-6*float64(open)
		if doubt > best {
			best, joint, option = doubt, int32(j), at
		}
	}
	return joint, option
}

// countBroken counts the contracts that are not decided and that a use breaks.
func (e *exactSearch) countBroken(use []int64) {
	for k := range e.broken {
		if c := &e.d.m.rows.contracts[k]; c.broken(use) && !e.d.goal.decided(c) {
			e.broken[k]++
		}
	}
}

// splitContract returns the contract that was broken oftenest, or nil.
func (e *exactSearch) splitContract() *contractYear {
	at, most := -1, int32(0)
	for k, n := range e.broken {
		if n > most {
			at, most = k, n
		}
	}
	if at < 0 {
		return nil
	}
	return &e.d.m.rows.contracts[at]
}

// closeContracts closes the options that count in a contract which must not be let.
func (e *exactSearch) closeContracts(closed []bool) {
	m := e.d.m
	for o := range m.optionID {
		for _, c := range m.money(int32(o)) {
			if c.cents > 0 && m.rows.inContract(c.slot) && e.d.goal.notLet(m.rows.of(c.slot)) {
				closed[o] = true
			}
		}
	}
}

// notLet tells whether a strict limit of zero holds the contract among some rows.
func (g *goal) notLet(rows []int32) bool {
	r := rows[len(rows)-1] // that of the contract comes last
	return g.limit[r] == 0 && math.IsInf(g.penalty[r], 1)
}
