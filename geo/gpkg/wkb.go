package gpkg

import (
	"encoding/binary"
	"fmt"
	"math"

	"github.com/paulmach/orb"
)

// Geometry type codes of well-known binary, OGC 06-103r4 table 7.
const (
	wkbPoint = iota + 1
	wkbLineString
	wkbPolygon
	wkbMultiPoint
	wkbMultiLineString
	wkbMultiPolygon
	wkbCollection
)

// maxDepth bounds collections within collections, so that hostile bytes
// cannot exhaust the stack.
const maxDepth = 32

func appendHead(dst []byte, kind uint32) []byte {
	return binary.LittleEndian.AppendUint32(append(dst, 1), kind)
}

func appendPoint(dst []byte, p orb.Point) []byte {
	return appendXY(appendHead(dst, wkbPoint), p)
}

func appendXY(dst []byte, p orb.Point) []byte {
	dst = binary.LittleEndian.AppendUint64(dst, math.Float64bits(p[0]))
	return binary.LittleEndian.AppendUint64(dst, math.Float64bits(p[1]))
}

// appendPoints appends a count and that many points, and grows env by them.
func appendPoints(dst []byte, points []orb.Point, env *extent) ([]byte, error) {
	dst = binary.LittleEndian.AppendUint32(dst, uint32(len(points)))
	for _, p := range points {
		if !finite(p) {
			return dst, notFinite(p)
		}
		env.add(p)
		dst = appendXY(dst, p)
	}
	return dst, nil
}

// appendParts appends a head, a count, and each part as a geometry of its own.
func appendParts[T orb.Geometry](dst []byte, kind uint32, parts []T, env *extent) ([]byte, error) {
	dst = binary.LittleEndian.AppendUint32(appendHead(dst, kind), uint32(len(parts)))
	var err error
	for _, part := range parts {
		if dst, err = appendWKB(dst, part, env); err != nil {
			return dst, err
		}
	}
	return dst, nil
}

func appendWKB(dst []byte, g orb.Geometry, env *extent) ([]byte, error) {
	var err error
	switch g := g.(type) {
	case orb.Point:
		if !finite(g) {
			return dst, notFinite(g)
		}
		env.add(g)
		return appendPoint(dst, g), nil
	case orb.LineString:
		return appendPoints(appendHead(dst, wkbLineString), g, env)
	case orb.Polygon:
		dst = binary.LittleEndian.AppendUint32(appendHead(dst, wkbPolygon), uint32(len(g)))
		for _, ring := range g {
			if dst, err = appendPoints(dst, ring, env); err != nil {
				return dst, err
			}
		}
		return dst, nil
	case orb.MultiPoint:
		return appendParts(dst, wkbMultiPoint, g, env)
	case orb.MultiLineString:
		return appendParts(dst, wkbMultiLineString, g, env)
	case orb.MultiPolygon:
		return appendParts(dst, wkbMultiPolygon, g, env)
	case orb.Collection:
		return appendParts(dst, wkbCollection, g, env)
	}
	return dst, fmt.Errorf("%w: cannot write a %T here", ErrInvalid, g)
}

// reader takes well-known binary from the front of data. orb's own decoder is
// not used because it keeps only the low four bits of the type, which turns a
// point with a measure (2001) into a point with another place.
type reader struct {
	data  []byte
	order binary.ByteOrder
}

var errShort = fmt.Errorf("%w: it ends too early", ErrInvalid)

func (r *reader) head() (uint32, error) {
	if len(r.data) < 5 {
		return 0, errShort
	}
	if r.data[0] > 1 {
		return 0, fmt.Errorf("%w: byte order %d", ErrInvalid, r.data[0])
	}
	r.order = byteOrder(r.data[0])
	kind := r.order.Uint32(r.data[1:])
	r.data = r.data[5:]
	if kind < wkbPoint || kind > wkbCollection {
		return 0, fmt.Errorf("%w: well-known binary type %d (only two-dimensional points, lines, polygons and sets of them)",
			ErrUnsupported, kind)
	}
	return kind, nil
}

// count takes a number of parts, each at least minLen bytes long, and refuses
// one that the remaining bytes cannot hold.
func (r *reader) count(minLen int) (int, error) {
	if len(r.data) < 4 {
		return 0, errShort
	}
	n := int64(r.order.Uint32(r.data))
	r.data = r.data[4:]
	if n > int64(len(r.data)/minLen) {
		return 0, errShort
	}
	return int(n), nil
}

func (r *reader) point() (orb.Point, error) {
	if len(r.data) < 16 {
		return orb.Point{}, errShort
	}
	p := orb.Point{math.Float64frombits(r.order.Uint64(r.data)), math.Float64frombits(r.order.Uint64(r.data[8:]))}
	r.data = r.data[16:]
	if !finite(p) {
		return p, notFinite(p)
	}
	return p, nil
}

func (r *reader) points() ([]orb.Point, error) {
	n, err := r.count(16)
	if err != nil {
		return nil, err
	}
	points := make([]orb.Point, n)
	for i := range points {
		if points[i], err = r.point(); err != nil {
			return nil, err
		}
	}
	return points, nil
}

// parts takes a count and that many geometries, all of type T.
func parts[T orb.Geometry](r *reader, depth, minLen int) ([]T, error) {
	n, err := r.count(minLen)
	if err != nil {
		return nil, err
	}
	out := make([]T, n)
	for i := range out {
		g, err := r.geometry(depth + 1)
		if err != nil {
			return nil, err
		}
		part, ok := g.(T)
		if !ok {
			return nil, fmt.Errorf("%w: a set of %T holds a %T", ErrInvalid, out[i], g)
		}
		out[i] = part
	}
	return out, nil
}

func (r *reader) geometry(depth int) (orb.Geometry, error) {
	if depth > maxDepth {
		return nil, fmt.Errorf("%w: collections nested more than %d deep", ErrUnsupported, maxDepth)
	}
	kind, err := r.head()
	if err != nil {
		return nil, err
	}
	switch kind {
	case wkbPoint:
		return as[orb.Point](r.point())
	case wkbLineString:
		points, err := r.points()
		return as(orb.LineString(points), err)
	case wkbPolygon:
		return as(r.polygon())
	case wkbMultiPoint:
		set, err := parts[orb.Point](r, depth, 21)
		return as(orb.MultiPoint(set), err)
	case wkbMultiLineString:
		set, err := parts[orb.LineString](r, depth, 9)
		return as(orb.MultiLineString(set), err)
	case wkbMultiPolygon:
		set, err := parts[orb.Polygon](r, depth, 9)
		return as(orb.MultiPolygon(set), err)
	default:
		set, err := parts[orb.Geometry](r, depth, 9)
		return as(orb.Collection(set), err)
	}
}

func (r *reader) polygon() (orb.Polygon, error) {
	n, err := r.count(4)
	if err != nil {
		return nil, err
	}
	polygon := make(orb.Polygon, n)
	for i := range polygon {
		ring, err := r.points()
		if err != nil {
			return nil, err
		}
		polygon[i] = ring
	}
	return polygon, nil
}

// as gives nothing but the error when there is one.
func as[T orb.Geometry](g T, err error) (orb.Geometry, error) {
	if err != nil {
		return nil, err
	}
	return g, nil
}

// emptyPoint tells whether the body is POINT EMPTY: both coordinates not a
// number (OGC 12-128r19, requirement 152).
func (r reader) emptyPoint() bool {
	kind, err := r.head()
	if err != nil || kind != wkbPoint || len(r.data) != 16 {
		return false
	}
	return math.IsNaN(math.Float64frombits(r.order.Uint64(r.data))) &&
		math.IsNaN(math.Float64frombits(r.order.Uint64(r.data[8:])))
}
