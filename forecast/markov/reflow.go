package markov

import "slices"

// overtaking is the number of pieces from which on a fit doesn't stop at the
// flows of Match, which lines the feet of two inspections up by how bad they
// are. Independent pieces overtake each other: where one stays and another goes
// two states on, lining up has two that went one state. With three pieces to a
// joint that hardly shows; with ten it puts the middle rate up and the others
// down, by up to half a standard error of 600 joints. So once such a fit has
// rates, the flows of each interval are put at those that independent pieces of
// the joint's own pace would have between the same shares,
//
//	n_ij = a_i · P_ij(z̄ Δt) · b_j,  Σ_j n_ij = before_i,  Σ_i n_ij = after_j
//
// by iterative proportional fitting (Deming & Stephan 1940, Ann. Math. Stat.
// 11:427), and the fit goes on from there. It is one step of the EM algorithm
// with the flows as what is missing (Dempster, Laird & Rubin 1977, J. R. Stat.
// Soc. B 39:1), with their mode for their mean; a second step moves estimates
// by less than a tenth of a standard error. It takes twice to three times as
// long, which is why few pieces are spared it.
const overtaking = 5

// ambiguous tells whether shares leave open which feet went where.
func (p *Panel) ambiguous(w float64) bool { return w > overtaking && p.moves.OneWay() && p.n > 2 }

// reflowBlock is what one block of lives gives.
type reflowBlock struct {
	spans []span // flows counted from the block's first
	entry []uint8
	share []float64
}

// reflow returns the panel with the flows expected at the parameters.
func (e *evaluator) reflow(theta []float64) *Panel {
	p := *e.p
	p.entries = slices.Clone(p.entries)
	for i := range p.n * p.n {
		if p.reach[i] {
			p.entry(i)
		}
	}
	e.fillTable(theta)
	blocks := make([]reflowBlock, stepBlocks)
	parallel(stepBlocks, func(block int) {
		first, last := p.siteRange(block, stepBlocks)
		e.reflowLives(&blocks[block], &p, theta, first, last)
	})
	p.spans, p.flowEntry, p.flowShare = nil, nil, nil
	for _, b := range blocks {
		at := int32(len(p.flowEntry))
		for _, s := range b.spans {
			p.spans = append(p.spans, span{s.step, at + s.firstFlow})
		}
		p.flowEntry, p.flowShare = append(p.flowEntry, b.entry...), append(p.flowShare, b.share...)
	}
	return &p
}

func (e *evaluator) reflowLives(b *reflowBlock, to *Panel, theta []float64, first, last int) {
	p, n := e.p, e.p.n
	var s lifeScratch
	byPace := make([]float64, 2*len(e.grid.Z))
	var x expm
	x.init(p.moves, n, true)
	flow, rates := make([]float64, n*n), make([]float64, len(p.moves))
	each := func(l int) {
		z := e.grid.Mean(s.post)
		end := len(p.spans)
		if l+1 < len(p.lives) {
			end = int(p.lives[l+1].firstSpan)
		}
		for i := int(p.lives[l].firstSpan); i < end; i++ {
			step := p.spans[i].step
			b.spans = append(b.spans, span{step, int32(len(b.entry))})
			from, past := p.flows(i)
			var before, after [MaxStates]float64
			if from == past || !p.margins(before[:n], after[:n], from, past) || whole(before[:n]) {
				b.entry, b.share = append(b.entry, p.flowEntry[from:past]...), append(b.share, p.flowShare[from:past]...)
				continue
			}
			e.d.rates(rates, theta, p.x(int(step)))
			x.exp(flow, rates, z*p.steps[step].years)
			proportion(flow, before[:n], after[:n])
			for ij, share := range flow {
				if share > 1e-12 {
					b.entry, b.share = append(b.entry, to.entryOf[ij]-1), append(b.share, share)
				}
			}
		}
	}
	for l := first; l < last; {
		_, lives := e.site(l, &s, byPace, nil, noFlows, each)
		l += lives
	}
}

// margins adds up the flows to the shares before and after; false where the
// interval does not end with an inspection.
func (p *Panel) margins(before, after []float64, from, past int) bool {
	for f := from; f < past; f++ {
		code := int(p.entries[p.flowEntry[f]])
		if code >= p.n*p.n {
			return false
		}
		before[code/p.n] += p.flowShare[f]
		after[code%p.n] += p.flowShare[f]
	}
	return true
}

// proportion scales rows and columns of a square matrix of one-way flows in turn
// until it has the margins.
func proportion(flow, before, after []float64) {
	n := len(before)
	closeOff(flow, before, after)
	for range 2000 {
		worst := 0.0
		for i, want := range before {
			sum := 0.0
			for _, x := range flow[i*n : (i+1)*n] {
				sum += x
			}
			for j := range n {
				if sum > 0 {
					flow[i*n+j] *= want / sum
				}
			}
		}
		for j, want := range after {
			sum := 0.0
			for i := range n {
				sum += flow[i*n+j]
			}
			worst = max(worst, sum-want, want-sum)
			for i := range n {
				if sum > 0 {
					flow[i*n+j] *= want / sum
				}
			}
		}
		if worst < 1e-8 {
			return
		}
	}
}

// closeOff clears the flows that the margins rule out: where the first states
// hold as much after as before, nothing left them. Scaling brings such flows to
// 0 as well, but by steps of 1/t after t rounds, so that the margins of a joint
// of ten pieces were still off after a hundred.
func closeOff(flow, before, after []float64) {
	n := len(before)
	left := 0.0
	for s := range n - 1 {
		if left += before[s] - after[s]; left > 1e-9 {
			continue
		}
		for i := range s + 1 {
			clear(flow[i*n+s+1 : (i+1)*n])
		}
	}
}
