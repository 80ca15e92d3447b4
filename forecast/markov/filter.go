package markov

import (
	"fmt"
	"math"
)

// SharedErrors returns the probability of each rating by true state, row by row,
// where a rating is wrong with one probability p, the same in each of n states and
// shared among the errors that are possible there; see RatingError.
func SharedErrors(n int, errors Moves, p float64) []float64 {
	rated := make([]float64, n*n)
	var ways [MaxStates]float64
	for _, v := range errors {
		ways[v.From]++
	}
	for i := range n {
		rated[i*n+i] = 1
		if ways[i] > 0 {
			rated[i*n+i] = 1 - p
		}
	}
	for _, v := range errors {
		rated[v.From*n+v.To] = p / ways[v.From]
	}
	return rated
}

// Filter writes to dst the shares that are truly in each state at the last of a
// run's looks, as far as the looks tell, each of which may be wrong: rated is the
// probability of each rating by true state, row by row. v.True are the shares that
// the run began with, for certain; it has no Starts. weights are those of the
// paces, after all looks.
//
// Every part of the length is lined up through the looks as in Ratings.AddRun. At
// each look its true state has the probabilities that the chain brings it from the
// look before, by Bayes' rule,
//
//	α_t(j) ∝ Σ_i α_{t−1}(i) P_ij(z Δt) · rated(seen_t | j)
//
// the forward algorithm (Baum et al. 1970, Ann. Math. Stat. 41:164) at each pace z,
// averaged over the paces. Looks that the rating errors do not allow are an error
// that wraps ErrImpossible.
func (p Pace) Filter(dst, weights []float64, c Chain, v Run, rated []float64) error {
	n := c.states
	if len(v.True) != n || len(v.Looks) == 0 || len(v.Starts) > 0 || len(rated) != n*n {
		return fmt.Errorf("%w run to filter: %d looks, %d starts, %d states", ErrInvalid, len(v.Looks), len(v.Starts), len(v.True))
	}
	rows := [][]float64{v.True}
	for t, look := range v.Looks {
		if len(look.After) != n || !(look.Years > 0) {
			return fmt.Errorf("%w look %d: %v years, %d states", ErrInvalid, t+1, look.Years, len(look.After))
		}
		rows = append(rows, look.After)
	}
	for t, row := range rows {
		if err := checkShares(row); err != nil {
			return fmt.Errorf("look %d: %w", t, err)
		}
	}
	from, to := heavy(weights)
	prob := make([]float64, (to-from)*len(v.Looks)*n*n)
	for g := from; g < to; g++ {
		for t, look := range v.Looks {
			at := ((g-from)*len(v.Looks) + t) * n * n
			c.P(prob[at:at+n*n], p.Z[g]*look.Years)
		}
	}
	clear(dst[:n])
	whole, impossible := 0.0, false
	eachPart(rows, func(share float64, states []uint8) {
		var part [MaxStates]float64
		weight := 0.0
		for g := from; g < to; g++ {
			at := (g - from) * len(v.Looks) * n * n
			alpha, ok := forward(prob[at:], rated, states, n)
			if !ok {
				continue
			}
			weight += weights[g]
			for j := range n {
				part[j] += weights[g] * alpha[j]
			}
		}
		if impossible = impossible || weight == 0; impossible {
			return
		}
		whole += share
		for j := range n {
			dst[j] += share * part[j] / weight
		}
	})
	if impossible {
		return fmt.Errorf("looks are %w and rating errors", ErrImpossible)
	}
	for j := range n {
		dst[j] /= whole
	}
	return nil
}

// Found leaves in the last state of filtered shares no more than the last look found
// there, and puts the rest of it in the state before. A projection takes the share
// in the last state for certain: what only an earlier look found there, and may have
// been an error, would be a failure without a doubt. (Our own choice, no source:
// TestFilterHelps has what it is worth.)
func Found(shares, seen []float64) {
	last := len(shares) - 1
	if rest := shares[last] - seen[last]; rest > 0 {
		shares[last], shares[last-1] = seen[last], shares[last-1]+rest
	}
}

// forward is the probability of each true state at the last of a part's ratings,
// the first of which is certain.
func forward(prob, rated []float64, states []uint8, n int) (alpha [MaxStates]float64, ok bool) {
	alpha[states[0]] = 1
	for t, seen := range states[1:] {
		var next [MaxStates]float64
		ShareAfter(next[:n], alpha[:n], prob[t*n*n:(t+1)*n*n])
		sum := 0.0
		for j := range n {
			next[j] *= rated[j*n+int(seen)]
			sum += next[j]
		}
		if !(sum > math.SmallestNonzeroFloat64) {
			return alpha, false
		}
		for j := range n {
			alpha[j] = next[j] / sum
		}
	}
	return alpha, true
}
