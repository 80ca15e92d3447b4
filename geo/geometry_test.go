package geo_test

import (
	"database/sql"
	"database/sql/driver"
	"encoding/json"
	"errors"
	"math"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
	_ "github.com/mattn/go-sqlite3"
	"github.com/paulmach/orb"

	"reseal/geo"
	"reseal/geo/geojson"
	"reseal/geo/gpkg"
)

var _ driver.Valuer = geo.Geometry{}

func TestGeometryInDatabase(t *testing.T) {
	db, err := sql.Open("sqlite3", filepath.Join(t.TempDir(), "test.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for _, tt := range []struct {
		name string
		g    orb.Geometry
	}{
		{"none", nil},
		{"point", orb.Point{-122.25, 47.5}},
		{"line", orb.LineString{{-122.25, 47.5}, {-122.2, 47.6}}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := geo.Geometry{Geometry: orb.Point{9, 9}} // is to be replaced
			if err := db.QueryRow("SELECT ?", geo.Geometry{Geometry: tt.g}).Scan(&got); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(tt.g, got.Geometry); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

func TestGeometryScanRefuses(t *testing.T) {
	mercator, err := gpkg.AppendBlob(nil, orb.Point{1e6, 1e6}, 3857)
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name string
		src  any
		want error
	}{
		{"text", "POINT(1 2)", geo.ErrInvalid},
		{"not a blob of a geometry", []byte("POINT(1 2)"), gpkg.ErrInvalid},
		{"metres", mercator, geo.ErrInvalid},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := geo.Geometry{Geometry: orb.Point{1, 2}}
			if err := got.Scan(tt.src); !errors.Is(err, tt.want) || got.Geometry != nil {
				t.Errorf("got %v, %v, want %v", got, err, tt.want)
			}
		})
	}
	if _, err := (geo.Geometry{Geometry: orb.Point{math.NaN(), 0}}).Value(); !errors.Is(err, gpkg.ErrInvalid) {
		t.Errorf("value not finite: got %v", err)
	}
}

func TestGeometryJSON(t *testing.T) {
	type row struct {
		Where geo.Geometry `json:"where"`
	}
	for _, tt := range []struct {
		name, doc string
		g         orb.Geometry
	}{
		{"none", `{"where":null}`, nil},
		{"point", `{"where":{"type":"Point","coordinates":[-122.25,47.5]}}`, orb.Point{-122.25, 47.5}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			doc, err := json.Marshal(row{geo.Geometry{Geometry: tt.g}})
			if err != nil || string(doc) != tt.doc {
				t.Errorf("got %s, %v, want %s", doc, err, tt.doc)
			}
			var got row
			if err := json.Unmarshal(doc, &got); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(tt.g, got.Where.Geometry); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
	var got row
	if err := json.Unmarshal([]byte(`{"where":{"type":"Point","coordinates":[47.5,-122.25]}}`), &got); !errors.Is(err, geojson.ErrInvalid) {
		t.Errorf("latitude first: got %v, %v, want ErrInvalid", got, err)
	}
}
