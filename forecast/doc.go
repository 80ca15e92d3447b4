// Package forecast says when each joint's seal will have failed, which seals
// to renew in a year, and what the coming years will cost. It is for the
// maintenance planner and the budget officer.
//
// A Model is made of the agency's tables and settings. It projects a joint
// from a Record, the plain values on record of it; Each streams the records of
// a network through it, Save keeps the answers, NewWorkList ranks a year's
// work and NewBudget adds up the years. A Prospect is what can be done to one
// joint; NewProblem lays those of a network out for a plan. The arithmetic of the
// chain is package markov, that of dollars package money, that of one joint's
// strategies package strategy, and the choice within each year's money package
// plan.
//
// All years are fiscal years, named after the calendar year in which they end;
// with the default settings they are calendar years. Probabilities and shares
// are parts of 1.
//
// A Model is safe for use by many goroutines. Each, and what is built on it,
// works on all processors and gives the same bytes on any number of them.
package forecast
