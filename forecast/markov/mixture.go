package markov

import "math"

// mixture is an interval whose flows can't be told, because feet can improve:
// it enters by the shares alone. Or all that is known of its end is that some of it
// had failed.
type mixture struct {
	step          int32
	before, after [MaxStates]float64
	failed        bool // since the beginning; after is not known
}

// addFailedSince adds an interval in which some of the feet came to the last state.
func (p *Panel) addFailedSince(v Interval) bool {
	if v.Before[p.n-1] > 0 {
		p.counts.Impossible++
		return false
	}
	m := mixture{failed: true}
	copy(m.before[:], v.Before)
	p.open(v)
	m.step = p.spans[len(p.spans)-1].step
	for i := range p.n - 1 {
		p.entry(p.survivedCode(i))
	}
	p.mixed = append(p.mixed, m)
	return true
}

func (p *Panel) addMixture(v Interval) bool {
	var m mixture
	copy(m.before[:], v.Before)
	copy(m.after[:], v.After)
	for j, after := range v.After {
		possible := false
		for i, before := range v.Before {
			possible = possible || before > 0 && p.reach[i*p.n+j]
		}
		if after > 0 && !possible {
			p.counts.Impossible++
			return false
		}
	}
	p.open(v)
	p.counts.Approximate++
	m.step = p.spans[len(p.spans)-1].step
	for i := range p.n * p.n { // it may need any entry
		if p.reach[i] {
			p.entry(i)
		}
	}
	p.mixed = append(p.mixed, m)
	return true
}

// mixture adds an interval known by its shares alone,
//
//	w Σ_j m_j log Σ_i s_i P_ij
//
// (Lawless & McLeish 1984, Can. J. Stat. 12:169) to the sums, or emits it.
func (e *evaluator) mixture(m *mixture, s *lifeScratch, emit func(int32, uint8, float64, []float64)) {
	if m.failed {
		e.failedSince(m, s, emit)
		return
	}
	n := e.p.n
	for j := range n {
		if m.after[j] == 0 {
			continue
		}
		clear(s.one)
		for i := range n {
			if m.before[i] > 0 && e.p.reach[i*n+j] {
				for g, x := range e.row(m.step, e.p.entry(i*n+j)) {
					s.one[g] += m.before[i] * math.Exp(x)
				}
			}
		}
		if emit == nil {
			for g, x := range s.one {
				s.sum[g] += e.w * m.after[j] * math.Log(x)
			}
			continue
		}
		weights := make([]float64, len(s.one))
		for i := range n {
			if m.before[i] > 0 && e.p.reach[i*n+j] {
				for g, x := range e.row(m.step, e.p.entry(i*n+j)) {
					weights[g] = s.post[g] * m.before[i] * math.Exp(x) / s.one[g]
				}
				emit(m.step, e.p.entry(i*n+j), e.w*m.after[j], weights)
			}
		}
	}
}

// failedSince adds an interval in which some piece failed, or emits it: with S_i the
// probability that a piece in state i has not failed,
//
//	log( 1 − Π_i S_i^(w s_i) )
func (e *evaluator) failedSince(m *mixture, s *lifeScratch, emit func(int32, uint8, float64, []float64)) {
	clear(s.one) // the logarithm of the product
	each := func(fn func(entry uint8, share float64)) {
		for i, share := range m.before[:e.p.n-1] {
			if share > 0 {
				fn(e.p.entry(e.p.survivedCode(i)), e.w*share)
			}
		}
	}
	each(func(entry uint8, share float64) {
		for g, x := range e.row(m.step, entry) {
			s.one[g] += share * x
		}
	})
	if emit == nil {
		for g, x := range s.one {
			s.sum[g] += math.Log(max(-math.Expm1(x), 1e-300))
		}
		return
	}
	for g, x := range s.one {
		s.one[g] = -s.post[g] * math.Exp(x) / max(-math.Expm1(x), 1e-300)
	}
	each(func(entry uint8, share float64) { emit(m.step, entry, share, s.one) })
}
