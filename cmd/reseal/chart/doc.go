// Package chart draws small SVG charts for reports and pages: [Bars], [Bands],
// [Lines] and [Map].
//
// Each is a pure function from numbers to an SVG element as text, to be put
// into HTML as it is. It has a title and a description for those who cannot see
// it, each bar and point says its value when pointed at, and series differ in
// pattern, dash or mark as well as in colour, so that a print in black and
// white tells them apart. Colours are of the cividis scale (Nuñez, Anderton &
// Renslow 2018, PLOS ONE 13(7): e0199239; its stops from memory), whose
// lightness alone tells its steps apart. Texts take the colour of the page;
// there is no style attribute, script or outside reference in it, so a strict
// content security policy lets it through.
//
// Two charts on one page need different titles. A value that is not finite is
// left out. The same arguments give the same bytes. All functions may be called
// from many goroutines.
package chart
