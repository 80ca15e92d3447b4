// Package element reads the bridge element data that agencies submit to the
// FHWA as XML, and knows what the element and defect numbers mean: which
// elements are joints, what they and the parts below them are called and
// measured in, and which parts the water of a leaking joint harms. It is for
// the importer of joints and for those who write about condition.
//
// A file is flat: FHWAED records with STATE, STRUCNUM, EN, EPN (left out where
// an element has no parent), TOTALQTY and CS1 to CS4. A quantity is that of the
// whole bridge: several joints share a record.
//
// Numbers are those of the FHWA Specification for the National Bridge Inventory
// Bridge Elements, 21 January 2014.
//
// The package keeps no state: separate calls may run at the same time. One call
// gives its records in the order of the file, one at a time.
package element
