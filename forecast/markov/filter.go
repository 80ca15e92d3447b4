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

// Filter writes to dst how a length is truly likely to be at the last of a run's
// looks, a row of LikelyWidth for each pace, as far as the looks tell, each of which
// may be wrong: rated is the probability of each rating by true state, row by row.
// v.True are the shares that the run began with, for certain, or such rows, of which
// the means are taken; it has no Starts. It adds to logs the logarithm of the
// run's probability at each pace, for Pace.Weigh.
//
// Every part of the length is lined up through the looks as in Ratings.AddRun. At
// each look its true state has the probabilities that the chain brings it from the
// look before, by Bayes' rule,
//
//	α_t(j) = Σ_i α_{t−1}(i) P_ij(z Δt) · rated(seen_t | j) / c_t
//
// the forward algorithm (Baum et al. 1970, Ann. Math. Stat. 41:164). Its c_t
// multiply to the probability of what was seen of the part, of which a part of
// share s counts w·s times, as in a fit: w is pieces. Looks that the rating errors
// do not allow at any pace are an error that wraps ErrImpossible.
func (p Pace) Filter(dst, logs []float64, c Chain, v Run, rated []float64, pieces float64) error {
	n := c.states
	wide := LikelyWidth(n)
	byPace := len(v.True) == wide*len(p.Z)
	if len(v.True) != n && !byPace || len(v.Looks) == 0 || len(v.Starts) > 0 || len(rated) != n*n {
		return fmt.Errorf("%w run to filter: %d looks, %d starts, %d states", ErrInvalid, len(v.Looks), len(v.Starts), len(v.True))
	}
	rows := [][]float64{v.True[:n]}
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
	possible := false
	prob := make([]float64, len(v.Looks)*n*n)
	var parts ratedParts
	for g, z := range p.Z {
		if g == 0 || byPace {
			rows[0] = v.True[g*wide : g*wide+n]
			parts.read(rows)
		}
		for t, look := range v.Looks {
			c.P(prob[t*n*n:(t+1)*n*n], z*look.Years)
		}
		logs[g] += pieces * parts.filter(dst[g*wide:(g+1)*wide], n, prob, rated)
		possible = possible || !math.IsInf(logs[g], -1)
	}
	if !possible {
		return fmt.Errorf("looks are %w and rating errors", ErrImpossible)
	}
	return nil
}

// ratedParts are the parts of a length that were each seen in one state at each look.
type ratedParts struct {
	shares []float64
	states []uint8 // of each part in turn, at each look
	looks  int     // with the beginning
}

func (r *ratedParts) read(rows [][]float64) {
	r.shares, r.states, r.looks = r.shares[:0], r.states[:0], len(rows)
	eachPart(rows, func(share float64, states []uint8) {
		r.shares, r.states = append(r.shares, share), append(r.states, states...)
	})
}

// filter writes to dst how the parts are likely to be at the last look, and returns
// the mean logarithm of a part's probability, weighted by share. What that look
// found in the last state, and may well be there, is taken to be there for certain
// by its mean: work is not put off because a severe rating may be wrong. (Our own
// choice, no source.)
func (r *ratedParts) filter(dst []float64, n int, prob, rated []float64) (logP float64) {
	clear(dst)
	whole := 0.0
	for _, share := range r.shares {
		whole += share
	}
	for i, share := range r.shares {
		states := r.states[i*r.looks : (i+1)*r.looks]
		alpha, part := forward(prob, rated, states, n)
		share /= whole
		logP += share * part
		if worst := alpha[n-1]; int(states[r.looks-1]) == n-1 && worst > 0 {
			dst[n+n*n] += share * worst
			addLikely(dst, share*worst, certain[MaxStates-n:][:n])
			if share *= 1 - worst; worst >= 1 {
				continue
			}
			for j := range n - 1 {
				alpha[j] /= 1 - worst
			}
			alpha[n-1] = 0
		}
		addLikely(dst, share, alpha[:n])
	}
	return logP
}

// certain is the last state of MaxStates, and the end of it that of fewer.
var certain = [MaxStates]float64{MaxStates - 1: 1}

// forward is the probability of each true state at the last of a part's ratings,
// the first of which is certain, and the logarithm of that of all the ratings:
// -Inf where they are impossible, and the states then are those of the last that
// was possible.
func forward(prob, rated []float64, states []uint8, n int) (alpha [MaxStates]float64, logP float64) {
	alpha[states[0]] = 1
	all := 1.0
	for t, seen := range states[1:] {
		var next [MaxStates]float64
		ShareAfter(next[:n], alpha[:n], prob[t*n*n:(t+1)*n*n])
		sum := 0.0
		for j := range n {
			next[j] *= rated[j*n+int(seen)]
			sum += next[j]
		}
		if !(sum > math.SmallestNonzeroFloat64) {
			return alpha, math.Inf(-1)
		}
		for j := range n {
			alpha[j] = next[j] / sum
		}
		if all *= sum; all < 1e-200 {
			logP, all = logP+math.Log(all), 1
		}
	}
	return alpha, logP + math.Log(all)
}

// Weigh writes to dst the probability of each pace given its prior and the
// logarithms of the probability of what was seen, which may be dst.
func (p Pace) Weigh(dst, prior, logs []float64) {
	for g := range p.Z {
		dst[g] = math.Log(prior[g]) + logs[g]
	}
	normaliseLogs(dst[:len(p.Z)])
}
