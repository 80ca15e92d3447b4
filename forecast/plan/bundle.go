package plan

import (
	"math"
	"slices"
)

// ascent is the result of a dual search: the best multipliers and their bound.
type ascent struct {
	u     []float64
	bound float64
	reach float64 // of the last step, per dollar of the bound; 0 for a first search
}

// bundle is a proximal bundle method for the dual (Kiwiel 1990, Mathematical
// Programming 46:105; split by groups of bridges as in Lemaréchal 2001, Lagrangian
// relaxation, section 5). Each evaluation gives a plane above L for each group; the
// next step d from the centre maximises
//
//	sum over groups of min over planes (err + slope·d) - limit·d - |d|²/(2 reach)
//
// with low <= centre + d <= cap, in scaled multipliers. The centre moves when L rises
// by a fair part of what the planes promise.
type bundle struct {
	centre, limit []float64
	low, cap      []float64 // 0 and the penalty; of a row with a least, the penalty below zero and 0
	value         float64   // L at the centre
	groups        []planeGroup
	reach         float64
	mean, step    []float64 // weighted slopes less limit; d
}

// planeGroup holds the planes of a group of bridges. Slopes are by the group's rows.
type planeGroup struct {
	rows   []int32
	planes []plane
	value  float64 // the group's part of L at the centre
}

// plane is an upper bound on a group's part of L: that at the centre + err + slope·d.
type plane struct {
	slope  []float64
	err    float64
	weight float64
	rise   float64 // err + slope·d
}

// Tuning of the bundle.
const (
	maxPlanes    = 50  // of a group
	masterSweeps = 200 // over the groups
	seriousShare = 0.1 // of the promised rise
)

// maximise searches from an earlier ascent for a number of evaluations. It stops
// early when the bound reaches upper or the planes promise nothing more. visit, if
// any, is called after each evaluation.
func (d *dual) maximise(start ascent, evaluations int, upper float64, visit func()) ascent {
	copy(d.u, start.u)
	d.clampContracts()
	best := ascent{u: slices.Clone(d.u)}
	best.bound = d.evaluate()
	b := d.newBundle(best.bound, start.reach)
	if visit != nil {
		visit()
	}
	for range evaluations - 1 {
		promise := b.aim()
		if d.ctx.Err() != nil || best.bound >= upper || promise <= 1e-9*math.Abs(b.value) {
			break
		}
		for r := range d.u {
			d.u[r] = (b.centre[r] + b.step[r]) / d.scale[r]
		}
		value := d.evaluate()
		if visit != nil {
			visit()
		}
		if value > best.bound {
			best.bound = value
			copy(best.u, d.u)
		}
		b.update(d, value, promise)
	}
	best.reach = b.reach / math.Max(math.Abs(b.value), 1e-12)
	return best
}

// clampContracts sets the multipliers of contracts to such as their limits allow: the
// start may come from a goal that decides them otherwise.
func (d *dual) clampContracts() {
	for r := d.m.rows.firstPart; r < d.m.rows.firstGoal; r++ {
		switch {
		case d.goal.least != nil && d.goal.least[r] > 0:
			d.u[r] = max(-d.goal.penalty[r], min(0, d.u[r]))
		case d.goal.limit[r] != NoLimit:
			d.u[r] = max(0, min(d.goal.penalty[r], d.u[r]))
		default:
			d.u[r] = 0
		}
	}
}

// newBundle starts a bundle at the last evaluation, whose value is given.
func (d *dual) newBundle(value, reach float64) *bundle {
	n := len(d.u)
	b := &bundle{value: value, reach: reach * math.Abs(value)}
	b.centre, b.low, b.cap, b.limit = make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	b.mean, b.step = make([]float64, n), make([]float64, n)
	length := 0.0
	for r, u := range d.u {
		b.centre[r] = u * d.scale[r]
		b.cap[r] = d.goal.penalty[r] * d.scale[r]
		limit := d.goal.limit[r]
		if d.goal.least != nil && d.goal.least[r] > 0 {
			limit = d.goal.least[r]
			b.low[r], b.cap[r] = -b.cap[r], 0
		}
		if limit != NoLimit {
			b.limit[r] = float64(limit) / d.scale[r]
			total := 0.0
			for _, g := range d.groups {
				total += float64(g.use[r]) / d.scale[r]
			}
			length += (total - b.limit[r]) * (total - b.limit[r])
		} else {
			b.cap[r] = 0
		}
	}
	if b.reach == 0 {
		b.reach = (math.Abs(value) + 1e-6) / math.Max(length, 1e-12)
	}
	for i := range d.groups {
		g := planeGroup{rows: d.groups[i].rows, value: d.groups[i].value}
		g.planes = append(g.planes, plane{slope: d.slope(i), weight: 1})
		b.groups = append(b.groups, g)
	}
	return b
}

// slope returns the use of a group at the last evaluation, in scaled units.
func (d *dual) slope(group int) []float64 {
	g := &d.groups[group]
	slope := make([]float64, len(g.rows))
	for i, r := range g.rows {
		slope[i] = float64(g.use[r]) / d.scale[r]
	}
	return slope
}

// aim sets the step and returns the rise that the planes promise there. It solves
// the master in its dual: weights on the planes of each group, moved from the plane
// of greatest rise to that of least (after Platt 1999, sequential minimal
// optimisation).
func (b *bundle) aim() float64 {
	for r, l := range b.limit {
		b.mean[r] = -l
	}
	for i := range b.groups {
		g := &b.groups[i]
		for k := range g.planes {
			if w := g.planes[k].weight; w > 0 {
				for x, r := range g.rows {
					b.mean[r] += w * g.planes[k].slope[x]
				}
			}
		}
	}
	for r := range b.mean {
		b.setStep(int32(r))
	}
	promise := 0.0
	for range masterSweeps {
		loose := 0.0
		promise = 0
		for i := range b.groups {
			low, high := b.groups[i].rises(b.step)
			p := b.groups[i].planes
			promise += p[low].rise
			if gap := p[high].rise - p[low].rise; gap > 0 {
				loose += gap * p[high].weight
				b.shift(&b.groups[i], high, low, gap)
			}
		}
		for r, l := range b.limit {
			promise -= l * b.step[r]
		}
		if loose <= 1e-2*promise {
			break
		}
	}
	return b.promise()
}

// promise returns the planes' rise at the step.
func (b *bundle) promise() float64 {
	sum := 0.0
	for i := range b.groups {
		low, _ := b.groups[i].rises(b.step)
		sum += b.groups[i].planes[low].rise
	}
	for r, l := range b.limit {
		sum -= l * b.step[r]
	}
	return sum
}

// rises sets the rise of each plane, and returns the plane of least rise and, among
// those with weight, that of greatest.
func (g *planeGroup) rises(step []float64) (low, high int) {
	high = -1
	for k := range g.planes {
		p := &g.planes[k]
		v := p.err
		for i, r := range g.rows {
			v += p.slope[i] * step[r]
		}
		p.rise = v
		if v < g.planes[low].rise {
			low = k
		}
		if p.weight > 0 && (high < 0 || v > g.planes[high].rise) {
			high = k
		}
	}
	return low, high
}

// shift moves weight between two planes by a step along which the master's
// objective falls: gap over its greatest curvature.
func (b *bundle) shift(g *planeGroup, from, to int, gap float64) {
	p, q := &g.planes[from], &g.planes[to]
	bend := 0.0
	for i := range p.slope {
		diff := q.slope[i] - p.slope[i]
		bend += diff * diff
	}
	move := p.weight
	if bend > 0 {
		move = min(move, gap/(b.reach*bend))
	}
	if p.weight -= move; p.weight < 1e-14 {
		p.weight = 0
	}
	q.weight += move
	for i, r := range g.rows {
		b.mean[r] += move * (q.slope[i] - p.slope[i])
		b.setStep(r)
	}
}

func (b *bundle) setStep(r int32) {
	b.step[r] = max(b.low[r]-b.centre[r], min(b.cap[r]-b.centre[r], b.reach*b.mean[r]))
}

// update takes in the last evaluation of d, at centre + step.
func (b *bundle) update(d *dual, value, promise float64) {
	rise := value - b.value
	serious := rise >= seriousShare*promise
	excess := 0.0 // how far above the centre's value the new planes pass it
	for i := range b.groups {
		g := &b.groups[i]
		p := plane{slope: d.slope(i)}
		groupRise := d.groups[i].value - g.value
		if serious {
			for k := range g.planes {
				q := &g.planes[k]
				q.err = max(0, q.rise-groupRise)
			}
			g.value = d.groups[i].value
		} else {
			p.err = groupRise
			for x, r := range g.rows {
				p.err -= p.slope[x] * b.step[r]
			}
			p.err = max(0, p.err)
			excess += p.err
		}
		g.add(p)
	}
	if !serious {
		if excess > promise {
			b.reach *= 0.7
		}
		return
	}
	for r := range b.centre {
		b.centre[r] += b.step[r]
	}
	b.value = value
	if rise > 0.25*promise {
		b.reach *= 2
	}
}

// add takes a plane in. When there are too many, the idle plane of greatest rise
// goes; if none is idle, all weight is first merged into one plane.
func (g *planeGroup) add(p plane) {
	if len(g.planes) < maxPlanes {
		g.planes = append(g.planes, p)
		return
	}
	worst := 0
	for k, q := range g.planes {
		w := g.planes[worst]
		if q.weight < w.weight || q.weight == w.weight && q.rise > w.rise {
			worst = k
		}
	}
	if g.planes[worst].weight > 0 {
		merged := plane{slope: make([]float64, len(g.rows)), weight: 1}
		for k := range g.planes {
			q := &g.planes[k]
			merged.err += q.weight * q.err
			for i := range merged.slope {
				merged.slope[i] += q.weight * q.slope[i]
			}
			q.weight = 0
		}
		g.planes[worst] = merged
		worst = (worst + 1) % len(g.planes)
	}
	g.planes[worst] = p
}
