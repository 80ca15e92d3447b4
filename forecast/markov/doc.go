// Package markov says how the feet of a joint seal pass from one condition
// state to the next: it fits the rates of a continuous-time Markov chain to
// inspections and projects a joint's condition, its probability of failure and
// its replacement year from them.
//
// It is arithmetic only. It takes plain slices and structs, opens no file and
// no database, and draws random numbers only from a source it is given. The
// forecast package loads the joints and stores the answers; a statistician can
// use this package alone on any panel of states at irregular times.
//
// A Panel or Ratings holds what was seen; FitPanel and FitRatings estimate a
// Model from it; a Fit gives a Chain and a Pace; an Outlook of these projects
// joints; package score says how good the projections were.
//
// States are numbered from 0, best first: CS1 of the bridge element standard
// is state 0 and CS4 is state 3. Times are decimal years of 365.25 days, rates
// are per year, and shares are parts of a joint's length that add up to 1.
//
// Moves, Chain, Pace, Fit and Outlook are safe for use by many goroutines once
// they are made. A Panel, Ratings or Projection belongs to one goroutine at a
// time. FitPanel and FitRatings run goroutines of their own and give the same
// bytes on any number of processors.
package markov

import "errors"

// Errors that callers can test for. Every error of the package wraps one.
var (
	// ErrInvalid marks an argument outside its range.
	ErrInvalid = errors.New("invalid")
	// ErrImpossible marks an observation that the allowed moves cannot produce.
	ErrImpossible = errors.New("impossible under the allowed moves")
)
