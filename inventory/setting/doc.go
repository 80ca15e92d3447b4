// Package setting keeps the agency's settings, which are single numbers, and
// its tables. A package that works by them declares each once, with what it
// means and may be; here they are read, changed with history, imported and
// exported.
//
// Functions that read take a bun.IDB, functions that write a *store.Tx. Values
// belong to one goroutine.
package setting
