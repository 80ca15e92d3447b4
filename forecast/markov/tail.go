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
	tailWide    = tailRatios + 1
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
		p.values = make([]float64, (tailMeans+1)*tailWide)
		limit := t.rule.ShareLimit * math.Exp(-float64(i)/limitsPerE)
		for k := range p.values {
			m := float64(k/tailWide) / tailMeans
			c := t.rule.Pieces/(lowestRatio+t.step*float64(k%tailWide)) - 1
			p.values[k] = betaTail(m*c, (1-m)*c, limit)
		}
	})
	return p.values
}

// failing is the probability that a joint of some shares has failed, by a rule,
// with what every chain that the shares pass through has in common.
type failing struct {
	rule   Failure
	tail   *tailTable // nil: worked out each time
	shares []float64
	second []float64  // moments of shares that are not certain; nil: they are
	worst  float64    // s_d
	rest   float64    // 1 − s_d
	plane  int        // the second of the planes to read; 0: the first plane alone
	weight [4]float64 // of each plane
}

// failing is that of a joint of these shares.
func (o *Outlook) failing(shares []float64) failing {
	return o.failingAt(shares, shares[len(shares)-1])
}

// likely is that of a joint of which a row of LikelyWidth is known.
func (o *Outlook) likely(row []float64) failing {
	f := o.failingAt(row[:o.n], row[len(row)-1])
	f.second = row[o.n : len(row)-1]
	return f
}

func (o *Outlook) failingAt(shares []float64, worst float64) failing {
	f := failing{rule: o.rule, tail: o.tail, shares: shares, worst: worst, rest: 1 - worst}
	if f.tail == nil || worst == 0 || worst >= f.rule.ShareLimit {
		return f
	}
	z := limitsPerE * math.Log(f.rule.ShareLimit*f.rest/(f.rule.ShareLimit-worst))
	if z > tailLimits-2 {
		f.tail = nil
		return f
	}
	f.plane = max(int(z), 1)
	f.weight[0], f.weight[1], f.weight[2], f.weight[3] = lagrange(z - float64(f.plane))
	return f
}

// probability is that of the rule once the chain has passed to p, read from the
// rule's table where that has it.
func (f *failing) probability(p []float64) float64 {
	t, n := f.tail, len(f.shares)
	if f.second != nil {
		return f.doubtful(p)
	}
	if t == nil || f.worst >= f.rule.ShareLimit {
		return f.rule.probability(f.shares, p)
	}
	m, v := 0.0, 0.0
	for i, s := range f.shares[:n-1] {
		q := p[i*n+n-1]
		m += s * q
		v += s * q * (1 - q)
	}
	if got, ok := f.read(m, v); ok {
		return got
	}
	return f.rule.probability(f.shares, p)
}

// doubtful is probability of shares that are not certain: to come is also what may
// be in the worst state already.
func (f *failing) doubtful(p []float64) float64 {
	if f.worst >= f.rule.ShareLimit {
		return 1
	}
	n := len(f.shares)
	m := 0.0
	for i, s := range f.shares {
		m += s * p[i*n+n-1]
	}
	v := max(m-doubt(f.second, p, n, n-1), 0)
	m = max(m-f.worst, 0)
	if f.tail != nil {
		if got, ok := f.read(m, v); ok {
			return got
		}
	}
	return f.rule.tail(f.worst, m, v)
}

// read is the table's value where m and w·v of the whole length are to come, if it
// has one.
func (f *failing) read(m, v float64) (probability float64, ok bool) {
	t := f.tail
	if f.rest != 1 {
		m /= f.rest
	}
	r := v / (m * (1 - m) * f.rest * f.rest)
	y := (r - lowestRatio) / t.step
	if !(m > 0 && m < 1-1e-9 && y >= 0 && y <= tailRatios+1e-6 && f.rule.Pieces*f.rest > 1) {
		return 0, false
	}
	at := place(m*tailMeans, y)
	if f.plane == 0 {
		return min(max(t.read(0, &at), 0), 1), true
	}
	sum := 0.0
	for i, w := range f.weight {
		sum += w * t.read(f.plane-1+i, &at)
	}
	return min(max(sum, 0), 1), true
}

// tailPlace is where a mean and a ratio lie in every plane: the first of four rows
// of four values, and the weights of both.
type tailPlace struct {
	first          int
	a0, a1, a2, a3 float64
	b0, b1, b2, b3 float64
}

// place is that of a mean and a ratio, both in steps.
func place(x, y float64) (p tailPlace) {
	i, j := min(max(int(x), 1), tailMeans-2), min(max(int(y), 1), tailRatios-2)
	p.first = (i-1)*tailWide + j - 1
	p.a0, p.a1, p.a2, p.a3 = lagrange(x - float64(i))
	p.b0, p.b1, p.b2, p.b3 = lagrange(y - float64(j))
	return p
}

// read is a plane at a place.
func (t *tailTable) read(plane int, p *tailPlace) float64 {
	v := t.at(plane)[p.first:][:3*tailWide+4]
	return p.a0*(p.b0*v[0]+p.b1*v[1]+p.b2*v[2]+p.b3*v[3]) +
		p.a1*(p.b0*v[tailWide]+p.b1*v[tailWide+1]+p.b2*v[tailWide+2]+p.b3*v[tailWide+3]) +
		p.a2*(p.b0*v[2*tailWide]+p.b1*v[2*tailWide+1]+p.b2*v[2*tailWide+2]+p.b3*v[2*tailWide+3]) +
		p.a3*(p.b0*v[3*tailWide]+p.b1*v[3*tailWide+1]+p.b2*v[3*tailWide+2]+p.b3*v[3*tailWide+3])
}
