package geojson

import (
	"bytes"
	"encoding/json"
	"fmt"

	"github.com/paulmach/orb"
)

// maxDepth bounds collections within collections.
const maxDepth = 32

// ParseGeometry reads a GeoJSON geometry; null and an empty array of
// coordinates give nil. It is stricter than orb's reader, which takes a position of one number: a position has longitude
// and latitude within their range, and a height at most, which is dropped; a
// line has two positions at least; a ring is closed. Anything else gives
// ErrInvalid. Rings may wind either way.
func ParseGeometry(data []byte) (orb.Geometry, error) {
	return parseGeometry(data, 0)
}

func parseGeometry(data []byte, depth int) (orb.Geometry, error) {
	if bytes.Equal(bytes.TrimSpace(data), []byte("null")) {
		return nil, nil
	}
	if depth > maxDepth {
		return nil, fmt.Errorf("%w: collections nested more than %d deep", ErrInvalid, maxDepth)
	}
	var doc struct {
		Type        string            `json:"type"`
		Coordinates json.RawMessage   `json:"coordinates"`
		Geometries  []json.RawMessage `json:"geometries"`
	}
	if err := json.Unmarshal(data, &doc); err != nil {
		return nil, fmt.Errorf("%w: %v", ErrInvalid, err)
	}
	switch doc.Type {
	case "Point":
		return parseAs(doc.Coordinates, position.point)
	case "LineString":
		return parseAs(doc.Coordinates, parseLine)
	case "Polygon":
		return parseAs(doc.Coordinates, parsePolygon)
	case "MultiPoint":
		return parseAs(doc.Coordinates, func(c []position) (orb.MultiPoint, error) { return each(c, position.point) })
	case "MultiLineString":
		return parseAs(doc.Coordinates, func(c [][]position) (orb.MultiLineString, error) { return each(c, parseLine) })
	case "MultiPolygon":
		return parseAs(doc.Coordinates, func(c [][][]position) (orb.MultiPolygon, error) { return each(c, parsePolygon) })
	case "GeometryCollection":
		collection := make(orb.Collection, 0, len(doc.Geometries))
		for _, raw := range doc.Geometries {
			g, err := parseGeometry(raw, depth+1)
			if err != nil {
				return nil, err
			}
			if g == nil {
				return nil, fmt.Errorf("%w: null inside a collection", ErrInvalid)
			}
			collection = append(collection, g)
		}
		return collection, nil
	}
	return nil, fmt.Errorf("%w: geometry type %q", ErrInvalid, doc.Type)
}

// position is an array of numbers as it stands in the document; pointers,
// because encoding/json would read null as 0.
type position []*float64

// parseAs reads coordinates nested as C is, and builds the geometry from them.
func parseAs[C any, G orb.Geometry](raw json.RawMessage, build func(C) (G, error)) (orb.Geometry, error) {
	var c C
	if len(raw) == 0 || bytes.Equal(raw, []byte("null")) {
		return nil, fmt.Errorf("%w: no coordinates", ErrInvalid)
	}
	if raw[0] == '[' && bytes.Equal(bytes.TrimSpace(raw[1:]), []byte("]")) {
		return nil, nil
	}
	if err := json.Unmarshal(raw, &c); err != nil {
		return nil, fmt.Errorf("%w: coordinates: %v", ErrInvalid, err)
	}
	g, err := build(c)
	if err != nil {
		return nil, err
	}
	return g, nil
}

func each[C, G any](parts []C, build func(C) (G, error)) ([]G, error) {
	out := make([]G, len(parts))
	var err error
	for i, c := range parts {
		if out[i], err = build(c); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (p position) point() (orb.Point, error) {
	if len(p) < 2 || len(p) > 3 || p[0] == nil || p[1] == nil {
		return orb.Point{}, fmt.Errorf("%w: a position of %d numbers, want longitude, latitude and at most a height", ErrInvalid, len(p))
	}
	lon, lat := *p[0], *p[1]
	if lon < -180 || lon > 180 || lat < -90 || lat > 90 {
		return orb.Point{}, fmt.Errorf("%w: position [%v, %v] is outside longitude -180 to 180 or latitude -90 to 90 (longitude comes first)",
			ErrInvalid, lon, lat)
	}
	return orb.Point{lon, lat}, nil
}

func parseLine(c []position) (orb.LineString, error) {
	if len(c) < 2 {
		return nil, fmt.Errorf("%w: a line of %d positions, want 2 at least", ErrInvalid, len(c))
	}
	return each(c, position.point)
}

func parsePolygon(c [][]position) (orb.Polygon, error) {
	if len(c) == 0 {
		return nil, fmt.Errorf("%w: a polygon without a ring", ErrInvalid)
	}
	return each(c, func(c []position) (orb.Ring, error) {
		ring, err := each(c, position.point)
		if err == nil && (len(ring) < 4 || ring[0] != ring[len(ring)-1]) {
			err = fmt.Errorf("%w: a ring of %d positions, want 4 at least, the last equal to the first", ErrInvalid, len(ring))
		}
		return ring, err
	})
}
