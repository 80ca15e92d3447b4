package markov

import (
	"math"
	"sync"
)

// tailTable holds the Beta form of a failure rule, P(B ≥ x), by
//
//	m, the mean of the share that gets to the worst state, in even steps from 0 to 1
//	r = w (1 − s_d)² v / (m (1 − m)) / (1 − s_d), in even steps from lowestRatio
//	x = (φ − s_d) / (1 − s_d), in even steps of its logarithm from φ down
//
// with the letters of Failure.Probability: B is Beta(m·c, (1 − m)·c) with
// c = w/r − 1. Where nothing is in the worst state r is at most 1 and x is φ, and
// only the first plane is used. Read by cubics, within 1e-3 of the Beta form; a
// projection asks for it some fifty times a joint, and the incomplete Beta
// function takes longer than all the rest.
type tailTable struct {
	rule  Failure
	step  float64 // of r
	plane [tailLimits]struct {
		once   sync.Once
		values []float64 // ratio by ratio within mean
	}
}

const (
	tailMeans   = 160
	tailRatios  = 20
	tailLimits  = 14
	limitsPerE  = 6   // planes for each factor e of x
	lowestRatio = 0.4 // below it, and above the highest, the form is worked out

	mostPieces   = 12 // beyond these the form is too steep for the table
	highestLimit = 0.3
)

// tails holds the table of each rule: a memory of what was worked out.
var tails sync.Map // of Failure

// tailsOf is the table of a rule, filled when first read; nil for rules that
// have no use for one.
func tailsOf(rule Failure) *tailTable {
	if !(rule.Pieces > 1) || rule.Pieces > mostPieces || rule.ShareLimit > highestLimit {
		return nil
	}
	highest := max(1, min(1.25, 1/(1-rule.ShareLimit+1e-9), 0.95*rule.Pieces))
	t, _ := tails.LoadOrStore(rule, &tailTable{rule: rule, step: (highest - lowestRatio) / tailRatios})
	return t.(*tailTable)
}

// at is the plane of the i-th x.
func (t *tailTable) at(i int) []float64 {
	p := &t.plane[i]
	p.once.Do(func() {
		p.values = make([]float64, (tailMeans+1)*(tailRatios+1))
		limit := t.rule.ShareLimit * math.Exp(-float64(i)/limitsPerE)
		for k := range p.values {
			m := float64(k/(tailRatios+1)) / tailMeans
			c := t.rule.Pieces/(lowestRatio+t.step*float64(k%(tailRatios+1))) - 1
			p.values[k] = betaTail(m*c, (1-m)*c, limit)
		}
	})
	return p.values
}

// probability is that of the rule.
func (t *tailTable) probability(shares, p []float64) float64 {
	n := len(shares)
	worst := shares[n-1]
	if worst >= t.rule.ShareLimit {
		return 1
	}
	rest := 1 - worst
	m, v := 0.0, 0.0
	for i, s := range shares[:n-1] {
		q := p[i*n+n-1]
		m += s * q
		v += s * q * (1 - q)
	}
	m /= rest
	r := v / (m * (1 - m) * rest * rest)
	y := (r - lowestRatio) / t.step
	if !(m > 0 && m < 1-1e-9 && y >= 0 && y <= tailRatios+1e-6 && t.rule.Pieces*rest > 1) {
		return t.rule.probability(shares, p)
	}
	if worst == 0 {
		return min(max(t.read(0, m, y), 0), 1)
	}
	z := limitsPerE * math.Log(t.rule.ShareLimit*rest/(t.rule.ShareLimit-worst))
	if z > tailLimits-2 {
		return t.rule.probability(shares, p)
	}
	k := max(int(z), 1)
	a, b, c, d := lagrange(z - float64(k))
	return min(max(a*t.read(k-1, m, y)+b*t.read(k, m, y)+c*t.read(k+1, m, y)+d*t.read(k+2, m, y), 0), 1)
}

// read is a plane at a mean and a ratio, the ratio in steps.
func (t *tailTable) read(plane int, mean, y float64) float64 {
	values, x := t.at(plane), mean*tailMeans
	i, j := min(max(int(x), 1), tailMeans-2), min(max(int(y), 1), tailRatios-2)
	a0, a1, a2, a3 := lagrange(x - float64(i))
	b0, b1, b2, b3 := lagrange(y - float64(j))
	sum := 0.0
	for k, a := range [4]float64{a0, a1, a2, a3} {
		row := values[(i-1+k)*(tailRatios+1)+j-1:][:4]
		sum += a * (b0*row[0] + b1*row[1] + b2*row[2] + b3*row[3])
	}
	return sum
}
