package markov

import (
	"fmt"

	"gonum.org/v1/gonum/mathext"
)

// Failure says when a seal has failed: when ShareLimit of its length is in the
// worst state, given that it wears as Pieces independent pieces.
type Failure struct {
	ShareLimit float64 // φ, over 0 and at most 1; 0 means 0.10
	Pieces     float64 // w, over 0; 0 means 3, about one per lane
}

func (f Failure) withDefaults() (Failure, error) {
	if f.ShareLimit == 0 {
		f.ShareLimit = 0.10
	}
	if f.Pieces == 0 {
		f.Pieces = 3
	}
	if !(f.ShareLimit > 0 && f.ShareLimit <= 1) || !(f.Pieces > 0) {
		return f, fmt.Errorf("%w failure rule: limit %v, pieces %v", ErrInvalid, f.ShareLimit, f.Pieces)
	}
	return f, nil
}

// Probability is the probability that a joint with the given shares now has
// failed once the chain has passed to p (row by row). With s the shares, w the
// pieces, φ the limit and d the worst state,
//
//	m = Σ_{i<d} s_i P_id / (1 − s_d)
//	v = Σ_{i<d} s_i P_id (1 − P_id) / ( w (1 − s_d)² )
//	F = P( s_d + (1 − s_d) · B ≥ φ ),  B ~ Beta with mean m and variance v
//
// and F = m where w(1 − s_d) ≤ 1: then a single piece is left to fail. It is 1
// for a joint that has failed already.
func (f Failure) Probability(shares, p []float64) float64 {
	f, err := f.withDefaults()
	if err != nil {
		return 0
	}
	return f.probability(shares, p)
}

func (f Failure) probability(shares, p []float64) float64 {
	n := len(shares)
	worst := shares[n-1]
	if worst >= f.ShareLimit {
		return 1
	}
	m, v := 0.0, 0.0
	for i, s := range shares[:n-1] {
		q := p[i*n+n-1]
		m += s * q
		v += s * q * (1 - q)
	}
	return f.tail(worst, m, v)
}

// tail is the probability where so much is in the worst state for certain, and m
// and w·v of the whole length are to come, on the average and as its variance.
func (f Failure) tail(worst, m, v float64) float64 {
	rest := 1 - worst
	m /= rest
	v /= f.Pieces * rest * rest
	switch {
	case f.Pieces*rest <= 1:
		return m
	case m <= 0:
		return 0
	case m >= 1-1e-9 || v <= 0:
		return 1
	}
	size := m*(1-m)/v - 1 // α + β, over 0 because v < m(1−m) here
	return betaTail(m*size, (1-m)*size, (f.ShareLimit-worst)/rest)
}

// betaTail is P(B ≥ x) for B ~ Beta(a, b), 0 ≤ x ≤ 1.
func betaTail(a, b, x float64) float64 {
	switch {
	case a < 1e-9: // all mass at 0
		return 0
	case b < 1e-9: // all mass at 1
		return 1
	}
	return min(max(1-mathext.RegIncBeta(a, b, x), 0), 1)
}

// JoinOpening adds a second way to fail: out holds by year the probability
// that the opening has left the seal's range, independent of wear given the
// joint's pace. failed becomes 1 − (1 − failed)(1 − out).
func JoinOpening(failed, out []float64) {
	for i, g := range out {
		failed[i] = 1 - (1-failed[i])*(1-g)
	}
}

// Quantile is a year by which something has happened with a given probability.
type Quantile struct {
	Years   float64 // from now; the last year of the horizon where not Reached
	Reached bool    // false: it lies beyond the horizon
}

// ReplacementYear returns the first of the years at which the probability of
// failure is at least 10, 50 and 90 %. The middle one is the replacement year;
// the other two are its band. Years rise, failed does not fall; nothing is
// interpolated, so the answer is as fine as the years given.
func ReplacementYear(years, failed []float64) (early, middle, late Quantile) {
	return firstYear(years, failed, 0.1), firstYear(years, failed, 0.5), firstYear(years, failed, 0.9)
}

func firstYear(years, failed []float64, probability float64) Quantile {
	for i, f := range failed {
		if f >= probability {
			return Quantile{years[i], true}
		}
	}
	if len(years) == 0 {
		return Quantile{}
	}
	return Quantile{Years: years[len(years)-1]}
}
