package plan

import (
	"math"
	"math/rand/v2"
	"slices"
)

// ruin improves a plan by ruin and recreate (Schrimpf, Schneider, Stamm-Wilbrandt &
// Dueck 2000, Journal of Computational Physics 159:139): the work on a few bridges
// that share money is taken out, and put back bridge by bridge as well as the freed
// money allows. Somewhat worse plans are accepted, less and less.
type ruin struct {
	x      *exchange
	rng    *rand.Rand
	idle   []int32
	group  []int32   // by bridge, of bridges that pay from one account
	groups [][]int32 // bridges
	old    []int32   // options of the bridges taken out
	energy float64
}

func newRuin(x *exchange, rng *rand.Rand) *ruin {
	m := x.m
	r := &ruin{x: x, rng: rng, idle: m.idle(), group: make([]int32, len(m.bridgeID))}
	r.groups = make([][]int32, len(m.in.Accounts)+1)
	for b, id := range m.bridgeID {
		if m.firstJoint[b] < m.firstJoint[b+1] {
			g := m.in.VisitAccount[id] + 1
			r.group[b] = g
			r.groups[g] = append(r.groups[g], int32(b))
		}
	}
	return r
}

// run makes rounds of ruin and recreate, accepting rises of about hot at first and
// a thousandth of it in the end. It leaves the best plan that it met.
func (r *ruin) run(rounds int, hot float64) {
	l := r.x.l
	best := slices.Clone(l.choice)
	r.energy = r.x.measure()
	least := r.energy
	cool := math.Pow(1e-3, 1/float64(rounds))
	for heat := hot; rounds > 0 && r.x.ctx.Err() == nil; rounds, heat = rounds-1, heat*cool {
		bridges := r.pick()
		r.takeOut(bridges)
		r.putBack(bridges)
		energy := r.x.measure()
		if energy-r.energy > -heat*math.Log(1-r.rng.Float64()) {
			r.restore(bridges)
			continue
		}
		r.energy = energy
		if energy < least-1e-9 {
			least = energy
			copy(best, l.choice)
		}
	}
	l.load(best)
}

// pick draws a bridge and up to two others, mostly of its account.
func (r *ruin) pick() []int32 {
	m := r.x.m
	b := m.bridgeOf[r.rng.IntN(len(m.jointID))]
	bridges := []int32{b}
	group := r.groups[r.group[b]]
	for range r.rng.IntN(3) {
		other := m.bridgeOf[r.rng.IntN(len(m.jointID))]
		if r.rng.IntN(5) > 0 {
			other = group[r.rng.IntN(len(group))]
		}
		if !slices.Contains(bridges, other) {
			bridges = append(bridges, other)
		}
	}
	return bridges
}

func (r *ruin) takeOut(bridges []int32) {
	l, m := r.x.l, r.x.m
	r.old = r.old[:0]
	for _, b := range bridges {
		first, last := m.firstJoint[b], m.firstJoint[b+1]
		r.old = append(r.old, l.choice[first:last]...)
		l.tryBridge(b, r.idle[first:last])
		l.acceptBridge(b, r.idle[first:last])
	}
}

func (r *ruin) restore(bridges []int32) {
	l, m := r.x.l, r.x.m
	old := r.old
	for _, b := range bridges {
		n := m.firstJoint[b+1] - m.firstJoint[b]
		l.tryBridge(b, old[:n])
		l.acceptBridge(b, old[:n])
		old = old[n:]
	}
}

// putBack gives the bridges, in random order, the best options that fit: first from
// the pool, with money at its price or cheaper, then joint by joint.
func (r *ruin) putBack(bridges []int32) {
	bridges = slices.Clone(bridges)
	r.rng.Shuffle(len(bridges), func(i, j int) {
		bridges[i], bridges[j] = bridges[j], bridges[i]
	})
	price := 2 * r.rng.Float64()
	for _, b := range bridges {
		r.bestOfPool(b, price)
		r.bestByJoint(b, price)
	}
	for _, b := range bridges {
		r.bestByJoint(b, 0)
	}
}

// score rates the change under consideration; false means that it does not fit.
func (r *ruin) score(price float64) (float64, bool) {
	l := r.x.l
	if !l.fits() {
		return 0, false
	}
	v := l.goal.costScale * l.change
	if price > 0 {
		_, money := r.x.priced()
		v += price * money
	}
	if l.exceeded > 0 {
		v += 100 * l.excess(r.x.weight)
	}
	return v, true
}

func (r *ruin) bestOfPool(b int32, price float64) {
	l := r.x.l
	best, at := -1e-9, -1
	for i, options := range r.x.pool.options[b] {
		if r.rng.IntN(10) == 0 {
			continue // now and then the second best
		}
		l.tryBridge(b, options)
		if v, ok := r.score(price); ok && v < best {
			best, at = v, i
		}
	}
	if at >= 0 {
		l.tryBridge(b, r.x.pool.options[b][at])
		l.acceptBridge(b, r.x.pool.options[b][at])
	}
}

func (r *ruin) bestByJoint(b int32, price float64) {
	l, m := r.x.l, r.x.m
	for j := m.firstJoint[b]; j < m.firstJoint[b+1]; j++ {
		best, option := -1e-9, int32(-1)
		for o, last := m.options(j); o < last; o++ {
			if o == l.choice[j] {
				continue
			}
			l.try(j, o)
			if v, ok := r.score(price); ok && v < best {
				best, option = v, o
			}
		}
		if option >= 0 {
			l.try(j, option)
			l.accept(j, option)
		}
	}
}
