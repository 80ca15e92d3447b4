// Package inventory is what stands in the network: bridges, their deck joints,
// the stretches and seals of each joint, the work done, findings between
// inspections and bridge projects to come; and the ways in which they get on
// record.
//
// Functions that read take a bun.IDB: the store's read pool, or a transaction
// that must see its own writes. Functions that write take a *store.Tx, which
// knows who acts and when. Values are plain and belong to one goroutine.
package inventory
