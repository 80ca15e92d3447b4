// Package geo places things on the ground: geometry as it is stored and
// exchanged, positions as bridge inventories write them, and distances and
// directions measured in feet. It is for every package that puts a bridge or a
// line across a deck on a map; it knows nothing of joints.
//
// A coordinate is longitude first, then latitude, in degrees of WGS 84, as in
// github.com/paulmach/orb, whose types are used throughout. Bearings are
// degrees clockwise from true north. Feet are international feet.
//
// Subpackages: gpkg writes OGC GeoPackage, geojson writes RFC 7946 GeoJSON.
//
// Concurrency: every function is pure and safe for concurrent use; a Geometry
// is a value, and is as safe as the slices inside it.
package geo
