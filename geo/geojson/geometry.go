package geojson

import (
	"fmt"
	"math"
	"strconv"

	"github.com/paulmach/orb"
)

// AppendGeometry appends g as a GeoJSON geometry with coordinates rounded to
// the given number of decimals (brought into 1 to 15), and returns the extended slice. A nil
// or empty geometry becomes null (RFC 7946 section 3.1). Outer rings are turned
// counter-clockwise and holes clockwise (section 3.1.6). A Ring or a Bound is
// written as a Polygon.
//
// A coordinate that is not finite, a line of one position, a ring that is not
// closed or has fewer than four positions, and an empty part inside a set give
// ErrInvalid; what is appended then is not to be used.
func AppendGeometry(dst []byte, g orb.Geometry, decimals int) ([]byte, error) {
	if empty(g) {
		return append(dst, "null"...), nil
	}
	a := newAppender(dst, decimals)
	a.geometry(g)
	return a.dst, a.err
}

// empty tells whether g has nothing to draw: an empty array, or only empty
// parts.
func empty(g orb.Geometry) bool {
	switch g := g.(type) {
	case nil:
		return true
	case orb.LineString:
		return len(g) == 0
	case orb.Ring:
		return len(g) == 0
	case orb.Polygon:
		return len(g) == 0
	case orb.MultiPoint:
		return len(g) == 0
	case orb.MultiLineString:
		return len(g) == 0
	case orb.MultiPolygon:
		return len(g) == 0
	case orb.Collection:
		return len(g) == 0
	}
	return false
}

// appender carries the output and the first error through the parts.
type appender struct {
	dst   []byte
	scale float64 // ten to the power of the decimals
	err   error
}

func newAppender(dst []byte, decimals int) appender {
	return appender{dst: dst, scale: math.Pow10(min(max(decimals, 1), 15))}
}

func (a *appender) fail(format string, args ...any) {
	if a.err == nil {
		a.err = fmt.Errorf("%w: "+format, append([]any{ErrInvalid}, args...)...)
	}
}

func (a *appender) open(kind string) {
	a.dst = append(append(append(a.dst, `{"type":"`...), kind...), `","coordinates":`...)
}

func (a *appender) geometry(g orb.Geometry) {
	switch g := g.(type) {
	case orb.Point:
		a.open("Point")
		a.position(g)
	case orb.LineString:
		a.open("LineString")
		a.line(g)
	case orb.Ring:
		a.open("Polygon")
		a.polygon(orb.Polygon{g})
	case orb.Bound:
		a.open("Polygon")
		a.polygon(g.ToPolygon())
	case orb.Polygon:
		a.open("Polygon")
		a.polygon(g)
	case orb.MultiPoint:
		a.open("MultiPoint")
		a.positions(g)
	case orb.MultiLineString:
		a.open("MultiLineString")
		list(a, g, a.line)
	case orb.MultiPolygon:
		a.open("MultiPolygon")
		list(a, g, a.polygon)
	case orb.Collection:
		a.dst = append(a.dst, `{"type":"GeometryCollection","geometries":`...)
		list(a, g, a.member)
	default:
		a.fail("cannot write a %T", g)
	}
	a.dst = append(a.dst, '}')
}

func (a *appender) member(g orb.Geometry) {
	if empty(g) {
		a.fail("a collection holds an empty geometry")
		return
	}
	a.geometry(g)
}

// list appends the parts between brackets.
func list[T any](a *appender, parts []T, one func(T)) {
	a.dst = append(a.dst, '[')
	for i, part := range parts {
		if i > 0 {
			a.dst = append(a.dst, ',')
		}
		one(part)
	}
	a.dst = append(a.dst, ']')
}

func (a *appender) line(line orb.LineString) {
	if len(line) < 2 {
		a.fail("a line of %d positions, want 2 at least", len(line))
		return
	}
	a.positions(line)
}

func (a *appender) positions(points []orb.Point) {
	a.dst = append(a.dst, '[')
	for i, p := range points {
		if i > 0 {
			a.dst = append(a.dst, ',')
		}
		a.position(p)
	}
	a.dst = append(a.dst, ']')
}

func (a *appender) polygon(polygon orb.Polygon) {
	if len(polygon) == 0 {
		a.fail("a polygon without a ring")
		return
	}
	a.dst = append(a.dst, '[')
	for i, ring := range polygon {
		if i > 0 {
			a.dst = append(a.dst, ',')
		}
		a.ring(ring, i == 0)
	}
	a.dst = append(a.dst, ']')
}

// ring appends a ring so that the area lies to its left when it is the outer
// one, to its right when it is a hole.
func (a *appender) ring(ring orb.Ring, outer bool) {
	if len(ring) < 4 || ring[0] != ring[len(ring)-1] {
		a.fail("a ring of %d positions, want 4 at least, the last equal to the first", len(ring))
		return
	}
	if counterClockwise(ring) == outer {
		a.positions(ring)
		return
	}
	a.dst = append(a.dst, '[')
	for i := len(ring) - 1; i >= 0; i-- {
		a.position(ring[i])
		if i > 0 {
			a.dst = append(a.dst, ',')
		}
	}
	a.dst = append(a.dst, ']')
}

// counterClockwise is the sign of the ring's area by the shoelace formula,
// taken from its first point so that small rings keep their digits.
func counterClockwise(ring orb.Ring) bool {
	twice, o := 0.0, ring[0]
	for i := 1; i < len(ring); i++ {
		p, q := ring[i-1], ring[i]
		twice += (p[0]-o[0])*(q[1]-o[1]) - (q[0]-o[0])*(p[1]-o[1])
	}
	return twice >= 0
}

func (a *appender) position(p orb.Point) {
	if math.IsNaN(p[0]-p[0]) || math.IsNaN(p[1]-p[1]) {
		a.fail("position (%v %v) is not finite", p[0], p[1])
		return
	}
	a.dst = append(a.coordinate(append(a.dst, '['), p[0]), ',')
	a.dst = append(a.coordinate(a.dst, p[1]), ']')
}

// coordinate appends v rounded to the decimals, without trailing zeros. It goes
// through a whole number, because strconv takes its slow way for a fixed number
// of decimals.
func (a *appender) coordinate(dst []byte, v float64) []byte {
	scaled := math.Round(v * a.scale)
	if math.Abs(scaled) >= 1<<53 {
		return appendFloat(dst, v)
	}
	n := int64(scaled)
	if n < 0 {
		dst, n = append(dst, '-'), -n
	}
	unit := int64(a.scale)
	dst = strconv.AppendInt(dst, n/unit, 10)
	rest := n % unit
	if rest == 0 {
		return dst
	}
	dst = append(dst, '.')
	for rest > 0 {
		unit /= 10
		dst = append(dst, byte('0'+rest/unit))
		rest %= unit
	}
	return dst
}

func emptyBound() orb.Bound {
	return orb.Bound{
		Min: orb.Point{math.Inf(1), math.Inf(1)},
		Max: orb.Point{math.Inf(-1), math.Inf(-1)},
	}
}

// growBound extends b by g. Empty parts, whose own bound is a place all the
// same, do not count.
func growBound(b *orb.Bound, g orb.Geometry) {
	if !empty(g) {
		*b = b.Union(g.Bound())
	}
}

func appendBound(dst []byte, b orb.Bound, decimals int) []byte {
	a := newAppender(append(dst, '['), decimals)
	for i, v := range [...]float64{b.Min[0], b.Min[1], b.Max[0], b.Max[1]} {
		if i > 0 {
			a.dst = append(a.dst, ',')
		}
		a.dst = a.coordinate(a.dst, v)
	}
	return append(a.dst, ']')
}
