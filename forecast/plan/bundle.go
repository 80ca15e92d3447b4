package plan

import "math"

// ascent is the result of a dual search: the best multipliers and their bound.
type ascent struct {
	u     []float64
	bound float64
}

// bundle is a proximal bundle method for the dual (Lemaréchal, Nemirovskii &
// Nesterov 1995, Mathematical Programming 69:111; Kiwiel 1990, Mathematical
// Programming 46:105). Each evaluation gives a plane above L; the next point d from
// the centre maximises
//
//	min over planes of (error + slope·d) - |d|²/(2 reach),  0 <= centre + d <= cap
//
// in scaled multipliers. The centre moves when L rises by a fair part of what the
// planes promised.
type bundle struct {
	centre, cap []float64
	value       float64 // L at the centre
	planes      []plane
	reach       float64
	step, mean  []float64 // d, and the weighted mean of the slopes
}

// plane is an upper bound on L: value at the centre + error + slope·d.
type plane struct {
	slope  []float64
	err    float64
	weight float64
	rise   float64 // err + slope·d at the current step
}

// Tuning of the bundle.
const (
	maxPlanes    = 60
	masterSteps  = 400
	seriousShare = 0.1 // of the promised rise
)

// maximise searches from the multipliers start for a number of evaluations. It stops
// early when the bound reaches upper or the planes promise nothing more. visit, if
// any, is called after each evaluation with its value.
func (d *dual) maximise(start []float64, evaluations int, upper float64, visit func(value float64)) ascent {
	n := len(d.goal.limit)
	b := &bundle{centre: make([]float64, n), cap: make([]float64, n), step: make([]float64, n), mean: make([]float64, n)}
	for r, u := range start {
		b.cap[r] = d.goal.penalty[r] * d.scale[r]
		b.centre[r] = u * d.scale[r]
	}
	best := ascent{u: append([]float64(nil), start...)}
	copy(d.u, start)
	best.bound = d.evaluate()
	b.value = best.bound
	b.add(plane{slope: d.slope()})
	if visit != nil {
		visit(best.bound)
	}
	for range evaluations - 1 {
		promise := b.aim(math.Min(upper, math.MaxFloat64))
		if best.bound >= upper || promise <= 1e-9*math.Abs(b.value) {
			break
		}
		for r := range d.u {
			d.u[r] = (b.centre[r] + b.step[r]) / d.scale[r]
		}
		value := d.evaluate()
		if visit != nil {
			visit(value)
		}
		if value > best.bound {
			best.bound = value
			copy(best.u, d.u)
		}
		b.update(value, promise, d.slope())
	}
	return best
}

// slope returns the gradient of L at the last point, in scaled multipliers.
func (d *dual) slope() []float64 {
	slope := make([]float64, len(d.use))
	for r, limit := range d.goal.limit {
		if limit != NoLimit {
			slope[r] = float64(d.use[r]-limit) / d.scale[r]
		}
	}
	return slope
}

// add takes a plane in; when there are too many, the one of least weight goes, after
// all weights have been merged into a plane of their own if none is idle.
func (b *bundle) add(p plane) {
	if len(b.planes) == 0 {
		p.weight = 1
		length := dot(p.slope, p.slope)
		b.reach = (math.Abs(b.value) + 1e-6) / math.Max(length, 1e-12)
	}
	if len(b.planes) >= maxPlanes {
		worst := 0
		for i, q := range b.planes {
			w := b.planes[worst]
			if q.weight < w.weight || q.weight == w.weight && q.rise > w.rise {
				worst = i
			}
		}
		if b.planes[worst].weight > 0 {
			merged := plane{slope: append([]float64(nil), b.mean...), weight: 1}
			for i := range b.planes {
				merged.err += b.planes[i].weight * b.planes[i].err
				b.planes[i].weight = 0
			}
			b.planes[worst] = merged
			worst = (worst + 1) % len(b.planes)
		}
		b.planes[worst] = p
		return
	}
	b.planes = append(b.planes, p)
}

// aim sets the step and returns the rise that the planes promise there.
func (b *bundle) aim(upper float64) float64 {
	clear(b.mean)
	for _, p := range b.planes {
		if p.weight > 0 {
			addScaled(b.mean, p.weight, p.slope)
		}
	}
	for range masterSteps {
		b.setStep()
		low, high := 0, -1 // least rise; greatest among those with weight
		for i := range b.planes {
			p := &b.planes[i]
			p.rise = p.err + dot(p.slope, b.step)
			if p.rise < b.planes[low].rise {
				low = i
			}
			if p.weight > 0 && (high < 0 || p.rise > b.planes[high].rise) {
				high = i
			}
		}
		gap := b.planes[high].rise - b.planes[low].rise
		if gap <= 1e-3*math.Abs(b.planes[low].rise)+1e-12 {
			break
		}
		b.shift(high, low, gap)
	}
	b.setStep()
	least := math.Inf(1)
	for i := range b.planes {
		least = min(least, b.planes[i].err+dot(b.planes[i].slope, b.step))
	}
	return least
}

// shift moves weight from one plane to another by a step along which the master's
// objective falls: gap over its greatest curvature.
func (b *bundle) shift(from, to int, gap float64) {
	p, q := &b.planes[from], &b.planes[to]
	bend := 0.0
	for r := range p.slope {
		if b.mean[r] == 0 && p.slope[r] == q.slope[r] {
			continue
		}
		diff := q.slope[r] - p.slope[r]
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
	for r := range b.mean {
		b.mean[r] += move * (q.slope[r] - p.slope[r])
	}
}

func (b *bundle) setStep() {
	for r, m := range b.mean {
		b.step[r] = max(-b.centre[r], min(b.cap[r]-b.centre[r], b.reach*m))
	}
}

// update takes in the value and slope at centre + step.
func (b *bundle) update(value, promise float64, slope []float64) {
	rise := value - b.value
	p := plane{slope: slope, err: rise - dot(slope, b.step)}
	if rise >= seriousShare*promise {
		for i := range b.planes { // errors are measured at the centre
			q := &b.planes[i]
			q.err = max(0, q.err+dot(q.slope, b.step)-rise)
		}
		p.err = 0
		for r := range b.centre {
			b.centre[r] += b.step[r]
		}
		b.value = value
		if rise > 0.25*promise {
			b.reach *= 2
		}
	} else if p.err > promise {
		b.reach *= 0.7
	}
	b.add(p)
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

func addScaled(to []float64, by float64, v []float64) {
	for i := range to {
		to[i] += by * v[i]
	}
}
