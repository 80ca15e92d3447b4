// Package layer is what can be seen of an inventory as rows with a place:
// bridges, joints, what is due, findings, forecasts and the work list. It says
// once what the fields of each are called, for exports and for the services
// that a map asks. Rows stream: memory does not grow with the network.
//
// A Layer may be used by many goroutines, a Sink by one.
package layer
