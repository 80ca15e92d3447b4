package gpkg

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"
)

// WGS84 is the srs_id of WGS 84, longitude and latitude in degrees (EPSG 4326).
const WGS84 int32 = 4326

var (
	// ErrInvalid marks bytes that are not a GeoPackage geometry, or a
	// geometry or a name that cannot be written as part of one.
	ErrInvalid = errors.New("not a valid GeoPackage geometry")
	// ErrUnsupported marks a valid geometry that this package does not hold:
	// heights (Z), measures (M), curves, extended types.
	ErrUnsupported = errors.New("unsupported GeoPackage geometry")
)

// Bits and sizes of the header, OGC 12-128r19 section 2.1.3.1.1.
const (
	headerLen    = 8
	flagLittle   = 0x01
	flagEmpty    = 0x10
	flagExtended = 0x20
	flagReserved = 0xc0
	envelopeXY   = 1 << 1
)

// envelopeLen is the length in bytes of each envelope code: none, xy, xyz,
// xym, xyzm.
var envelopeLen = [...]int{0, 32, 48, 48, 64}

// AppendBlob appends g as a GeoPackage geometry blob, little endian, and
// returns the extended slice. Points carry no envelope; all others carry the
// xy envelope, and none when empty. A Ring or a Bound is written as a Polygon.
// A nil geometry, a coordinate that is not finite, or an unknown type gives
// ErrInvalid, and dst as it was.
func AppendBlob(dst []byte, g orb.Geometry, srsID int32) ([]byte, error) {
	switch v := g.(type) {
	case nil:
		return dst, fmt.Errorf("%w: no geometry, store NULL instead", ErrInvalid)
	case orb.Ring:
		g = orb.Polygon{v}
	case orb.Bound:
		g = v.ToPolygon()
	}
	at := len(dst)
	out := append(dst, 'G', 'P', 0, flagLittle)
	out = binary.LittleEndian.AppendUint32(out, uint32(srsID))
	if p, ok := g.(orb.Point); ok {
		if !finite(p) {
			return dst, notFinite(p)
		}
		return appendPoint(out, p), nil
	}
	out = append(out, make([]byte, envelopeLen[1])...)
	env := newExtent()
	out, err := appendWKB(out, g, &env)
	if err != nil {
		return dst, err
	}
	if env.empty() {
		out[at+3] |= flagEmpty
		n := copy(out[at+headerLen:], out[at+headerLen+envelopeLen[1]:])
		return out[:at+headerLen+n], nil
	}
	out[at+3] |= envelopeXY
	for i, v := range [...]float64{env.minX, env.maxX, env.minY, env.maxY} {
		binary.LittleEndian.PutUint64(out[at+headerLen+8*i:], math.Float64bits(v))
	}
	return out, nil
}

// DecodeBlob reads a GeoPackage geometry blob of either byte order and any
// envelope, and returns the geometry and its srs_id. An empty point gives a
// nil geometry, because orb has none. Heights, measures and extended types
// give ErrUnsupported; everything else that is wrong, bytes left over
// included, gives ErrInvalid. The envelope is not compared with the geometry.
func DecodeBlob(blob []byte) (orb.Geometry, int32, error) {
	h, err := parseHeader(blob)
	if err != nil {
		return nil, 0, err
	}
	r := reader{data: blob[h.bodyAt:]}
	if r.emptyPoint() {
		return nil, h.srsID, nil
	}
	g, err := r.geometry(0)
	if err != nil {
		return nil, 0, err
	}
	if len(r.data) != 0 {
		return nil, 0, fmt.Errorf("%w: %d bytes after its end", ErrInvalid, len(r.data))
	}
	return g, h.srsID, nil
}

// header is what stands before the WKB body of a blob.
type header struct {
	order    binary.ByteOrder
	srsID    int32
	envelope int // code 0 to 4
	empty    bool
	bodyAt   int
}

func parseHeader(blob []byte) (header, error) {
	if len(blob) < headerLen || blob[0] != 'G' || blob[1] != 'P' {
		return header{}, fmt.Errorf("%w: it does not begin with GP and a header of 8 bytes", ErrInvalid)
	}
	if blob[2] != 0 {
		return header{}, fmt.Errorf("%w: version %d, want 0", ErrUnsupported, blob[2])
	}
	flags := blob[3]
	if flags&flagExtended != 0 {
		return header{}, fmt.Errorf("%w: extended type", ErrUnsupported)
	}
	h := header{order: byteOrder(flags & flagLittle), envelope: int(flags >> 1 & 7), empty: flags&flagEmpty != 0}
	if flags&flagReserved != 0 || h.envelope >= len(envelopeLen) {
		return header{}, fmt.Errorf("%w: flags %#02x", ErrInvalid, flags)
	}
	h.srsID = int32(h.order.Uint32(blob[4:]))
	h.bodyAt = headerLen + envelopeLen[h.envelope]
	if len(blob) < h.bodyAt {
		return header{}, fmt.Errorf("%w: it ends inside its envelope", ErrInvalid)
	}
	return h, nil
}

func byteOrder(b byte) binary.ByteOrder {
	if b == 0 {
		return binary.BigEndian
	}
	return binary.LittleEndian
}

func finite(p orb.Point) bool {
	return !math.IsNaN(p[0]-p[0]) && !math.IsNaN(p[1]-p[1])
}

func notFinite(p orb.Point) error {
	return fmt.Errorf("%w: coordinate (%v %v) is not finite", ErrInvalid, p[0], p[1])
}
