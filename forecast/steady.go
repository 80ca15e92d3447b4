package forecast

import (
	"math"

	"reseal/forecast/money"
)

// Steady is what it takes, year for year, to keep the network at some share
// failed: renewing as many as fail. Money is in constant dollars of the budget's
// first year. Shares are of what renewing every joint once would cost.
type Steady struct {
	FailedShare  float64        // failed now
	Whole        money.Constant // to renew every joint once
	Failed       money.Constant // to renew what has failed now
	FailingAYear money.Constant // a year, of what fails where nothing stays failed: the mean after the first year
	Years        int            // of the budget
}

// Hold is the yearly money that holds the failed share of today:
//
//	R (1 − φ)
//
// with R what fails a year where nothing stays failed and φ the failed share,
// which cannot fail again. (The fundamental renewal theorem's balance of what
// fails and what is renewed: Cox 1962, Renewal Theory, from memory.)
func (s Steady) Hold() money.Constant { return s.Reach(s.FailedShare) }

// Reach is the yearly money that brings the failed share to a target, 0 to 1,
// within the budget's years, evenly, and holds it:
//
//	R (1 − (φ + target) / 2) + (φ − target) W / years
//
// with W the cost of renewing every joint once; at least 0.
func (s Steady) Reach(target float64) money.Constant {
	during := (s.FailedShare + target) / 2
	v := float64(s.FailingAYear)*(1-during) + (s.FailedShare-target)*float64(s.Whole)/float64(max(s.Years, 1))
	return money.Constant(math.Round(max(0, v)))
}

// steady sums up the run.
func (r *renewalRun) steady() Steady {
	s := Steady{Whole: money.Constant(math.Round(r.wholeCents)), Failed: money.Constant(math.Round(r.failedCents)), Years: r.years}
	if r.wholeCents > 0 {
		s.FailedShare = r.failedCents / r.wholeCents
	}
	sum := 0.0
	for _, v := range r.network.mean[1:] { // the first year holds the backlog
		sum += v
	}
	if r.years > 1 {
		s.FailingAYear = money.Constant(math.Round(sum / float64(r.years-1)))
	}
	return s
}
