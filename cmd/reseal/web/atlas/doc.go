// Package atlas is the network as the map in the browser shows it: each joint
// in service where it lies, with its class on four scales, in memory, so that
// a tile or a search takes milliseconds for 100,000 joints.
//
// An Atlas is of one moment and is not changed: it may be used by many
// goroutines.
package atlas
