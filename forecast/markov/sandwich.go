package markov

import "gonum.org/v1/gonum/mat"

// sandwich returns the covariance of the parameters that holds whether or not
// lives of one cluster are alike and the likelihood's weights are right,
//
//	A⁻¹ (B + Λ) A⁻¹
//
// with A minus the Hessian, B the sum over clusters of the outer products of
// their scores, and Λ the precision of the priors (Huber 1967; Liang & Zeger
// 1986, Biometrika 73:13), so that without data it is the priors' own.
func (e *evaluator) sandwich(theta []float64, m Model, inverse *mat.SymDense) []float64 {
	n := e.d.params
	scores := e.clusterScores(theta)
	b := make([]float64, n*n)
	for c := range len(scores) / n {
		addOuter(b, scores[c*n:(c+1)*n], 1)
	}
	for i, p := range m.Prior {
		if p.SD > 0 {
			b[i*n+i] += 1 / (p.SD * p.SD)
		}
	}
	var half, full mat.Dense
	half.Mul(inverse, mat.NewDense(n, n, b))
	full.Mul(&half, inverse)
	return full.RawMatrix().Data
}

// clusterScores returns the gradient of each cluster's log-likelihood, one row
// after the other. The table of derivatives is worked for a few paces at a
// time to keep it under some 256 MB.
func (e *evaluator) clusterScores(theta []float64) []float64 {
	p, n := e.p, e.d.params
	moves, entries, paces := len(p.moves), len(p.entries), len(e.grid.Z)
	e.fillTable(theta)
	byLife := make([]float64, len(p.lives)*n)
	perPace := max(len(p.steps)*entries*moves, 1)
	chunk := min(max(1<<25/perPace, 1), paces)
	table := make([]float64, perPace*chunk)
	for from := 0; from < paces; from += chunk {
		to := min(from+chunk, paces)
		e.fillDerivatives(table, theta, from, to)
		parallel(stepBlocks, func(block int) {
			var s lifeScratch
			byPace := make([]float64, 2*paces)
			byMove, ratings := make([]float64, moves), make([]float64, p.n*p.n)
			for l, last := p.siteRange(block, stepBlocks); l < last; {
				score := byLife[l*n : (l+1)*n]
				clear(byPace)
				emit := func(step int32, entry uint8, share float64, weights []float64) {
					clear(byMove)
					byZ := 0.0
					for g := from; g < to; g++ {
						at := ((int(step)*entries+int(entry))*(to-from) + g - from) * moves
						for m, x := range table[at : at+moves] {
							byMove[m] += share * weights[g] * x
							if e.d.logK >= 0 {
								byZ += share * weights[g] * x * e.dLogZ[g]
							}
						}
					}
					e.d.addGradient(score, byMove, p.x(int(step)))
					if e.d.logK >= 0 {
						score[e.d.logK] += byZ
					}
				}
				clear(ratings)
				_, lives := e.site(l, &s, byPace, ratings, emit, nil)
				if e.h != nil && from == 0 {
					e.h.addGradient(score, nil, ratings)
				}
				if e.d.logK >= 0 && from == 0 {
					e.addByLogK(score, byPace)
				}
				l += lives
			}
		})
	}
	scores := make([]float64, len(p.clusterOf)*n)
	for l, c := range p.clusters {
		addTo(scores[int(c)*n:(int(c)+1)*n], byLife[l*n:(l+1)*n])
	}
	return scores
}

// fillDerivatives writes the derivatives of each entry's logarithm by each log
// rate for some of the paces: step, entry, pace, move.
func (e *evaluator) fillDerivatives(table, theta []float64, from, to int) {
	p := e.p
	moves, entries := len(p.moves), len(p.entries)
	parallel(stepBlocks, func(block int) {
		first, last := e.stepRange(block)
		if first == last {
			return
		}
		s := newStepDerivatives(p)
		for at := first; at < last; at++ {
			e.d.rates(s.rates, theta, p.x(at))
			for g := from; g < to; g++ {
				s.at(p, p.steps[at].years, e.grid.Z[g])
				for i := range entries {
					dst := ((at*entries+i)*(to-from) + g - from) * moves
					copy(table[dst:dst+moves], s.d[i*moves:(i+1)*moves])
				}
			}
		}
	})
}
