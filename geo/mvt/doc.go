// Package mvt writes vector tiles of points and lines for a map in a browser,
// by the Mapbox Vector Tile Specification 2.1. It knows nothing of joints.
//
// The encoder of the geometry library that reseal uses otherwise brings a
// database driver and a retired protocol buffer library along, and takes a map
// of values for each feature; tiles here hold thousands of features with the
// same few fields.
//
// A Layer belongs to one goroutine.
package mvt
