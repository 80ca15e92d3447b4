package markov

import (
	"fmt"
	"math"
)

// Outlook projects the joints of one group: one chain, one grid of paces, one
// rule of failure. It holds what doesn't depend on the joint, so that a joint
// costs some microseconds.
//
// Everything projected depends on pace and time only through their product u =
// z·t. So P is computed once for the group at nodes of u; each joint's shares
// and its probability of failure are evaluated at the nodes and read between
// them by a cubic in log u. The nodes are close enough for an error below 2e-3
// in any probability.
type Outlook struct {
	pace  Pace
	rule  Failure
	n     int
	nodes []float64 // u, the first is 0, the rest rise by a constant factor
	logU1 float64
	p     []float64 // P at each node, row by row
	logZ  []float64
}

// nodesPerE is how many nodes there are for each factor e of u.
const nodesPerE = 6

// NewOutlook prepares the projection of a group over at most horizonYears from
// a joint's last inspection. An Outlook for another draw of the parameters is
// another Outlook; Projection.Blend averages them.
func NewOutlook(c Chain, pace Pace, rule Failure, horizonYears float64) (*Outlook, error) {
	rule, err := rule.withDefaults()
	if err != nil {
		return nil, err
	}
	if !(horizonYears > 0 && horizonYears <= 1000) || len(pace.Z) == 0 {
		return nil, fmt.Errorf("%w outlook: horizon %v years, %d paces", ErrInvalid, horizonYears, len(pace.Z))
	}
	fastest := 1e-9
	for i, q := range c.MeanYears() {
		if q > 0 && !c.moves.Absorbing(i) {
			fastest = max(fastest, 1/q)
		}
	}
	last := pace.Z[len(pace.Z)-1] * horizonYears
	first := min(0.02/fastest, last/10)
	count := 1 + int(math.Ceil(nodesPerE*math.Log(last/first)))
	o := &Outlook{pace: pace, rule: rule, n: c.states, logU1: math.Log(first)}
	o.nodes = append(o.nodes, 0)
	for i := range count {
		o.nodes = append(o.nodes, first*math.Exp(float64(i)/nodesPerE))
	}
	for _, u := range o.nodes {
		o.p = append(o.p, c.P(make([]float64, o.n*o.n), u)...)
	}
	for _, z := range pace.Z {
		o.logZ = append(o.logZ, math.Log(z))
	}
	return o, nil
}

// Projection holds a joint's future: for each year the mean shares by state
// and the probability of having failed. Reuse one for many joints.
type Projection struct {
	States int
	Shares []float64 // mean share in each state, state by state within year
	Failed []float64 // probability of having failed, by year

	curves  []float64 // failure and shares at the nodes
	weights []float64 // weight of each node in one year
}

// Project writes to dst the future of a joint whose shares at its last
// inspection and weights on the grid of paces are given, at the given years
// after that inspection, which rise. It allocates only when dst has not been
// used for as many years and nodes before. The probability of failure never
// falls from year to year: where the Beta form would dip a little, as it can
// when the feet are in several states, the year before stands.
func (o *Outlook) Project(dst *Projection, shares, weights, years []float64) {
	n, nodes := o.n, len(o.nodes)
	dst.States = n
	dst.Shares = resize(dst.Shares, len(years)*n)
	dst.Failed = resize(dst.Failed, len(years))
	dst.curves = resize(dst.curves, nodes*(n+1))
	dst.weights = resize(dst.weights, nodes)
	for k := range nodes {
		p := o.p[k*n*n : (k+1)*n*n]
		row := dst.curves[k*(n+1) : (k+1)*(n+1)]
		ShareAfter(row[:n], shares, p)
		row[n] = o.rule.probability(shares, p)
	}
	failedBefore := 0.0
	for t, year := range years {
		o.weigh(dst.weights, weights, year)
		out := dst.Shares[t*n : (t+1)*n]
		clear(out)
		failed := 0.0
		for k, w := range dst.weights {
			if w == 0 {
				continue
			}
			row := dst.curves[k*(n+1) : (k+1)*(n+1)]
			for j := range out {
				out[j] += w * row[j]
			}
			failed += w * row[n]
		}
		tidyShares(out)
		failedBefore = min(max(failed, failedBefore), 1)
		dst.Failed[t] = failedBefore
	}
}

// weigh spreads the weight of each pace over the nodes next to its u, by the
// four-point Lagrange polynomial in log u, and linearly below the first node.
func (o *Outlook) weigh(dst, weights []float64, year float64) {
	clear(dst)
	if !(year > 0) {
		dst[0] = 1
		return
	}
	logYear := math.Log(year)
	last := len(o.nodes) - 1 // node k > 0 lies at log u = logU1 + (k-1)/nodesPerE
	for g, w := range weights {
		x := (logYear + o.logZ[g] - o.logU1) * nodesPerE
		if x <= 0 {
			part := math.Exp(x / nodesPerE)
			dst[0] += w * (1 - part)
			dst[1] += w * part
			continue
		}
		x = min(x, float64(last-1))
		k := min(max(int(x), 1), last-3) // first of the four nodes, less one
		s := x - float64(k)
		a, b, c, d := s+1, s, s-1, s-2
		dst[k] -= w * b * c * d / 6
		dst[k+1] += w * a * c * d / 2
		dst[k+2] -= w * a * b * d / 2
		dst[k+3] += w * a * b * c / 6
	}
}

// Blend adds weight times the other projection to p, to average over draws of
// the parameters: p starts as a Projection of Reset, and the weights add up to
// 1.
func (p *Projection) Blend(other *Projection, weight float64) {
	for i, x := range other.Shares {
		p.Shares[i] += weight * x
	}
	for i, x := range other.Failed {
		p.Failed[i] += weight * x
	}
}

// Reset sizes the projection for so many years and states and fills it with
// zeros.
func (p *Projection) Reset(years, states int) {
	p.States = states
	p.Shares = resize(p.Shares, years*states)
	p.Failed = resize(p.Failed, years)
	clear(p.Shares)
	clear(p.Failed)
}

// tidyShares takes out what interpolation leaves below 0 and makes the sum 1.
func tidyShares(s []float64) {
	sum := 0.0
	for i := range s {
		s[i] = max(s[i], 0)
		sum += s[i]
	}
	for i := range s {
		s[i] /= sum
	}
}

func resize(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n)
	}
	return s[:n]
}
