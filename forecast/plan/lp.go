package plan

import (
	"bufio"
	"io"
	"math/bits"
	"slices"
	"strconv"
)

// WriteLP writes the instance as an integer program in CPLEX LP format, for any
// general solver:
//
//	x_J_O  1 when joint J takes option O (numbers of the instance)
//	z_B_Y  1 when bridge B is visited in year Y
//	y_C_Y  1 when contract C is let in year Y
//
// Options that the rules forbid are left out, and so are those that another of the
// same joint and years beats in cost, money and targets alike. Money rows are in
// cents. An instance that contradicts itself gives ErrInvalid; other errors are the
// writer's.
func WriteLP(w io.Writer, in *Instance) error {
	if err := in.Validate(); err != nil {
		return err
	}
	m, err := newModel(in)
	if err != nil {
		return err
	}
	p := &lpWriter{m: m, w: bufio.NewWriterSize(w, 1<<16)}
	p.objective()
	p.text("Subject To\n")
	p.oneOption()
	p.visits()
	p.limits()
	p.contracts()
	p.variables()
	return p.w.Flush()
}

// lpWriter writes terms, a few to a line. A write error stays in w until Flush.
type lpWriter struct {
	m     *model
	w     *bufio.Writer
	terms int // on this line
}

func (p *lpWriter) text(parts ...string) {
	for _, s := range parts {
		p.w.WriteString(s)
	}
}

// row starts a row, or the objective.
func (p *lpWriter) row(name ...string) {
	p.terms = 0
	p.text(" ")
	p.text(name...)
	p.text(":")
}

// term writes a coefficient and a variable.
func (p *lpWriter) term(coefficient, variable string) {
	if p.terms++; p.terms%8 == 0 {
		p.text("\n")
	}
	sign := " + "
	if coefficient[0] == '-' {
		sign, coefficient = " - ", coefficient[1:]
	}
	p.text(sign, coefficient, " ", variable)
}

func (p *lpWriter) x(j, o int32) string {
	return "x_" + strconv.Itoa(int(p.m.jointID[j])) + "_" + strconv.Itoa(int(p.m.optionID[o]))
}

func (p *lpWriter) z(b int32, year int) string {
	return "z_" + strconv.Itoa(int(p.m.bridgeID[b])) + "_" + strconv.Itoa(year)
}

func (p *lpWriter) y(c *contractYear) string {
	return "y_" + strconv.Itoa(c.contract) + "_" + strconv.Itoa(c.year)
}

// eachContract calls f for the contracts and years in which some option could be done.
func (p *lpWriter) eachContract(f func(c *contractYear)) {
	m := p.m
	some := make([]bool, len(m.rows.limit))
	for _, c := range m.charges {
		if c.cents > 0 && m.rows.inContract(c.slot) {
			rows := m.rows.of(c.slot)
			some[rows[len(rows)-1]] = true
		}
	}
	for k := range m.rows.contracts {
		if c := &m.rows.contracts[k]; slices.ContainsFunc(c.rows, func(r int32) bool { return some[r] }) {
			f(c)
		}
	}
}

// eachVisit calls f for the bridge years in which some option makes a visit.
func (p *lpWriter) eachVisit(f func(b int32, year int)) {
	m := p.m
	for b := range m.bridgeID {
		years := uint32(0)
		for c := m.firstClass[m.firstJoint[b]]; c < m.firstClass[m.firstJoint[b+1]]; c++ {
			years |= m.classYears[c]
		}
		for ; years != 0; years &= years - 1 {
			f(int32(b), bits.TrailingZeros32(years))
		}
	}
}

// eachOption calls f for every option of every joint.
func (p *lpWriter) eachOption(f func(j, o int32)) {
	for j := range p.m.jointID {
		for o, last := p.m.options(int32(j)); o < last; o++ {
			f(int32(j), o)
		}
	}
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

func (p *lpWriter) objective() {
	p.text("\\ expected discounted cost, dollars\nMinimize\n")
	p.row("cost")
	p.eachOption(func(j, o int32) { p.term(number(p.m.cost[o]), p.x(j, o)) })
	p.eachVisit(func(b int32, year int) {
		cost, _, _ := p.m.visit(b, year)
		p.term(number(cost), p.z(b, year))
	})
	p.text("\n")
}

func (p *lpWriter) oneOption() {
	for j := range p.m.jointID {
		p.row("joint_", strconv.Itoa(int(p.m.jointID[j])))
		for o, last := p.m.options(int32(j)); o < last; o++ {
			p.term("1", p.x(int32(j), o))
		}
		p.text(" = 1\n")
	}
}

// visits ties each joint's options of a year to the visit of the bridge.
func (p *lpWriter) visits() {
	m := p.m
	p.eachVisit(func(b int32, year int) {
		for j := m.firstJoint[b]; j < m.firstJoint[b+1]; j++ {
			any := false
			for o, last := m.options(j); o < last; o++ {
				if m.years(o)&(1<<year) == 0 {
					continue
				}
				if !any {
					p.row("visit_", strconv.Itoa(int(m.jointID[j])), "_", strconv.Itoa(year))
				}
				any = true
				p.term("1", p.x(j, o))
			}
			if any {
				p.term("-1", p.z(b, year))
				p.text(" <= 0\n")
			}
		}
	})
}

// limits writes budgets, closures and targets that something counts against.
func (p *lpWriter) limits() {
	m := p.m
	type term struct {
		use      int64
		variable string
	}
	terms := make([][]term, len(m.rows.limit))
	add := func(row int32, use int64, variable string) {
		if use == 0 {
			return
		}
		if t := terms[row]; len(t) > 0 && t[len(t)-1].variable == variable {
			t[len(t)-1].use += use
			return
		}
		terms[row] = append(terms[row], term{use, variable})
	}
	p.eachOption(func(j, o int32) {
		for _, c := range m.money(o) {
			for _, row := range m.rows.of(c.slot) {
				add(row, c.cents, p.x(j, o))
			}
		}
		for k := range m.in.Targets {
			add(int32(m.rows.firstGoal+k), m.use(k, o), p.x(j, o))
		}
	})
	p.eachVisit(func(b int32, year int) {
		_, cents, slot := m.visit(b, year)
		for _, row := range m.rows.of(slot) {
			add(row, cents, p.z(b, year))
		}
		if row := m.closure(b, year); row >= 0 {
			add(row, 1, p.z(b, year))
		}
	})
	for row, t := range terms {
		if len(t) == 0 || m.rows.limit[row] == NoLimit {
			continue
		}
		p.row("limit_", strconv.Itoa(row))
		for _, v := range t {
			p.term(strconv.FormatInt(v.use, 10), v.variable)
		}
		p.text(" <= ", strconv.FormatInt(m.rows.limit[row], 10), "\n")
	}
}

// contracts writes for each contract and year that a joint which takes part in it lets
// it, and that it then comes to the least of each part.
func (p *lpWriter) contracts() {
	m := p.m
	p.eachContract(func(c *contractYear) {
		name := strconv.Itoa(c.contract) + "_" + strconv.Itoa(c.year)
		for _, b := range c.bridges {
			for j := m.firstJoint[b]; j < m.firstJoint[b+1]; j++ {
				p.lets(c, j, name)
			}
		}
		for i, r := range c.rows {
			p.row("least_", name, "_", strconv.Itoa(i))
			for _, b := range c.bridges {
				first, last := m.firstClass[m.firstJoint[b]], m.firstClass[m.firstJoint[b+1]]
				for o := m.firstOption[first]; o < m.firstOption[last]; o++ {
					if use := m.inRow(o, r); use > 0 {
						p.term(strconv.FormatInt(use, 10), p.x(m.jointOf(b, o), o))
					}
				}
			}
			p.term(strconv.FormatInt(-c.least[i], 10), p.y(c))
			p.text(" >= 0\n")
		}
	})
}

// lets writes that joint j lets a contract by any of its options in it.
func (p *lpWriter) lets(c *contractYear, j int32, name string) {
	m := p.m
	any := false
	for o, last := m.options(j); o < last; o++ {
		if !slices.ContainsFunc(c.rows, func(r int32) bool { return m.inRow(o, r) > 0 }) {
			continue
		}
		if !any {
			p.row("let_", strconv.Itoa(int(m.jointID[j])), "_", name)
		}
		any = true
		p.term("1", p.x(j, o))
	}
	if any {
		p.term("-1", p.y(c))
		p.text(" <= 0\n")
	}
}

// inRow is what option o adds to a row of money.
func (m *model) inRow(o, row int32) (sum int64) {
	for _, c := range m.money(o) {
		if slices.Contains(m.rows.of(c.slot), row) {
			sum += c.cents
		}
	}
	return sum
}

// jointOf is the joint of bridge b to which an option belongs.
func (m *model) jointOf(b, option int32) int32 {
	j := m.firstJoint[b]
	for _, last := m.options(j); last <= option; _, last = m.options(j) {
		j++
	}
	return j
}

func (p *lpWriter) variables() {
	p.text("Bounds\n")
	p.eachVisit(func(b int32, year int) { p.text(" ", p.z(b, year), " <= 1\n") })
	p.text("Binary\n")
	p.eachOption(func(j, o int32) { p.text(" ", p.x(j, o), "\n") })
	p.eachContract(func(c *contractYear) { p.text(" ", p.y(c), "\n") })
	p.text("End\n")
}
