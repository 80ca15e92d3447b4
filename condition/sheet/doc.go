// Package sheet makes the page that a crew takes to one joint: where it is,
// what to do and what goes in, the opening to expect at today's deck temperature, what to
// bring and why so much, hours and closures, steps with hold points, cautions,
// and room for the as-built readings.
//
// It serves the maintenance planner, who prints one sheet per joint of a work
// list, or per stage of a staged job, and the crew. New works a Sheet out from
// a Job and the agency's Practice; WriteText and WriteHTML print it.
//
// A new seal, a repair of the worst feet and cleaning have steps; other work
// needs drawings by an engineer, and gets no sheet.
//
// Work on a live road can kill. A sheet repeats the cautions and defers to
// local codes, the product's instructions and the engineer in charge.
//
// All functions are pure; values may be shared between goroutines that only
// read them.
package sheet
