// Package web is reseal in a browser: the map, the work list, the joint, the
// inspection, the findings, the budget and the data, for the same three people
// as the command line and by the same functions. There is no arithmetic here.
//
// Pages are HTML from templates in pages/, with a little script in static/
// where the hand needs it. Everything that a page loads is in the binary: it
// asks no other host for anything. One file holds the handlers of one page.
//
// A Server is safe for use by many goroutines.
package web
