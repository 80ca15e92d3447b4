// Package score tells whether forecasts of failure were any good: it compares
// probabilities stated beforehand with what was then found on the bridges.
//
// It is for the statistician who asks whether a model may be believed, and for
// the planner who wants the answer in words. Every function takes the cases,
// what happened to each joint, and beside them one probability of failure for
// each case, so that a model and its rivals are judged on the same cases.
//
// Nothing here holds state: every function is safe for concurrent use as long
// as its arguments are not changed meanwhile. The order of the cases makes no
// difference beyond rounding.
package score
