// Package store opens the database of an inventory: one file that is at once
// a SQLite database and an OGC GeoPackage. It migrates, reads back every
// pragma it relies on, hands out transactions that know who is acting and
// when, writes in bulk, and keeps the history of every row that people make.
// It knows tables and columns, not joints.
//
// A Store may be used by many goroutines: one writes at a time, many read.
// A Tx belongs to one goroutine.
package store
