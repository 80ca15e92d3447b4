package geo

import (
	"database/sql/driver"
	"fmt"

	"github.com/paulmach/orb"

	"reseal/geo/geojson"
	"reseal/geo/gpkg"
)

// Geometry is a geometry on its way to or from a database column or a JSON
// document. The zero value is no geometry: NULL in the database, null in JSON.
//
// In the database it is a GeoPackage blob in WGS 84, in JSON a GeoJSON geometry
// (RFC 7946).
type Geometry struct {
	orb.Geometry
}

// Value returns the GeoPackage blob, or NULL for no geometry. A coordinate that
// is not finite is an error.
func (g Geometry) Value() (driver.Value, error) {
	if g.Geometry == nil {
		return nil, nil
	}
	return gpkg.AppendBlob(nil, g.Geometry, gpkg.WGS84)
}

// Scan reads a GeoPackage blob. NULL and an empty point give no geometry. A
// blob in another reference system than WGS 84 is an error, because its
// numbers are not longitude and latitude; so are heights and measures.
func (g *Geometry) Scan(src any) error {
	g.Geometry = nil
	if src == nil {
		return nil
	}
	blob, ok := src.([]byte)
	if !ok {
		return fmt.Errorf("%w geometry: the column holds a %T, want a blob", ErrInvalid, src)
	}
	decoded, srsID, err := gpkg.DecodeBlob(blob)
	if err != nil {
		return err
	}
	if srsID != gpkg.WGS84 {
		return fmt.Errorf("%w geometry: it is in reference system %d, convert it to %d (WGS 84)", ErrInvalid, srsID, gpkg.WGS84)
	}
	g.Geometry = decoded
	return nil
}

// MarshalJSON returns the GeoJSON geometry with coordinates to 7 decimals,
// about a centimetre, or null.
func (g Geometry) MarshalJSON() ([]byte, error) {
	return geojson.AppendGeometry(nil, g.Geometry, geojson.DefaultDecimals)
}

// UnmarshalJSON reads a GeoJSON geometry or null. Positions outside the range
// of longitude and latitude are an error: they are most often swapped.
func (g *Geometry) UnmarshalJSON(data []byte) error {
	decoded, err := geojson.ParseGeometry(data)
	if err != nil {
		return err
	}
	g.Geometry = decoded
	return nil
}
