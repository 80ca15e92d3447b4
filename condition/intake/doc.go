// Package intake knows the kinds of file that an inventory is filled from, and
// tells from a file which one it is, for the command line and the pages alike.
//
// The functions share nothing and may be used by many goroutines; what they
// are given belongs to one.
package intake
