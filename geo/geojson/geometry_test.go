package geojson_test

import (
	"encoding/json"
	"errors"
	"math"
	"strconv"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"reseal/geo/geojson"
)

func TestAppendGeometry(t *testing.T) {
	// The first six follow the examples of RFC 7946 appendix A.
	outer := orb.Ring{{100, 0}, {101, 0}, {101, 1}, {100, 1}, {100, 0}}
	hole := orb.Ring{{100.8, 0.8}, {100.8, 0.2}, {100.2, 0.2}, {100.2, 0.8}, {100.8, 0.8}}
	const rings = `[[[100,0],[101,0],[101,1],[100,1],[100,0]],[[100.8,0.8],[100.8,0.2],[100.2,0.2],[100.2,0.8],[100.8,0.8]]]`
	turned := func(r orb.Ring) orb.Ring { r = r.Clone(); r.Reverse(); return r }
	for _, tt := range []struct {
		name string
		g    orb.Geometry
		want string
	}{
		{"point", orb.Point{100, 0}, `{"type":"Point","coordinates":[100,0]}`},
		{"line", orb.LineString{{100, 0}, {101, 1}}, `{"type":"LineString","coordinates":[[100,0],[101,1]]}`},
		{"polygon with a hole", orb.Polygon{outer, hole}, `{"type":"Polygon","coordinates":` + rings + `}`},
		{"points", orb.MultiPoint{{100, 0}, {101, 1}}, `{"type":"MultiPoint","coordinates":[[100,0],[101,1]]}`},
		{"lines", orb.MultiLineString{{{100, 0}, {101, 1}}, {{102, 2}, {103, 3}}}, `{"type":"MultiLineString","coordinates":[[[100,0],[101,1]],[[102,2],[103,3]]]}`},
		{
			"collection",
			orb.Collection{orb.Point{100, 0}, orb.LineString{{101, 0}, {102, 1}}},
			`{"type":"GeometryCollection","geometries":[{"type":"Point","coordinates":[100,0]},{"type":"LineString","coordinates":[[101,0],[102,1]]}]}`,
		},
		{"polygons, rings turned the wrong way", orb.MultiPolygon{{turned(outer), turned(hole)}}, `{"type":"MultiPolygon","coordinates":[` + rings + `]}`},
		{"ring", outer, `{"type":"Polygon","coordinates":[[[100,0],[101,0],[101,1],[100,1],[100,0]]]}`},
		{"bound", orb.Bound{Min: orb.Point{100, 0}, Max: orb.Point{101, 1}}, `{"type":"Polygon","coordinates":[[[100,0],[101,0],[101,1],[100,1],[100,0]]]}`},
		{"nil", nil, `null`},
		{"empty set", orb.MultiPolygon{}, `null`},
		{"rounded, no trailing zeros", orb.Point{-0.12345675, 10.10000001}, `{"type":"Point","coordinates":[-0.1234568,10.1]}`},
		{"no negative zero", orb.Point{-1e-9, math.Copysign(0, -1)}, `{"type":"Point","coordinates":[0,0]}`},
		{"larger than whole numbers hold", orb.Point{1e300, -1e9}, `{"type":"Point","coordinates":[1e+300,-1000000000]}`},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, err := geojson.AppendGeometry(nil, tt.g, geojson.DefaultDecimals)
			if err != nil {
				t.Fatal(err)
			}
			if string(got) != tt.want {
				t.Errorf("got  %s\nwant %s", got, tt.want)
			}
		})
	}
}

// TestCoordinates: numbers are those of strconv with as many decimals.
func TestCoordinates(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		decimals := rapid.IntRange(1, 15).Draw(t, "decimals")
		lon := rapid.Float64Range(-180, 180).Draw(t, "lon")
		doc, err := geojson.AppendGeometry(nil, orb.Point{lon, 0}, decimals)
		if err != nil {
			t.Fatal(err)
		}
		var got struct{ Coordinates []float64 }
		if err := json.Unmarshal(doc, &got); err != nil {
			t.Fatal(err)
		}
		want, err := strconv.ParseFloat(strconv.FormatFloat(lon, 'f', decimals, 64), 64)
		if err != nil {
			t.Fatal(err)
		}
		// A tie may fall the other way: one unit of the last decimal, then.
		if diff := math.Abs(got.Coordinates[0] - want); diff > math.Pow10(-decimals)+1e-13 ||
			math.Abs(got.Coordinates[0]-lon) > 0.5*math.Pow10(-decimals)+1e-13 {
			t.Fatalf("%v to %d decimals: got %v, want %v", lon, decimals, got.Coordinates[0], want)
		}
	})
}

func TestParseGeometryRoundTrip(t *testing.T) {
	ring := orb.Ring{{0, 0}, {2, 0}, {2, 2}, {0, 0}}
	for _, g := range []orb.Geometry{
		orb.Point{-122.25, 47.5},
		orb.LineString{{1, 2}, {3, 4}},
		orb.Polygon{ring},
		orb.MultiPoint{{1, 2}},
		orb.MultiLineString{{{1, 2}, {3, 4}}},
		orb.MultiPolygon{{ring}},
		orb.Collection{orb.Point{1, 2}, orb.Polygon{ring}},
		nil,
	} {
		doc, err := geojson.AppendGeometry(nil, g, geojson.DefaultDecimals)
		if err != nil {
			t.Fatal(err)
		}
		got, err := geojson.ParseGeometry(doc)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(g, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", doc, diff)
		}
	}
}

func TestParseGeometry(t *testing.T) {
	for _, tt := range []struct {
		name, doc string
		want      orb.Geometry
		wantErr   error
	}{
		{"height is dropped", `{"type":"Point","coordinates":[1,2,300]}`, orb.Point{1, 2}, nil},
		{"foreign members are passed over", `{"type":"Point","coordinates":[1,2],"crs":null}`, orb.Point{1, 2}, nil},
		{"empty array is no geometry", `{"type":"LineString","coordinates":[ ]}`, nil, nil},
		{"one number", `{"type":"Point","coordinates":[1]}`, nil, geojson.ErrInvalid},
		{"null for a number", `{"type":"Point","coordinates":[null,2]}`, nil, geojson.ErrInvalid},
		{"four numbers", `{"type":"Point","coordinates":[1,2,3,4]}`, nil, geojson.ErrInvalid},
		{"latitude first", `{"type":"Point","coordinates":[47.5,-122.25]}`, nil, geojson.ErrInvalid},
		{"no coordinates", `{"type":"Point"}`, nil, geojson.ErrInvalid},
		{"null coordinates", `{"type":"Point","coordinates":null}`, nil, geojson.ErrInvalid},
		{"text", `{"type":"Point","coordinates":["1","2"]}`, nil, geojson.ErrInvalid},
		{"line of one", `{"type":"LineString","coordinates":[[1,2]]}`, nil, geojson.ErrInvalid},
		{"empty line in a set", `{"type":"MultiLineString","coordinates":[[]]}`, nil, geojson.ErrInvalid},
		{"ring not closed", `{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,1]]]}`, nil, geojson.ErrInvalid},
		{"ring of three", `{"type":"Polygon","coordinates":[[[0,0],[1,0],[0,0]]]}`, nil, geojson.ErrInvalid},
		{"null in a collection", `{"type":"GeometryCollection","geometries":[null]}`, nil, geojson.ErrInvalid},
		{"a feature", `{"type":"Feature","geometry":null,"properties":null}`, nil, geojson.ErrInvalid},
		{"not JSON", `{`, nil, geojson.ErrInvalid},
		{"a number that JSON cannot hold", `{"type":"Point","coordinates":[1e999,0]}`, nil, geojson.ErrInvalid},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, err := geojson.ParseGeometry([]byte(tt.doc))
			if !errors.Is(err, tt.wantErr) || cmp.Diff(tt.want, got) != "" {
				t.Errorf("got %v, %v, want %v, %v", got, err, tt.want, tt.wantErr)
			}
		})
	}
}

// FuzzParseGeometry: what is read can be written, and reads the same again.
func FuzzParseGeometry(f *testing.F) {
	for _, s := range []string{
		`null`, `{"type":"Point","coordinates":[1,2]}`, `{"type":"Polygon","coordinates":[[[0,0],[2,0],[2,2],[0,0]]]}`,
		`{"type":"GeometryCollection","geometries":[{"type":"MultiPoint","coordinates":[[1,2]]}]}`, `{"type":"MultiPolygon","coordinates":[[[]]]}`,
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, doc []byte) {
		g, err := geojson.ParseGeometry(doc)
		if err != nil {
			if !errors.Is(err, geojson.ErrInvalid) || g != nil {
				t.Fatalf("got %v, %v", g, err)
			}
			return
		}
		again, err := geojson.AppendGeometry(nil, g, 15)
		if err != nil {
			t.Fatalf("cannot write %v: %v", g, err)
		}
		if _, err := geojson.ParseGeometry(again); err != nil {
			t.Fatalf("cannot read %s: %v", again, err)
		}
	})
}
