package markov

import (
	"fmt"
	"math"
	"slices"
)

// Outlook projects the joints of one group: one chain, one grid of paces, one
// rule of failure. It holds what doesn't depend on the joint, so that a joint
// costs some microseconds.
//
// Everything projected depends on pace and time only through their product u =
// z·t. So P is computed once for the group at nodes of u, a constant factor
// apart, and each joint's shares and its probability of failure are evaluated at
// the nodes. The grid of paces rises by a constant factor too, of a whole number
// of nodes: so the average over paces at a node of time is a sum over nodes of u
// as they stand, and years between two nodes of time are read by a cubic in
// their logarithm. The nodes are close enough for an error below 3e-3 in any
// probability.
type Outlook struct {
	chain Chain
	pace  Pace
	rule  Failure
	tail  *tailTable // of the rule; nil: worked out each time
	n     int
	nodes []float64 // u, the first is 0, the rest rise by a constant factor
	perE  float64   // nodes for each factor e of u
	apart int       // nodes from one pace to the next
	logU1 float64
	p     []float64 // P at each node, row by row
	logZ  []float64

	before [64]float64 // part of the first node at so many nodes before it

	fine *fineTable // the same for every rule
}

// nodesPerE is how many nodes there are at least for each factor e of u.
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
	o := &Outlook{
		chain: c, pace: pace, rule: rule, tail: tailsOf(rule), n: c.states,
		perE: nodesPerE, logU1: math.Log(first), fine: &fineTable{},
	}
	for _, z := range pace.Z {
		o.logZ = append(o.logZ, math.Log(z))
	}
	if paces := len(o.logZ); paces > 1 {
		step := (o.logZ[paces-1] - o.logZ[0]) / float64(paces-1)
		o.apart = int(math.Ceil(nodesPerE * step))
		o.perE = float64(o.apart) / step
	}
	for i := range o.before {
		o.before[i] = math.Exp(-float64(i) / o.perE)
	}
	count := 1 + int(math.Ceil(o.perE*math.Log(last/first)))
	o.nodes = append(o.nodes, 0)
	for i := range count {
		o.nodes = append(o.nodes, first*math.Exp(float64(i)/o.perE))
	}
	for _, u := range o.nodes {
		o.p = append(o.p, c.P(make([]float64, o.n*o.n), u)...)
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
	other.rule, other.tail = rule, tailsOf(rule)
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

	// Lean leaves Variance at 0, for who does not need it.
	Lean bool

	curves []float64 // at each node failure, the shares, and their squares' means
	means  []float64 // the same averaged over paces, at each node of time
	used   []bool    // nodes whose curves are worked out
	byPace []failing // at each pace, of shares that differ by pace

	years, logs []float64 // of the last projection: most share their years
}

// Project writes to dst the future of a joint whose shares at its last
// inspection and weights on the grid of paces are given, at the given years
// after that inspection, which rise. The shares are known for certain, or are what
// was likely of them at each pace, a row of LikelyWidth for each, which is followed
// at its own. It allocates only when dst has not been
// used for as many years and nodes before. The probability of failure never
// falls from year to year: where the Beta form would dip a little, as it can
// when the feet are in several states, the year before stands.
func (o *Outlook) Project(dst *Projection, shares, weights, years []float64) {
	dst.size(len(years), o.n)
	wide := 1 + o.n
	if !dst.Lean {
		wide += o.n
	}
	dst.curves = resize(dst.curves, len(o.nodes)*wide)
	if dst.used = dst.used[:min(cap(dst.used), len(o.nodes))]; len(dst.used) < len(o.nodes) {
		dst.used = make([]bool, len(o.nodes))
	}
	clear(dst.used)
	at := averages{o: o, of: dst, weights: weights, wide: wide}
	at.from, at.to = heavy(weights)
	if dst.byPace = dst.byPace[:0]; len(shares) > o.n {
		for g, n := 0, LikelyWidth(o.n); g < len(o.pace.Z); g++ {
			dst.byPace = append(dst.byPace, o.likely(shares[g*n:(g+1)*n]))
		}
	} else {
		at.failing = o.failing(shares)
	}
	if !slices.Equal(dst.years, years) {
		dst.years, dst.logs = append(dst.years[:0], years...), dst.logs[:0]
		for _, y := range years {
			dst.logs = append(dst.logs, math.Log(y))
		}
	}
	var row [2*MaxStates + 1]float64
	failedBefore := 0.0
	for t, year := range years {
		at.year(row[:wide], year, dst.logs[t])
		failedBefore = min(max(row[0], failedBefore), 1)
		dst.Failed[t] = failedBefore
		mean, variance := dst.Shares[t*o.n:(t+1)*o.n], dst.Variance[t*o.n:(t+1)*o.n]
		copy(mean, row[1:])
		tidyShares(mean)
		if dst.Lean {
			clear(variance)
			continue
		}
		for j, m := range mean {
			variance[j] = min(max(row[1+o.n+j]-m*m, 0), m*(1-m))
		}
	}
}

// weightless is what weight of a pace at either end of the grid is left out.
const weightless = 1e-7

// heavy is the part of the grid of paces that has weight.
func heavy(weights []float64) (from, to int) {
	to = len(weights)
	for from < to-1 && weights[from] < weightless {
		from++
	}
	for to > from+1 && weights[to-1] < weightless {
		to--
	}
	return from, to
}

// place is where a year lies among the nodes of time: x nodes after the one at
// which the slowest pace is at the first node of u. below: so early that the
// fastest pace has not come to the first node.
func (o *Outlook) place(logYear float64) (x float64, below bool) {
	return (logYear + o.logZ[0] - o.logU1) * o.perE, logYear+o.logZ[len(o.logZ)-1] <= o.logU1
}

// node is what stands for the node of u i nodes after the first, by its number
// among all: beyond the last the last, and before the first a part of the first
// and the rest of that at 0.
func (o *Outlook) node(i int) (k int, part float64) {
	if i < 0 {
		if -i < len(o.before) {
			return 1, o.before[-i]
		}
		return 1, math.Exp(float64(i) / o.perE)
	}
	return min(1+i, len(o.nodes)-1), 1
}

// lagrange returns the weights at s of the values at −1, 0, 1 and 2.
func lagrange(s float64) (w0, w1, w2, w3 float64) {
	below, above := s*(s+1), (s-1)*(s-2)
	return s * above * (-1.0 / 6), (s + 1) * above * 0.5, below * (s - 2) * -0.5, below * (s - 1) * (1.0 / 6)
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
