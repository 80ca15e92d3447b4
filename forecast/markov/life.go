package markov

import (
	"fmt"
	"math"
)

// Seen says what is known at the end of an interval.
type Seen uint8

// What can be known at the end of an interval.
const (
	Inspected    Seen = iota // the shares by state, at an inspection
	FailedThen               // that the last state was reached at that very time
	NotYetFailed             // only that the last state had not been reached
	FailedSince              // only that some of it had come to the last state, at a time unknown
)

// Interval is the time between two inspections of one seal with no work done
// in between.
type Interval struct {
	Years  float64   // time between the inspections, over 0
	Before []float64 // share of the length in each state at its start
	After  []float64 // share of the length in each state at its end; only for Inspected
	Seen   Seen      // what is known at its end; the zero value is an inspection
	X      []float64 // covariates during the interval, in the panel's order
}

// shareTolerance is how much of a length may go astray by rounding to whole
// feet before an interval counts as an improvement: one part in ten thousand.
const shareTolerance = 1e-4

// Match writes to dst, row by row, the shares that went from each state to
// each other, under the rule that the worst feet stay the worst: the feet are
// lined up from best to worst before and after, and paired in order. dst must
// hold States² numbers. Where a foot would have improved the error is
// ErrImpossible.
func Match(dst, before, after []float64) error {
	n := len(before)
	clear(dst[:n*n])
	if err := checkShares(before); err != nil {
		return err
	}
	if err := checkShares(after); err != nil || len(after) != n {
		return fmt.Errorf("%w shares after", ErrInvalid)
	}
	i, j := 0, 0
	left, room := before[0], after[0]
	for {
		x := min(left, room)
		if x > 0 {
			if j < i && x > shareTolerance {
				return fmt.Errorf("%.1f %% of the length improved from state %d to %d: %w", 100*x, i+1, j+1, ErrImpossible)
			}
			dst[i*n+max(i, j)] += x
		}
		left -= x
		room -= x
		if left <= 0 {
			if i++; i == n {
				return nil
			}
			left = before[i]
		}
		if room <= 0 {
			if j++; j == n {
				return nil
			}
			room = after[j]
		}
	}
}

func checkShares(shares []float64) error {
	sum := 0.0
	for _, s := range shares {
		if !(s >= 0 && s <= 1+1e-9) {
			return fmt.Errorf("%w share %v: 0 to 1 wanted", ErrInvalid, s)
		}
		sum += s
	}
	if math.Abs(sum-1) > 1e-6 {
		return fmt.Errorf("%w shares: they add up to %v, not 1", ErrInvalid, sum)
	}
	return nil
}
