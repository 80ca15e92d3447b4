package markov

import (
	"math"
)

// Spread is how the weights of a joint's paces fall on an Outlook's nodes at
// some years: what its projections at these years have in common, whatever the
// shares. Reuse one for many joints.
type Spread struct {
	years, nodes int
	weights      []float64 // node by node within year
	used         []bool    // by node: has weight in some year
}

// Spread fills dst for the weights and years of Project.
func (o *Outlook) Spread(dst *Spread, weights, years []float64) {
	dst.years, dst.nodes = len(years), len(o.nodes)
	dst.weights = resize(dst.weights, dst.years*dst.nodes)
	dst.used = append(dst.used[:0], make([]bool, dst.nodes)...)
	for t, year := range years {
		row := dst.weights[t*dst.nodes : (t+1)*dst.nodes]
		o.weigh(row, weights, year)
		for k, w := range row {
			dst.used[k] = dst.used[k] || w != 0
		}
	}
}

// Failures appends to dst the probability of having failed, by the years of the
// spread, which is one of this Outlook: the Failed of Project at a fraction of
// the cost where a joint is projected from several shares.
func (o *Outlook) Failures(dst []float64, at *Spread, shares []float64) []float64 {
	nn := o.n * o.n
	failed, of := make([]float64, at.nodes), o.failing(shares)
	for k, used := range at.used {
		if used {
			failed[k] = of.probability(o.p[k*nn : (k+1)*nn])
		}
	}
	before := 0.0
	for t := range at.years {
		sum := 0.0
		for k, w := range at.weights[t*at.nodes : (t+1)*at.nodes] {
			sum += w * failed[k]
		}
		before = min(max(sum, before), 1)
		dst = append(dst, before)
	}
	return dst
}

// weigh spreads the weight of each pace over the nodes of u that Project reads
// for a year.
func (o *Outlook) weigh(dst, weights []float64, year float64) {
	clear(dst)
	if !(year > 0) {
		dst[0] = 1
		return
	}
	from, to := heavy(weights)
	x, below := o.place(math.Log(year))
	if below {
		for g := from; g < to; g++ {
			part := o.pace.Z[g] * year / o.nodes[1]
			dst[0] += weights[g] * (1 - part)
			dst[1] += weights[g] * part
		}
		return
	}
	k := int(math.Floor(x)) - 1
	w0, w1, w2, w3 := lagrange(x - float64(k+1))
	for i, w := range [4]float64{w0, w1, w2, w3} {
		for g := from; g < to; g++ {
			node, part := o.node(k + i + g*o.apart)
			dst[node] += w * weights[g] * part
			dst[0] += w * weights[g] * (1 - part)
		}
	}
}
