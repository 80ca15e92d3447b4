// Package nbi reads the delimited text of the FHWA National Bridge Inventory:
// one line for each route on or under a bridge, columns named in the header
// line and ending in the item number (LAT_016, DECK_COND_058). It is for the
// importer of bridges, which takes a whole state in one pass.
//
// Columns are found by name, never by place. Codes become the words of the
// trade, metres become feet and kilometres miles, once, here. What a state's
// own program left odd in a row (a blank or impossible position, a date that
// is none, a row cut short) is told beside the record and does not lose it.
//
// The coding is that of the Recording and Coding Guide for the Structure
// Inventory and Appraisal of the Nation's Bridges, FHWA-PD-96-001, December
// 1995 (from memory, except where a test says otherwise).
//
// The package keeps no state: separate calls may run at the same time. One call
// gives its records in the order of the file, one at a time.
package nbi
