// Package condition is how the joints are: inspections, the feet in each
// condition state, defects and gap readings; the rules that an entry must
// keep; what is due; and the checks that find what is missing or
// contradictory in the data.
//
// The rules are plain functions of plain values; loading and saving stand
// beside them. Functions that read take a bun.IDB, functions that write a
// *store.Tx. Values belong to one goroutine.
package condition
