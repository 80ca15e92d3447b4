// Package gpkg writes and reads what makes a SQLite file an OGC GeoPackage
// 1.4.0 (OGC 12-128r19): the geometry blob, the metadata tables, the layers
// and the spatial index, so that any GIS opens the inventory file itself.
//
// It is for the store that keeps the inventory and for the exporter. The
// statements are text: the caller runs them inside its own transaction. The
// triggers of the spatial index call ST_MinX and its like, which SQLite does
// not have: Register defines them on a connection, and a connection without
// them can read but not change an indexed layer.
//
// Geometry has two dimensions, longitude (x) first. Heights and measures are
// refused, never dropped.
//
// Concurrency: every function is pure and safe for concurrent use, except
// Register, which belongs in the hook that opens a connection.
package gpkg
