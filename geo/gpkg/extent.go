package gpkg

import (
	"math"

	"github.com/paulmach/orb"
)

// extent is a box that begins empty.
type extent struct{ minX, maxX, minY, maxY float64 }

func newExtent() extent {
	return extent{math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)}
}

func (e *extent) add(p orb.Point) {
	e.minX, e.maxX = min(e.minX, p[0]), max(e.maxX, p[0])
	e.minY, e.maxY = min(e.minY, p[1]), max(e.maxY, p[1])
}

func (e extent) empty() bool { return e.minX > e.maxX }

// IsEmpty tells whether the blob holds an empty geometry.
func IsEmpty(blob []byte) (bool, error) {
	e, err := blobExtent(blob)
	return e.empty(), err
}

// MinX returns the least x (longitude) of the blob's geometry; ok is false
// when the geometry is empty. It reads the envelope where there is one.
func MinX(blob []byte) (x float64, ok bool, err error) {
	e, err := blobExtent(blob)
	return side(e, e.minX, err)
}

// MaxX returns the greatest x; see MinX.
func MaxX(blob []byte) (x float64, ok bool, err error) {
	e, err := blobExtent(blob)
	return side(e, e.maxX, err)
}

// MinY returns the least y (latitude); see MinX.
func MinY(blob []byte) (y float64, ok bool, err error) {
	e, err := blobExtent(blob)
	return side(e, e.minY, err)
}

// MaxY returns the greatest y; see MinX.
func MaxY(blob []byte) (y float64, ok bool, err error) {
	e, err := blobExtent(blob)
	return side(e, e.maxY, err)
}

func side(e extent, v float64, err error) (float64, bool, error) {
	if err != nil || e.empty() {
		return 0, false, err
	}
	return v, true, nil
}

// blobExtent takes the extent from the envelope, from a bare point, or, for
// the rare line that came without an envelope, from the whole geometry.
func blobExtent(blob []byte) (extent, error) {
	none := newExtent()
	h, err := parseHeader(blob)
	if err != nil {
		return none, err
	}
	if h.empty {
		return none, nil
	}
	if h.envelope != 0 {
		var v [4]float64
		for i := range v {
			v[i] = math.Float64frombits(h.order.Uint64(blob[headerLen+8*i:]))
		}
		for _, p := range [...]orb.Point{{v[0], v[2]}, {v[1], v[3]}} {
			if !finite(p) {
				return none, notFinite(p)
			}
		}
		return extent{v[0], v[1], v[2], v[3]}, nil
	}
	r := reader{data: blob[h.bodyAt:]}
	if r.emptyPoint() {
		return none, nil
	}
	if kind, err := r.head(); err == nil && kind == wkbPoint {
		p, err := r.point()
		if err != nil {
			return none, err
		}
		return extent{p[0], p[0], p[1], p[1]}, nil
	}
	g, _, err := DecodeBlob(blob)
	if err != nil {
		return none, err
	}
	_, err = appendWKB(nil, g, &none)
	return none, err
}
