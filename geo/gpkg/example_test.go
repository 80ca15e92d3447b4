package gpkg_test

import (
	"fmt"

	"github.com/paulmach/orb"

	"reseal/geo/gpkg"
)

// A point is stored with its reference system and reads back the same.
func Example() {
	blob, err := gpkg.AppendBlob(nil, orb.Point{-122.25, 47.5}, gpkg.WGS84)
	if err != nil {
		fmt.Println(err)
		return
	}
	g, srsID, err := gpkg.DecodeBlob(blob)
	fmt.Println(len(blob), g, srsID, err)
	// Output: 29 [-122.25 47.5] 4326 <nil>
}

// The statements that show a table to a GIS; run them in one transaction.
func ExampleLayer() {
	layer := gpkg.Layer{Table: "bridges", GeometryColumn: "geom", GeometryType: "POINT"}
	index := gpkg.Index{Table: "bridges", GeometryColumn: "geom"}
	statements := append(gpkg.CoreSQL(),
		"CREATE TABLE bridges (id INTEGER PRIMARY KEY, name TEXT, geom POINT)")
	statements = append(statements, layer.RegisterSQL()...)
	statements = append(statements, index.CreateSQL()...)
	statements = append(statements, layer.ExtentSQL())
	fmt.Println(index.CreateSQL()[0])
	fmt.Println(statements[0])
	// Output:
	// CREATE VIRTUAL TABLE "rtree_bridges_geom" USING rtree(id, minx, maxx, miny, maxy)
	// PRAGMA application_id = 1196444487
}
