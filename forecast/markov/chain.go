package markov

import (
	"fmt"
	"math"
)

// Chain is a continuous-time Markov chain: allowed moves and a rate per year
// for each. The zero value is not usable; see NewChain.
type Chain struct {
	moves  Moves
	rates  []float64
	states int
	oneWay bool
}

// NewChain makes a chain from moves and their rates per year, which must be
// finite and not negative. A rate of 0 closes the move.
func NewChain(moves Moves, ratesPerYear []float64) (Chain, error) {
	if err := moves.check(); err != nil {
		return Chain{}, err
	}
	if len(ratesPerYear) != len(moves) {
		return Chain{}, fmt.Errorf("%w chain: %d rates for %d moves", ErrInvalid, len(ratesPerYear), len(moves))
	}
	for i, q := range ratesPerYear {
		if !(q >= 0 && q <= 1e6) {
			return Chain{}, fmt.Errorf("%w chain: rate of move %v is %v a year", ErrInvalid, moves[i], q)
		}
	}
	return Chain{moves, append([]float64(nil), ratesPerYear...), moves.States(), moves.OneWay()}, nil
}

// WorseningChain makes the one-way chain in which half of the feet leave each
// state within the given median years; the state after the last one listed is
// absorbing. Medians must be positive. The rate is
//
//	q = ln 2 / T
//
// as in NCHRP Report 713 vol. 1 (from memory).
func WorseningChain(medianYears ...float64) (Chain, error) {
	rates := make([]float64, len(medianYears))
	for i, t := range medianYears {
		if !(t > 0) {
			return Chain{}, fmt.Errorf("%w chain: median of %v years in state %d", ErrInvalid, t, i+1)
		}
		rates[i] = math.Ln2 / t
	}
	return NewChain(Worsening(len(medianYears)+1), rates)
}

// States is the number of states.
func (c Chain) States() int { return c.states }

// Moves are the allowed moves, in the order of Rates. Do not change them.
func (c Chain) Moves() Moves { return c.moves }

// Rates are the rates per year of the moves. Do not change them.
func (c Chain) Rates() []float64 { return c.rates }

// Q returns the intensity matrix, row by row: rates off the diagonal, and
// rows that add up to 0.
func (c Chain) Q() []float64 {
	q := make([]float64, c.states*c.states)
	for i, v := range c.moves {
		q[v.From*c.states+v.To] += c.rates[i]
		q[v.From*c.states+v.From] -= c.rates[i]
	}
	return q
}

// MeanYears returns the mean stay in each state, 0 for a state never left.
func (c Chain) MeanYears() []float64 {
	years := make([]float64, c.states)
	for i, v := range c.moves {
		years[v.From] += c.rates[i]
	}
	for i, q := range years {
		if q > 0 {
			years[i] = 1 / q
		}
	}
	return years
}

// MedianYears returns the median stay in each state, ln 2 times the mean.
func (c Chain) MedianYears() []float64 {
	years := c.MeanYears()
	for i := range years {
		years[i] *= math.Ln2
	}
	return years
}

// P writes the probabilities of passing from each state to each other within
// the years, row by row, to dst, which must hold States² numbers, and returns
// it. Years below 0 count as 0. It does not allocate.
func (c Chain) P(dst []float64, years float64) []float64 {
	var e expm
	e.init(c.moves, c.states, c.oneWay)
	e.exp(dst, c.rates, years)
	return dst
}

// ShareAfter writes shares·P to dst: the shares by state that the chain leads
// to. dst and shares must not overlap.
func ShareAfter(dst, shares, p []float64) {
	n := len(shares)
	if n == 4 { // nearly all
		s, p := (*[4]float64)(shares), (*[16]float64)(p)
		for j := range dst[:4] {
			dst[j] = s[0]*p[j] + s[1]*p[4+j] + s[2]*p[8+j] + s[3]*p[12+j]
		}
		return
	}
	clear(dst[:n])
	for i, s := range shares {
		if s == 0 {
			continue
		}
		for j := range n {
			dst[j] += s * p[i*n+j]
		}
	}
}
