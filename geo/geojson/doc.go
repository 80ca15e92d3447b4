// Package geojson writes GeoJSON (RFC 7946) as a stream, one feature after the
// other, so that memory does not grow with the number of features: for the
// exporter and for the web application's map. It also reads single geometries,
// more strictly than most readers, for what people send in.
//
// What it writes is WGS 84, longitude first, without a height. Polygons follow
// the right-hand rule. A geometry that crosses the antimeridian is written as
// it is, not cut. Text is escaped so that a document can stand inside a script
// element of a page.
//
// Concurrency: a Writer belongs to one goroutine at a time; the functions are
// pure.
package geojson
