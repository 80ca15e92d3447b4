package markov

import "math"

// pieces solves for the number of independent pieces w in
//
//	mean[ r² / (Var_z μ + E_z v/w) ] = 1
//
// where for each interval r is how much more the mean state number rose than
// was expected from the inspections before, μ(z) and v(z) are the mean and the
// variance of one piece's state at pace z, and the weights on z are those after
// the life's earlier intervals. Intervals in which nothing could happen are
// passed over.
func (e *evaluator) pieces(theta []float64) (float64, error) {
	p := e.p
	mean, variance := e.stateMoments(theta)
	e.fillTable(theta)
	r2, between, within := make([]float64, len(p.spans)), make([]float64, len(p.spans)), make([]float64, len(p.spans))
	parallel(stepBlocks, func(block int) {
		weights, logs := make([]float64, len(e.grid.Z)), make([]float64, len(e.grid.Z))
		for l, last := p.siteRange(block, stepBlocks); l < last; l++ {
			lastSpan := len(p.spans)
			if l+1 < len(p.lives) {
				lastSpan = int(p.lives[l+1].firstSpan)
			}
			e.paceNext(logs, weights, l)
			for i := int(p.lives[l].firstSpan); i < lastSpan; i++ {
				copy(weights, logs)
				normaliseLogs(weights)
				r2[i], between[i], within[i] = e.residual(i, weights, mean, variance)
				first, last := p.flows(i)
				for f := first; f < last; f++ {
					for g, x := range e.row(p.spans[i].step, p.flowEntry[f]) {
						logs[g] += e.w * p.flowShare[f] * x
					}
				}
			}
		}
	})
	excess := func(w float64) float64 {
		sum, count := 0.0, 0
		for i, r := range r2 {
			if v := between[i] + within[i]/w; v > 1e-9 {
				sum += r / v
				count++
			}
		}
		if count == 0 {
			return 0
		}
		return sum/float64(count) - 1
	}
	lo, hi := math.Log(0.2), math.Log(500)
	for range 60 {
		mid := (lo + hi) / 2
		if excess(math.Exp(mid)) < 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return math.Exp((lo + hi) / 2), nil
}

// residual returns the squared residual of an interval, the variance of its
// mean over paces, and the mean over paces of one piece's variance.
func (e *evaluator) residual(span int, weights, mean, variance []float64) (r2, between, within float64) {
	p, paces := e.p, len(weights)
	n := p.n
	var before [MaxStates]float64
	rise := 0.0
	first, last := p.flows(span)
	for f := first; f < last; f++ {
		code := int(p.entries[p.flowEntry[f]])
		if code >= n*n {
			return 0, 0, 0 // not an inspection
		}
		before[code/n] += p.flowShare[f]
		rise += p.flowShare[f] * float64(code%n-code/n)
	}
	step := int(p.spans[span].step)
	expected, square := 0.0, 0.0
	for g, w := range weights {
		mu, v := 0.0, 0.0
		for i, s := range before[:n] {
			at := (step*n+i)*paces + g
			mu += s * (mean[at] - float64(i))
			v += s * variance[at]
		}
		expected += w * mu
		square += w * mu * mu
		within += w * v
	}
	return (rise - expected) * (rise - expected), max(square-expected*expected, 0), within
}

// stateMoments returns the mean and variance of the state number after each
// step, from each state, at each pace.
func (e *evaluator) stateMoments(theta []float64) (mean, variance []float64) {
	p, paces := e.p, len(e.grid.Z)
	n := p.n
	mean, variance = make([]float64, len(p.steps)*n*paces), make([]float64, len(p.steps)*n*paces)
	parallel(stepBlocks, func(block int) {
		var x expm
		x.init(p.moves, n, p.moves.OneWay())
		prob, rates := make([]float64, n*n), make([]float64, len(p.moves))
		first, last := e.stepRange(block)
		for s := first; s < last; s++ {
			e.d.rates(rates, theta, p.x(s))
			for g, z := range e.grid.Z {
				x.exp(prob, rates, z*p.steps[s].years)
				for i := range n {
					m1, m2 := 0.0, 0.0
					for j := range n {
						m1 += prob[i*n+j] * float64(j)
						m2 += prob[i*n+j] * float64(j*j)
					}
					mean[(s*n+i)*paces+g], variance[(s*n+i)*paces+g] = m1, max(m2-m1*m1, 0)
				}
			}
		}
	})
	return mean, variance
}

// paceNext puts in the place of the logarithms of the weights that a life ended
// with those that life l begins with.
func (e *evaluator) paceNext(logs, weights []float64, l int) {
	copy(weights, logs)
	copy(logs, e.logPi)
	if e.siteShare == 0 || e.p.lives[l].renewals == 0 {
		return
	}
	normaliseLogs(weights)
	rho := e.kept(l)
	for g, pi := range e.grid.Prior {
		logs[g] = math.Log(rho*weights[g] + (1-rho)*pi)
	}
}
