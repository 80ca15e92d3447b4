package plan

import (
	"math"
	"slices"
)

// Where contracts join only some of the bridges, as those of a district, the districts
// are solved each for itself: limits that several share keep their prices, those of one
// district are its own. The districts' bounds add up to one for the network, and their
// plans to a plan that keeps all but the shared limits.

// groups returns the bridges by district where a goal of least cost is solved so, and
// nil where it is not.
func (s *solver) groups(g *goal) [][]int32 {
	if s.parts > 1 || g.costScale == 0 || len(s.m.jointID) > ruinLimit || !s.m.undecided(g) {
		return nil
	}
	for r, p := range g.penalty {
		if !math.IsInf(p, 1) && g.limit[r] != NoLimit {
			return nil
		}
	}
	return s.m.groups()
}

// groups joins bridges whose visits are paid from one account, and the bridges of each
// contract. It returns the bridges by group.
func (m *model) groups() [][]int32 {
	of := make([]int32, len(m.bridgeID)) // an earlier bridge of the group, or the bridge itself
	root := func(b int32) int32 {
		for of[b] != b {
			of[b] = of[of[b]]
			b = of[b]
		}
		return b
	}
	join := func(a, b int32) {
		a, b = root(a), root(b)
		of[max(a, b)] = min(a, b)
	}
	first := map[int32]int32{} // by account
	for b := range of {
		of[b] = int32(b)
		account := m.in.VisitAccount[m.bridgeID[b]]
		if at, ok := first[account]; ok {
			join(at, int32(b))
		} else {
			first[account] = int32(b)
		}
	}
	for _, c := range m.rows.contracts {
		for _, b := range c.bridges {
			join(c.bridges[0], b)
		}
	}
	number := map[int32]int{}
	var groups [][]int32
	for b := range of {
		r := root(int32(b))
		if _, ok := number[r]; !ok {
			number[r] = len(groups)
			groups = append(groups, nil)
		}
		groups[number[r]] = append(groups[number[r]], int32(b))
	}
	return groups
}

// district is a part of a network, for itself.
type district struct {
	in     *Instance
	option []int32 // of the model, by option of in
	joint  []int32
	row    []int32 // of the model's rows, by row of in; those of contracts -1
}

// districtMaker cuts districts out of a network.
type districtMaker struct {
	m      *model
	g      *goal
	u      []float64
	banned []bool
	owner  []int32 // by row: the group that alone uses it; -1 for none, -2 for several
}

func (s *solver) newDistrictMaker(d *dual, u []float64, groups [][]int32) *districtMaker {
	k := &districtMaker{m: s.m, g: d.goal, u: u, banned: d.banned, owner: make([]int32, len(u))}
	for r := range k.owner {
		k.owner[r] = -1
	}
	mark := func(r, group int32) {
		if k.owner[r] == -1 {
			k.owner[r] = group
		} else if k.owner[r] != group {
			k.owner[r] = -2
		}
	}
	for group, bridges := range groups {
		for _, b := range bridges {
			s.m.eachRow(b, func(r int32) { mark(r, int32(group)) })
		}
	}
	for b := range s.m.in.Budgets { // all years or none: they may be carried over
		rows := k.owner[b*s.m.in.Years : (b+1)*s.m.in.Years]
		owner := int32(-1)
		for _, o := range rows {
			if o != -1 && owner == -1 {
				owner = o
			} else if o != -1 && o != owner {
				owner = -2
			}
		}
		for i := range rows {
			rows[i] = owner
		}
	}
	for r := s.m.rows.firstGoal; r < len(u); r++ {
		k.owner[r] = -2
	}
	return k
}

// eachRow calls f for each row of money or closures that a bridge may use.
func (m *model) eachRow(b int32, f func(row int32)) {
	for y := range m.in.Years {
		_, _, slot := m.visit(b, y)
		for _, r := range m.rows.of(slot) {
			f(r)
		}
		if r := m.closure(b, y); r >= 0 {
			f(r)
		}
	}
	first, last := m.firstOption[m.firstClass[m.firstJoint[b]]], m.firstOption[m.firstClass[m.firstJoint[b+1]]]
	for _, c := range m.charges[m.firstCharge[first]:m.firstCharge[last]] {
		for _, r := range m.rows.of(c.slot) {
			f(r)
		}
	}
}

// price is what money in a slot costs by the limits that a group does not own.
func (k *districtMaker) price(slot, group int32) (sum float64) {
	for _, r := range k.m.rows.of(slot) {
		if k.owner[r] != group {
			sum += k.u[r]
		}
	}
	return sum
}

// cut makes a group of bridges an instance of its own.
func (k *districtMaker) cut(group int32, bridges []int32) *district {
	m, in, years := k.m, k.m.in, k.m.in.Years
	t := &district{in: &Instance{Years: years}}
	budget := make([]int32, len(in.Budgets))
	for b := range budget {
		budget[b] = -1
		if k.owner[b*years] == group {
			budget[b] = int32(len(t.in.Budgets))
			t.in.Budgets = append(t.in.Budgets, in.Budgets[b])
			t.addRows(b*years, years)
		}
	}
	for _, of := range in.Accounts {
		var own []int32
		for _, b := range of {
			if budget[b] >= 0 {
				own = append(own, budget[b])
			}
		}
		t.in.Accounts = append(t.in.Accounts, own)
	}
	for c, closure := range in.Closures {
		if first := m.rows.budgets + c*years; slices.Contains(k.owner[first:first+years], group) && !slices.Contains(k.owner[first:first+years], -2) {
			t.in.Closures = append(t.in.Closures, closure)
			t.addRows(first, years)
		}
	}
	for i, c := range in.Contracts {
		if at := slices.IndexFunc(m.rows.contracts, func(y contractYear) bool { return y.contract == i }); k.owns(m.rows.contracts[at].bridges, bridges) {
			t.in.Contracts = append(t.in.Contracts, c)
		}
	}
	for _, b := range bridges {
		k.addBridge(t, group, b)
	}
	return t
}

// owns tells whether a contract of some bridges is one of a group's.
func (k *districtMaker) owns(contract, group []int32) bool {
	return len(contract) > 0 && slices.Contains(group, contract[0])
}

func (t *district) addRows(first, n int) {
	for r := range n {
		t.row = append(t.row, int32(first+r))
	}
}

// addBridge adds a bridge with what limits of others cost put into its costs.
func (k *districtMaker) addBridge(t *district, group, b int32) {
	m := k.m
	years, id := m.in.Years, m.bridgeID[b]
	cost, cents := make([]float64, years), make([]int64, years)
	for y := range years {
		visit, money, slot := m.visit(b, y)
		cost[y], cents[y] = visit+k.price(slot, group)*float64(money), money
		if r := m.closure(b, y); r >= 0 && k.owner[r] != group {
			cost[y] += k.u[r]
		}
	}
	t.in.AddBridge(cost, cents, m.in.VisitAccount[id], m.in.Route[id])
	for j := m.firstJoint[b]; j < m.firstJoint[b+1]; j++ {
		t.in.AddJoint()
		t.joint = append(t.joint, j)
		for o, last := m.options(j); o < last; o++ {
			if k.banned[o] {
				continue
			}
			cost := m.cost[o]
			for _, c := range m.money(o) {
				cost += k.price(c.slot, group) * float64(c.cents)
			}
			for i := range m.in.Targets {
				cost += k.u[m.rows.firstGoal+i] * float64(m.use(i, o))
			}
			t.in.AddOption(cost, m.in.charges(m.optionID[o])...)
			t.option = append(t.option, o)
		}
	}
}

// apart solves the groups of a network each for itself. It raises the bound and improves
// the plan of out.
func (s *solver) apart(d *dual, x *exchange, groups [][]int32, out *outcome) {
	copy(d.u, out.u)
	bound := 0.0
	k := s.newDistrictMaker(d, out.u, groups)
	choice := slices.Clone(out.choice)
	owned := make([]bool, len(out.u))
	for group, bridges := range groups {
		t := k.cut(int32(group), bridges)
		m, err := newModel(t.in)
		if err != nil {
			return // no rule is left that could contradict another
		}
		inner := newSolver(s.ctx, m, Options{Workers: s.workers, Effort: s.effort})
		inner.brief, inner.parts = s.brief, len(groups)
		limit, start := slices.Clone(m.rows.limit), make([]float64, len(m.rows.limit))
		for i, r := range t.row[:m.rows.firstPart] {
			limit[i], start[i], owned[r] = d.goal.limit[r], out.u[r], true
		}
		g := inner.strict(limit)
		got := inner.solve(g, start, t.plan(m, out.choice))
		if s.ctx.Err() != nil {
			return
		}
		s.report(d.goal, out.value, out.bound)
		bound += got.bound
		if math.IsInf(got.value, 1) {
			continue
		}
		for j, o := range got.choice {
			choice[t.joint[m.jointID[j]]] = t.option[m.optionID[o]]
		}
	}
	for r, u := range out.u {
		if u != 0 && !owned[r] {
			bound -= u * float64(d.goal.limit[r])
		}
	}
	out.bound = math.Max(out.bound, bound)
	s.merge(x, choice, out)
}

// merge makes the districts' plans one that keeps the limits they share, contracts let as
// they are while that can be.
func (s *solver) merge(x *exchange, choice []int32, out *outcome) {
	x.l.load(choice)
	held := x.hold()
	x.l.recount()
	x.repair()
	x.fill(true)
	x.release(held)
	x.settle(true)
	s.keep(x, out)
}

// plan is the part of a plan of the network in a district, in the terms of its model, or
// nil where it has no such option.
func (t *district) plan(m *model, choice []int32) []int32 {
	number := map[int32]int32{} // option of the model, by that of the network
	for o, id := range m.optionID {
		number[t.option[id]] = int32(o)
	}
	plan := make([]int32, len(m.jointID))
	for j, id := range m.jointID {
		o, ok := number[choice[t.joint[id]]]
		if !ok {
			return nil
		}
		plan[j] = o
	}
	return plan
}
