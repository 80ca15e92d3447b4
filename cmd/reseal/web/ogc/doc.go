// Package ogc answers a GIS by OGC API - Features - Part 1: Core (OGC
// 17-069r4): requirements classes Core, GeoJSON and OpenAPI 3.0. It knows
// collections as rows with columns; what they are of is told by who makes the
// Service. Features stream: memory does not grow with a page's length.
//
// A Service may be used by many goroutines.
package ogc
