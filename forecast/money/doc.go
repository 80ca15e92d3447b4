// Package money holds the arithmetic of dollars: price indexes, discounting,
// fiscal years and the cost of treating a joint.
//
// It is for whoever turns feet of seal into a figure that a budget officer
// signs. Three kinds of dollars are three types, so that the compiler keeps
// them apart: [Nominal] dollars are what is paid in the year of spending,
// [Constant] dollars are at the price level of one stated year, and [Present]
// dollars are discounted to one stated year. Amounts are whole cents; shares
// of a sum add up to it exactly.
//
// Nothing here holds state: every function is safe for concurrent use as long
// as its arguments are not changed meanwhile.
package money
