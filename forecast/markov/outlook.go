package markov

import (
	"fmt"
	"math"
	"sync"
)

// Outlook projects the joints of one group: one chain, one grid of paces, one
// rule of failure. It holds what doesn't depend on the joint, so that a joint
// costs some microseconds.
//
// Everything projected depends on pace and time only through their product u =
// z·t. So P is computed once for the group at nodes of u; each joint's shares
// and its probability of failure are evaluated at the nodes and read between
// them by a cubic in log u. The nodes are close enough for an error below 3e-3
// in any probability.
type Outlook struct {
	chain Chain
	pace  Pace
	rule  Failure
	n     int
	nodes []float64 // u, the first is 0, the rest rise by a constant factor
	logU1 float64
	p     []float64 // P at each node, row by row
	logZ  []float64

	fine *fineTable // the same for every rule
}

// fineTable holds the logarithm of P at nodes of u close enough to read a
// posterior of paces from, where a joint pays only for the entries that it saw.
type fineTable struct {
	once  sync.Once
	logU1 float64
	count int
	logP  []float64 // node by node
}

// finePerE is how many fine nodes there are for each factor e of u.
const finePerE = 48

// fineTable fills the table when a posterior first asks for it.
func (o *Outlook) fineTable() *fineTable {
	t := o.fine
	t.once.Do(func() {
		first, last := o.nodes[1]*1e-4, o.nodes[len(o.nodes)-1]
		t.logU1, t.count = math.Log(first), 2+int(math.Ceil(finePerE*math.Log(last/first)))
		nn := o.n * o.n
		t.logP = make([]float64, t.count*nn)
		p := make([]float64, nn)
		for k := range t.count {
			for ij, x := range o.chain.P(p, first*math.Exp(float64(k)/finePerE)) {
				t.logP[k*nn+ij] = math.Log(max(x, 1e-300))
			}
		}
	})
	return t
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
	first := min(0.01/fastest, last/10)
	count := 1 + int(math.Ceil(nodesPerE*math.Log(last/first)))
	o := &Outlook{chain: c, pace: pace, rule: rule, n: c.states, logU1: math.Log(first), fine: &fineTable{}}
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

// WithRule is the outlook of the same chain and paces by another rule of
// failure. It shares what was worked out for the first. The error is ErrInvalid.
func (o *Outlook) WithRule(rule Failure) (*Outlook, error) {
	rule, err := rule.withDefaults()
	if err != nil {
		return nil, err
	}
	other := *o
	other.rule = rule
	return &other, nil
}

// Projection holds a joint's future: for each year the mean shares by state
// and the probability of having failed. Reuse one for many joints.
type Projection struct {
	States int
	Shares []float64 // mean share in each state, state by state within year
	// Variance of each of Shares, over the joint's pace and the fate of its
	// pieces: E_z v/w + Var_z μ. For a joint of the draw or parameters that the
	// Outlook stands for; joints are independent given those.
	Variance []float64
	Failed   []float64 // probability of having failed, by year

	curves  []float64 // at each node the shares, their squares' means, and failure
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
	dst.size(len(years), n)
	wide := 2*n + 1
	dst.curves = resize(dst.curves, nodes*wide)
	dst.weights = resize(dst.weights, nodes)
	for k := range nodes {
		o.curves(dst.curves[k*wide:(k+1)*wide], shares, o.p[k*n*n:(k+1)*n*n])
	}
	var sum [2*MaxStates + 1]float64
	failedBefore := 0.0
	for t, year := range years {
		o.weigh(dst.weights, weights, year)
		clear(sum[:])
		for k, w := range dst.weights {
			if w == 0 {
				continue
			}
			for j, x := range dst.curves[k*wide : (k+1)*wide] {
				sum[j] += w * x
			}
		}
		mean, variance := dst.Shares[t*n:(t+1)*n], dst.Variance[t*n:(t+1)*n]
		copy(mean, sum[:n])
		tidyShares(mean)
		for j, m := range mean {
			variance[j] = min(max(sum[n+j]-m*m, 0), m*(1-m))
		}
		failedBefore = min(max(sum[2*n], failedBefore), 1)
		dst.Failed[t] = failedBefore
	}
}

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
	failed := make([]float64, at.nodes)
	for k, used := range at.used {
		if used {
			failed[k] = o.rule.probability(shares, o.p[k*nn:(k+1)*nn])
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

// curves writes what is averaged over paces, at one node: the mean of each
// share, the mean of its square, and the probability of failure.
func (o *Outlook) curves(dst, shares, p []float64) {
	n := o.n
	ShareAfter(dst[:n], shares, p)
	for j := range n {
		v := 0.0
		for i, s := range shares {
			v += s * p[i*n+j] * (1 - p[i*n+j])
		}
		dst[n+j] = dst[j]*dst[j] + v/max(o.rule.Pieces, 1)
	}
	dst[2*n] = o.rule.probability(shares, p)
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
	for g, w := range weights {
		x := (logYear + o.logZ[g] - o.logU1) * nodesPerE
		if x <= 0 {
			part := math.Exp(x / nodesPerE)
			dst[0] += w * (1 - part)
			dst[1] += w * part
			continue
		}
		k, a, b, c, d := o.cubic(x)
		dst[k] += w * a
		dst[k+1] += w * b
		dst[k+2] += w * c
		dst[k+3] += w * d
	}
}

// cubic returns the first of the four nodes about x, and their weights; node k
// lies at x = k − 1.
func (o *Outlook) cubic(x float64) (k int, w0, w1, w2, w3 float64) {
	last := len(o.nodes) - 1
	x = min(x, float64(last-1))
	k = min(max(int(x), 1), last-3)
	w0, w1, w2, w3 = lagrange(x - float64(k))
	return k, w0, w1, w2, w3
}

// lagrange returns the weights at s of the values at −1, 0, 1 and 2.
func lagrange(s float64) (w0, w1, w2, w3 float64) {
	below, above := s*(s+1), (s-1)*(s-2)
	return s * above * (-1.0 / 6), (s + 1) * above * 0.5, below * (s - 2) * -0.5, below * (s - 1) * (1.0 / 6)
}

// Posterior is Pace.Posterior for a joint of this group, with the group's
// pieces, read from a table of log P by cubics in log u: within 1e-6 of it, and
// some ten times as fast. Intervals may be as long as the horizon.
func (o *Outlook) Posterior(dst, prior []float64, life []Interval) error {
	n, nn := o.n, o.n*o.n
	t := o.fineTable()
	var flow [MaxStates * MaxStates]float64
	for g := range o.pace.Z {
		dst[g] = math.Log(prior[g])
	}
	for i, v := range life {
		if len(v.Before) != n || len(v.After) != n || !(v.Years > 0) {
			return fmt.Errorf("%w interval %d: %v years, %d and %d states", ErrInvalid, i+1, v.Years, len(v.Before), len(v.After))
		}
		if err := Match(flow[:nn], v.Before, v.After); err != nil {
			return fmt.Errorf("interval %d: %w", i+1, err)
		}
		logYears := math.Log(v.Years)
		for g := range o.pace.Z {
			x := min((logYears+o.logZ[g]-t.logU1)*finePerE, float64(t.count-2))
			k := min(max(int(x), 1), t.count-3) // the second of the four nodes
			a, b, c, d := lagrange(x - float64(k))
			at := t.logP[(k-1)*nn:]
			for ij, s := range flow[:nn] {
				if s > 0 {
					logP := a*at[ij] + b*at[nn+ij] + c*at[2*nn+ij] + d*at[3*nn+ij]
					dst[g] += o.rule.Pieces * s * min(logP, 0)
				}
			}
		}
	}
	if top := normaliseLogs(dst[:len(o.pace.Z)]); math.IsNaN(top) || top < -1e5 {
		return fmt.Errorf("inspections are %w", ErrImpossible)
	}
	return nil
}

// Blend adds weight times the other projection to p, to average over draws of
// the parameters: p starts as a Projection of Reset, and the weights add up to
// 1. Variance comes out as the mean over the draws, without the variance
// between them.
func (p *Projection) Blend(other *Projection, weight float64) {
	for i, x := range other.Shares {
		p.Shares[i] += weight * x
	}
	for i, x := range other.Variance {
		p.Variance[i] += weight * x
	}
	for i, x := range other.Failed {
		p.Failed[i] += weight * x
	}
}

// Reset sizes the projection for so many years and states and fills it with
// zeros.
func (p *Projection) Reset(years, states int) {
	p.size(years, states)
	clear(p.Shares)
	clear(p.Variance)
	clear(p.Failed)
}

func (p *Projection) size(years, states int) {
	p.States = states
	p.Shares = resize(p.Shares, years*states)
	p.Variance = resize(p.Variance, years*states)
	p.Failed = resize(p.Failed, years)
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
