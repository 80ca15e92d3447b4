package markov

import (
	"fmt"
	"math"
)

// Panel is the record that a model is fitted to: lives of seals, each a row of
// intervals between inspections. It keeps the intervals in compact form, about
// 40 bytes each, with equal times and covariates stored once. Fill it with
// Begin and Add.
type Panel struct {
	moves      Moves
	n          int
	reach      []bool
	covariates int

	patterns  [][]float64 // distinct rows of covariates
	patternOf map[string]int32
	steps     []step // distinct pairs of time and pattern
	stepOf    map[step]int32
	entries   []uint8    // entries of the table that the data need; see entryCode
	entryOf   [256]uint8 // place of an entry in entries, plus 1

	lives     []life
	spans     []span
	flowEntry []uint8
	flowShare []float64
	mixed     []mixture
	clusters  []int32 // by life
	clusterOf map[int]int32
	states    []float64 // unit rows, for At
	counts    Counts
}

// step is a time and a row of covariates: all intervals alike share one P.
type step struct {
	years   float64
	pattern int32
}

// x is the row of covariates of a step.
func (p *Panel) x(step int) []float64 { return p.patterns[p.steps[step].pattern] }

// span is one interval of a life: its flows up to the next span's.
type span struct {
	step      int32
	firstFlow int32
}

// life is one seal life: its spans up to the next life's.
type life struct {
	firstSpan   int32
	firstMixed  int32
	start       []start // possible beginnings, where they matter
	startEntry  []uint8
	startShare  []float64
	conditioned bool
	renewals    int32 // new seals since the life before it in the panel; 0: the first of a site
}

// start is one possible beginning: the step from installation to the first
// inspection, that from installation to the beginning of the record, and the
// probability of this beginning.
type start struct {
	first, record int32 // record is -1 where being on record says nothing
	weight        float64
	replaced      bool
}

// Counts say what a panel holds and what was left out of it, and why.
type Counts struct {
	Lives, Clusters, Intervals int
	Years                      float64 // of exposure
	Improved                   int     // left out: better at the end with no work on record
	Impossible                 int     // left out: no allowed moves lead there
	NoTime                     int     // left out: no time between the inspections
	BadShares                  int     // left out: shares do not add up to 1
	Approximate                int     // in, but by shares because moves go both ways
}

// LeftOut is the number of intervals left out for any reason.
func (c Counts) LeftOut() int { return c.Improved + c.Impossible + c.NoTime + c.BadShares }

// NewPanel makes an empty panel for the moves and number of covariates.
func NewPanel(moves Moves, covariates int) (*Panel, error) {
	if err := moves.check(); err != nil {
		return nil, err
	}
	n := moves.States()
	p := &Panel{
		moves: moves, n: n, reach: moves.reach(), covariates: covariates,
		patternOf: map[string]int32{}, stepOf: map[step]int32{}, clusterOf: map[int]int32{},
		states: make([]float64, n*n),
	}
	for i := range n {
		p.states[i*n+i] = 1
	}
	return p, nil
}

// At returns the shares of a subject that is in one state. Do not change them.
func (p *Panel) At(state int) []float64 { return p.states[state*p.n : (state+1)*p.n] }

// Counts returns what the panel holds so far.
func (p *Panel) Counts() Counts {
	c := p.counts
	c.Lives, c.Clusters = len(p.lives), len(p.clusterOf)
	return c
}

// Begin starts a life. Lives with the same cluster, such as those of one
// bridge, are not taken as independent when standard errors are computed.
func (p *Panel) Begin(cluster int) {
	id, ok := p.clusterOf[cluster]
	if !ok {
		id = int32(len(p.clusterOf))
		p.clusterOf[cluster] = id
	}
	p.lives = append(p.lives, life{firstSpan: int32(len(p.spans)), firstMixed: int32(len(p.mixed))})
	p.clusters = append(p.clusters, id)
}

// Add adds an interval to the life begun last, and reports whether it was
// taken. What is left out is counted by reason. An error is for arguments that
// no data can excuse: a wrong number of states or covariates.
func (p *Panel) Add(v Interval) (taken bool, err error) {
	if len(p.lives) == 0 {
		return false, fmt.Errorf("%w interval: no life has begun", ErrInvalid)
	}
	if len(v.Before) != p.n || len(v.X) != p.covariates || v.Seen == Inspected && len(v.After) != p.n {
		return false, fmt.Errorf("%w interval: %d and %d states, %d covariates; want %d and %d",
			ErrInvalid, len(v.Before), len(v.After), len(v.X), p.n, p.covariates)
	}
	for _, x := range v.X {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false, fmt.Errorf("%w covariate %v", ErrInvalid, x)
		}
	}
	switch {
	case !(v.Years > 0) || math.IsInf(v.Years, 1):
		p.counts.NoTime++
		return false, nil
	case checkShares(v.Before) != nil || v.Seen == Inspected && checkShares(v.After) != nil:
		p.counts.BadShares++
		return false, nil
	case v.Seen == FailedSince:
		return p.addFailedSince(v), nil
	case v.Seen != Inspected:
		return p.addEnd(v), nil
	case !p.moves.OneWay() && !whole(v.Before):
		return p.addMixture(v), nil
	}
	return p.addFlows(v), nil
}

func (p *Panel) addFlows(v Interval) bool {
	var flow [MaxStates * MaxStates]float64
	n := p.n
	if whole(v.Before) { // one state before: flows are known whatever the moves
		for i, s := range v.Before {
			if s > 0.5 {
				copy(flow[i*n:(i+1)*n], v.After)
			}
		}
	} else if err := Match(flow[:n*n], v.Before, v.After); err != nil {
		p.counts.Improved++
		return false
	}
	for ij, s := range flow[:n*n] {
		if s > 0 && !p.reach[ij] {
			if ij%n < ij/n {
				p.counts.Improved++
			} else {
				p.counts.Impossible++
			}
			return false
		}
	}
	p.open(v)
	for ij, s := range flow[:n*n] {
		if s > 0 {
			p.flow(ij, s)
		}
	}
	return true
}

// addEnd adds an interval that ends with a failure, or with no more than that
// there was none.
func (p *Panel) addEnd(v Interval) bool {
	if v.Before[p.n-1] > 0 {
		p.counts.Impossible++
		return false
	}
	p.open(v)
	for i, s := range v.Before {
		if s > 0 && v.Seen == FailedThen {
			p.flow(p.failedCode(i), s)
		} else if s > 0 {
			p.flow(p.survivedCode(i), s)
		}
	}
	return true
}

func (p *Panel) open(v Interval) {
	p.counts.Intervals++
	p.counts.Years += v.Years
	p.spans = append(p.spans, span{p.step(v.Years, v.X), int32(len(p.flowEntry))})
}

func (p *Panel) flow(code int, share float64) {
	p.flowEntry = append(p.flowEntry, p.entry(code))
	p.flowShare = append(p.flowShare, share)
}

// Entries of the table: P_ij is i·n + j; after them come for each state i the
// density of failing at the end, and the probability of not having failed.
func (p *Panel) failedCode(i int) int   { return p.n*p.n + i }
func (p *Panel) survivedCode(i int) int { return p.n*p.n + p.n + i }

// entry gives a code its place among the entries in use.
func (p *Panel) entry(code int) uint8 {
	if p.entryOf[code] == 0 {
		p.entries = append(p.entries, uint8(code))
		p.entryOf[code] = uint8(len(p.entries))
	}
	return p.entryOf[code] - 1
}

// step finds or makes the step. Times that differ by less than a nanosecond in
// a year are one: they differ by rounding.
func (p *Panel) step(years float64, x []float64) int32 {
	var buf [8 * 32]byte
	key := buf[:0]
	for _, v := range x {
		b := math.Float64bits(v)
		key = append(key, byte(b), byte(b>>8), byte(b>>16), byte(b>>24), byte(b>>32), byte(b>>40), byte(b>>48), byte(b>>56))
	}
	pattern, ok := p.patternOf[string(key)]
	if !ok {
		pattern = int32(len(p.patterns))
		p.patternOf[string(key)] = pattern
		p.patterns = append(p.patterns, append([]float64(nil), x...))
	}
	s := step{years, pattern}
	if rounded := math.Round(years*1e12) / 1e12; rounded > 0 {
		s.years = rounded
	}
	id, ok := p.stepOf[s]
	if !ok {
		id = int32(len(p.steps))
		p.stepOf[s] = id
		p.steps = append(p.steps, s)
	}
	return id
}

// whole reports whether all of the length is in one state.
func whole(shares []float64) bool {
	for _, s := range shares {
		if s == 1 {
			return true
		}
	}
	return false
}
