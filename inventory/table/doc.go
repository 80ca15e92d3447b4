// Package table reads and writes spreadsheets, CSV and XLSX, whose columns are
// known by name. It is for the importers and exporters of the inventory and
// knows nothing of what the rows mean.
//
// A table is declared once, as a list of columns with their kinds, and its
// columns are addressed by their index in that list:
//
//	const (
//		tag = iota
//		length
//	)
//
//	columns := []table.Column{
//		tag:    {Name: "tag", Required: true},
//		length: {Name: "length_ft", Kind: table.Length, Required: true, Min: 1, Max: 500},
//	}
//
// The file may name them in another order, in other case and punctuation, by a
// synonym or in another unit of measure; values arrive in the declared unit. A
// cell that is not what its column declares is a Fault, which says where it is
// and what to do, and reading goes on, so that one pass finds them all.
//
// A Reader, its Row, a Writer and a BadRows are each for one goroutine at a
// time; different ones are independent.
package table
