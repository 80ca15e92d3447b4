// Package strategy says what each way of looking after one joint is expected to
// cost: a treatment and its year chosen now, the harm of a failed seal until
// then, and renewal at the best age for ever after. From it come the best
// treatment and year with no limit of money, and the cost of waiting a year.
//
// It is for the maintenance planner's ranking and the plan that packages build
// upon it.
//
// Strategies are of fixed years: nobody looks at the joint's state before
// acting. All money is constant dollars, present values stand at the start of
// the first year. Nothing here holds state; a Value may be read by many
// goroutines.
package strategy
