// Package markov says how the feet of a joint seal pass from one condition
// state to the next: it fits the rates of a continuous-time Markov chain to
// inspections and projects a joint's condition, its probability of failure and
// its replacement year from them.
//
// It is arithmetic only. It takes plain slices and structs, opens no file and
// no database, and draws no random number. The forecast package loads the
// joints and stores the answers; a statistician can use this package alone on
// any panel of states at irregular times.
//
// States are numbered from 0, best first: CS1 of the bridge element standard
// is state 0 and CS4 is state 3. Times are decimal years of 365.25 days, rates
// are per year, and shares are parts of a joint's length that add up to 1.
//
// Moves, Chain, Pace and Outlook are safe for use by many goroutines once they
// are made. A Projection belongs to one goroutine. Fit runs its own goroutines
// and gives the same bytes on any number of processors.
package markov

import "errors"

// Errors that callers can test for. Every error of the package wraps one.
var (
	// ErrInvalid marks an argument outside its range.
	ErrInvalid = errors.New("invalid")
	// ErrImpossible marks an observation that the allowed moves cannot produce.
	ErrImpossible = errors.New("impossible under the allowed moves")
)
