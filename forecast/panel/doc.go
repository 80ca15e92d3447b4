// Package panel fits and judges the deterioration model on a plain file: rows
// of subject, time and state, with covariates beside them. It is for the
// statistician who wants to check the estimator of package markov against
// another one, and for anyone with a history that is not of joints.
//
// Read takes a file in, Options say what to fit to it, Fit fits, and a Report
// holds what people read of a fit: rates and hazard ratios with their 95 %
// intervals, mean and median stays, −2 log L, and what was left out and why.
//
// Unless asked for otherwise a subject is one piece, subjects do not differ,
// and there are no priors: the panel likelihood of Kalbfleisch & Lawless
// (1985), J. Am. Stat. Assoc. 80:863.
//
// Nothing here holds state: a File may be used by many goroutines as long as
// none changes it.
package panel

import "errors"

// ErrInvalid marks a file or an option that cannot be used. Every error about
// them wraps it.
var ErrInvalid = errors.New("invalid panel")
