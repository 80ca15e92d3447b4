package markov

import "math"

// start returns the parameters to start from: those given, or crude ones.
func (d *design) start(p *Panel, m Model) []float64 {
	if m.Start != nil {
		return m.Start
	}
	return d.crudeStart(p, m)
}

// crudeStart estimates each rate by the flows that pass over it and the time
// spent before it, as if states changed only when seen.
func (d *design) crudeStart(p *Panel, m Model) []float64 {
	flows, years := make([]float64, p.n*p.n), make([]float64, p.n)
	for i, s := range p.spans {
		first, last := p.flows(i)
		for f := first; f < last; f++ {
			code, share := int(p.entries[p.flowEntry[f]]), p.flowShare[f]
			switch {
			case code < p.n*p.n:
				flows[code] += share
				years[code/p.n] += share * p.steps[s.step].years
			case code < p.n*p.n+p.n:
				flows[(code-p.n*p.n)*p.n+p.n-1] += share
				years[code-p.n*p.n] += share * p.steps[s.step].years
			}
		}
	}
	theta := make([]float64, d.params)
	for move, v := range p.moves {
		count := 0.5
		for j := range p.n { // a foot that went further may have passed this way
			if j == v.To || p.reach[v.To*p.n+j] && !p.reach[j*p.n+v.To] && !directMove(p.moves, v.From, j) {
				count += flows[v.From*p.n+j]
			}
		}
		theta[d.rate[move]] = math.Log(count / (years[v.From] + 5))
	}
	for i, prior := range m.Prior {
		if prior.SD > 0 && len(p.spans) == 0 {
			theta[i] = prior.Mean
		}
	}
	if d.logK >= 0 && m.K > 0 {
		theta[d.logK] = math.Log(m.K)
	} else if d.logK >= 0 {
		theta[d.logK] = math.Log(4)
	}
	return theta
}

func directMove(moves Moves, from, to int) bool {
	for _, v := range moves {
		if v.From == from && v.To == to {
			return true
		}
	}
	return false
}
