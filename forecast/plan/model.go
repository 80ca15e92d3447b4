package plan

import (
	"cmp"
	"fmt"
	"math"
	"math/bits"
	"slices"
)

// model is an instance made ready to solve: options that the rules forbid or that
// another option beats in every way are gone, the options of a joint are grouped in
// classes by the years in which they visit the bridge, and bridges, joints and
// options stand in an order set by their content, so that the order of the input
// cannot change the plan.
type model struct {
	in   *Instance
	rows *rows

	bridgeID   []int32 // number in the instance
	firstJoint []int32 // by bridge
	jointID    []int32
	bridgeOf   []int32 // by joint

	firstClass  []int32 // by joint
	classYears  []uint32
	firstOption []int32 // by class

	optionID    []int32
	classOf     []int32 // by option
	cost        []float64
	firstCharge []int32
	charges     []slotCharge
}

// slotCharge is the money of an option on one account in one year.
type slotCharge struct {
	cents int64
	slot  int32 // -1: outside all budgets
}

func newModel(in *Instance) (*model, error) {
	allowed, err := in.allowed()
	if err != nil {
		return nil, err
	}
	m := &model{in: in, rows: newRows(in), firstJoint: []int32{0}, firstClass: []int32{0}, firstOption: []int32{0}, firstCharge: []int32{0}}
	bridges, joints := in.order(allowed)
	b := &modelBuilder{m: m}
	for _, bridge := range bridges {
		for _, joint := range joints[in.FirstJoint[bridge]:in.FirstJoint[bridge+1]] {
			b.addJoint(joint, allowed)
			m.bridgeOf = append(m.bridgeOf, int32(len(m.bridgeID)))
		}
		m.bridgeID = append(m.bridgeID, bridge)
		if len(m.bridgeID) == len(bridges)/16 {
			m.grow(16)
		}
		m.firstJoint = append(m.firstJoint, int32(len(m.jointID)))
	}
	m.findContractBridges()
	return m, nil
}

// grow makes room for about so many times the content; see Instance.Grow.
func (m *model) grow(times int) {
	m.classYears, m.firstOption, m.optionID = grow(m.classYears, times), grow(m.firstOption, times), grow(m.optionID, times)
	m.classOf, m.cost = grow(m.classOf, times), grow(m.cost, times)
	m.firstCharge, m.charges = grow(m.firstCharge, times), grow(m.charges, times)
}

// allowed reports for each option whether the rules leave it open.
func (in *Instance) allowed() ([]bool, error) {
	allowed := make([]bool, in.options())
	for o := range allowed {
		allowed[o] = true
	}
	for _, r := range in.Rules {
		left := 0
		for o := in.FirstOption[r.Joint]; o < in.FirstOption[r.Joint+1]; o++ {
			allowed[o] = allowed[o] && in.allows(r, o)
			if allowed[o] {
				left++
			}
		}
		if left == 0 {
			return nil, fmt.Errorf("%w: the rules leave joint %d no option (last rule: %+v)", ErrInvalid, r.Joint, r)
		}
	}
	return allowed, nil
}

// order returns bridges, and joints within each bridge, sorted by a hash of their
// content. Bridges that are alike in everything keep their order; swapping them
// changes nothing.
func (in *Instance) order(allowed []bool) (bridges, joints []int32) {
	hash := make([]uint64, in.joints())
	joints = make([]int32, in.joints())
	for j := range hash {
		joints[j] = int32(j)
		for o := in.FirstOption[j]; o < in.FirstOption[j+1]; o++ {
			if allowed[o] {
				hash[j] += in.hashOption(o) // a sum: the order of options is irrelevant
			}
		}
	}
	bridges = make([]int32, in.bridges())
	bridgeHash := make([]uint64, in.bridges())
	for b := range bridges {
		bridges[b] = int32(b)
		sum := mix(uint64(in.VisitAccount[b]), uint64(in.Route[b]))
		for i := b * in.Years; i < (b+1)*in.Years; i++ {
			sum = mix(sum, mix(math.Float64bits(in.VisitCost[i]), uint64(in.VisitCents[i])))
		}
		run := joints[in.FirstJoint[b]:in.FirstJoint[b+1]]
		slices.SortStableFunc(run, func(x, y int32) int { return cmp.Compare(hash[x], hash[y]) })
		for _, j := range run {
			sum = mix(sum, hash[j])
		}
		bridgeHash[b] = sum
	}
	slices.SortStableFunc(bridges, func(x, y int32) int { return cmp.Compare(bridgeHash[x], bridgeHash[y]) })
	return bridges, joints
}

func (in *Instance) hashOption(o int32) uint64 {
	h := math.Float64bits(in.objective(o))
	var sum uint64
	for _, c := range in.charges(o) {
		sum += mix(uint64(c.Cents), uint64(c.Account)<<32|uint64(c.Lead)<<8|uint64(c.Year))
	}
	h = mix(h, sum)
	for _, t := range in.Targets {
		h = mix(h, uint64(t.Use[o]))
	}
	return h
}

// mix joins two words into one (splitmix64 finaliser; Steele, Lea & Flood 2014,
// Fast splittable pseudorandom number generators, section 3).
func mix(a, b uint64) uint64 {
	z := a*0x9e3779b97f4a7c15 + b + 0x9e3779b97f4a7c15
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// modelBuilder holds the scratch space of one joint's options.
type modelBuilder struct {
	m       *model
	options []candidate
	charges []slotCharge
}

// candidate is an option while its joint is sorted and thinned.
type candidate struct {
	id          int32
	years       uint32
	cost        float64
	cents       int64
	first, last int32 // charges in the builder's scratch
}

func (b *modelBuilder) addJoint(joint int32, allowed []bool) {
	in, m := b.m.in, b.m
	b.options, b.charges = b.options[:0], b.charges[:0]
	for o := in.FirstOption[joint]; o < in.FirstOption[joint+1]; o++ {
		if allowed[o] {
			b.options = append(b.options, b.candidate(o))
		}
	}
	slices.SortFunc(b.options, b.compare)
	kept := 0 // start of the class at hand
	idle := b.options[0]
	for i, c := range b.options {
		if n := len(m.classYears); n == int(m.firstClass[len(m.firstClass)-1]) || m.classYears[n-1] != c.years {
			if idle.years == 0 && i > 0 && b.beats(idle, c) {
				continue
			}
			m.classYears = append(m.classYears, c.years)
			kept = len(m.optionID)
			m.firstOption = append(m.firstOption, int32(kept))
		} else if idle.years == 0 && b.beats(idle, c) || b.beaten(kept, c) {
			continue
		}
		b.keep(c)
	}
	m.firstClass = append(m.firstClass, int32(len(m.classYears)))
	m.jointID = append(m.jointID, joint)
}

// candidate reads option o, its charges merged by slot.
func (b *modelBuilder) candidate(o int32) candidate {
	in := b.m.in
	c := candidate{id: o, cost: in.objective(o), years: in.visitYears(o), first: int32(len(b.charges))}
	for _, charge := range in.charges(o) {
		c.cents += charge.Cents
		slot := b.m.rows.slot(charge.Account, int32(charge.Year-charge.Lead))
		run := b.charges[c.first:]
		if i := slices.IndexFunc(run, func(s slotCharge) bool { return s.slot == slot }); i >= 0 {
			run[i].cents += charge.Cents
		} else {
			b.charges = append(b.charges, slotCharge{charge.Cents, slot})
		}
	}
	c.last = int32(len(b.charges))
	slices.SortFunc(b.charges[c.first:], func(x, y slotCharge) int { return cmp.Compare(x.slot, y.slot) })
	return c
}

// compare orders options by content: fewest visits first, then years, cost, money.
func (b *modelBuilder) compare(x, y candidate) int {
	if c := cmp.Or(cmp.Compare(bits.OnesCount32(x.years), bits.OnesCount32(y.years)), cmp.Compare(x.years, y.years),
		cmp.Compare(x.cost, y.cost), cmp.Compare(x.cents, y.cents)); c != 0 {
		return c
	}
	for _, t := range b.m.in.Targets {
		if c := cmp.Compare(t.Use[x.id], t.Use[y.id]); c != 0 {
			return c
		}
	}
	return slices.CompareFunc(b.charges[x.first:x.last], b.charges[y.first:y.last], func(p, q slotCharge) int {
		return cmp.Or(cmp.Compare(p.slot, q.slot), cmp.Compare(p.cents, q.cents))
	})
}

// beats reports whether x is no worse than y in cost, in every slot's money and in
// every target. Its visits must be among those of y.
func (b *modelBuilder) beats(x, y candidate) bool {
	if x.cost > y.cost {
		return false
	}
	for _, t := range b.m.in.Targets {
		if t.Use[x.id] > t.Use[y.id] {
			return false
		}
	}
	return b.m.rows.noMore(b.charges[x.first:x.last], b.charges[y.first:y.last])
}

// beaten reports whether an option kept since first beats c, of the same years.
func (b *modelBuilder) beaten(first int, c candidate) bool {
	m := b.m
next:
	for o := first; o < len(m.optionID); o++ {
		for _, t := range m.in.Targets {
			if t.Use[m.optionID[o]] > t.Use[c.id] {
				continue next
			}
		}
		if m.rows.noMore(m.money(int32(o)), b.charges[c.first:c.last]) {
			return true // sorted by cost, so o costs no more
		}
	}
	return false
}

// noMore reports whether x draws no more than y in any slot, and as much where it
// counts in a contract, which may need it.
func (r *rows) noMore(x, y []slotCharge) bool {
	for _, p := range x {
		if p.slot < 0 || p.cents == 0 {
			continue
		}
		i := slices.IndexFunc(y, func(q slotCharge) bool { return q.slot == p.slot })
		if i < 0 || y[i].cents < p.cents {
			return false
		}
	}
	if r.partOf == nil {
		return true
	}
	return !slices.ContainsFunc(y, func(q slotCharge) bool {
		return q.cents > 0 && r.inContract(q.slot) && !slices.Contains(x, q)
	})
}

func (b *modelBuilder) keep(c candidate) {
	m := b.m
	m.optionID = append(m.optionID, c.id)
	m.classOf = append(m.classOf, int32(len(m.classYears)-1))
	m.cost = append(m.cost, c.cost)
	m.charges = append(m.charges, b.charges[c.first:c.last]...)
	m.firstCharge = append(m.firstCharge, int32(len(m.charges)))
	m.firstOption[len(m.firstOption)-1] = int32(len(m.optionID))
}

// money returns the charges of option o.
func (m *model) money(o int32) []slotCharge {
	return m.charges[m.firstCharge[o]:m.firstCharge[o+1]]
}

// years returns the visits of option o as bits.
func (m *model) years(o int32) uint32 { return m.classYears[m.classOf[o]] }

// options returns the range of options of joint j.
func (m *model) options(j int32) (first, last int32) {
	return m.firstOption[m.firstClass[j]], m.firstOption[m.firstClass[j+1]]
}

// visit returns the cost, money and slot of a visit to bridge b in a year.
func (m *model) visit(b int32, year int) (cost float64, cents int64, slot int32) {
	id := m.bridgeID[b]
	i := int(id)*m.in.Years + year
	return m.in.VisitCost[i], m.in.VisitCents[i], m.rows.slot(m.in.VisitAccount[id], int32(year))
}

// closure returns the closure row of a visit to bridge b in a year, or -1.
func (m *model) closure(b int32, year int) int32 {
	return m.rows.closure(m.in.Route[m.bridgeID[b]], year)
}

// use returns what option o adds to target k.
func (m *model) use(k int, o int32) int64 { return int64(m.in.Targets[k].Use[m.optionID[o]]) }
