package mvt

import (
	"encoding/binary"
	"math"

	"github.com/paulmach/orb"
)

// Extent is the width of a tile in its own units.
const Extent = 4096

// Place is a position in a tile's units, from its north-west corner east and
// south; it may lie outside of the tile.
type Place struct{ X, Y int32 }

// Fraction is where a position in WGS 84 lies in the Web Mercator square: 0 to
// 1 from the north-west corner east and south. Latitudes beyond ±85.0511 are
// taken to the edge.
func Fraction(p orb.Point) (x, y float64) {
	sin := math.Sin(p[1] * math.Pi / 180)
	sin = min(max(sin, -0.99627207622), 0.99627207622) // tanh π: the square's own edge
	return p[0]/360 + 0.5, 0.5 - math.Log((1+sin)/(1-sin))/(4*math.Pi)
}

// Tile names one tile: at zoom Z the square is cut into 2^Z by 2^Z.
type Tile struct{ Z, X, Y int }

// Valid tells whether there is such a tile, up to zoom 22.
func (t Tile) Valid() bool {
	return t.Z >= 0 && t.Z <= 22 && t.X >= 0 && t.X < 1<<t.Z && t.Y >= 0 && t.Y < 1<<t.Z
}

// Place is a fraction of the square in the tile's units.
func (t Tile) Place(x, y float64) Place {
	n := math.Exp2(float64(t.Z))
	return Place{unit((x*n - float64(t.X)) * Extent), unit((y*n - float64(t.Y)) * Extent)}
}

func unit(v float64) int32 { return int32(min(max(math.Round(v), -1<<24), 1<<24)) }

// Value is the value of a field: a text, or a whole number where Text is empty.
type Value struct {
	Text   string
	Number int64
}

// Layer collects features that have the same fields.
type Layer struct {
	name     string
	keys     []string
	features []byte // the encoded features, each with its tag and length
	values   []Value
	at       map[Value]uint64 // of values
	tags     []byte
	geometry []byte
	one      []byte
	count    int
}

// NewLayer begins a layer whose features have the given fields.
func NewLayer(name string, keys ...string) *Layer {
	return &Layer{name: name, keys: keys, at: map[Value]uint64{}}
}

// Len is how many features the layer has.
func (l *Layer) Len() int { return l.count }

// The wire format: field numbers of the specification's vector_tile.proto
// (section 4.1 and appendix), with the wire types of protocol buffers.
const (
	varint, bytes = 0, 2

	tileLayers = 3<<3 | bytes

	layerName     = 1<<3 | bytes
	layerFeatures = 2<<3 | bytes
	layerKeys     = 3<<3 | bytes
	layerValues   = 4<<3 | bytes
	layerExtent   = 5<<3 | varint
	layerVersion  = 15<<3 | varint

	featureID       = 1<<3 | varint
	featureTags     = 2<<3 | bytes
	featureType     = 3<<3 | varint
	featureGeometry = 4<<3 | bytes

	valueText  = 1<<3 | bytes
	valueInt64 = 4<<3 | varint

	aPoint, aLine  = 1, 2
	moveTo, lineTo = 1, 2
)

// Point adds a point with the values of the layer's fields, in their order.
func (l *Layer) Point(id int64, at Place, values ...Value) {
	l.geometry = appendMove(append(l.geometry[:0], 1<<3|moveTo), Place{}, at)
	l.feature(id, aPoint, values)
}

// Line adds a straight line. One whose ends fall on the same unit is made one
// unit long: the specification has no line without length.
func (l *Layer) Line(id int64, from, to Place, values ...Value) {
	if from == to {
		to.X++
	}
	l.geometry = appendMove(append(l.geometry[:0], 1<<3|moveTo), Place{}, from)
	l.geometry = appendMove(append(l.geometry, 1<<3|lineTo), from, to)
	l.feature(id, aLine, values)
}

// appendMove appends the way from one place to another, zigzag encoded
// (section 4.3.2).
func appendMove(b []byte, from, to Place) []byte {
	zigzag := func(v int32) uint64 { return uint64(uint32(v<<1) ^ uint32(v>>31)) }
	b = binary.AppendUvarint(b, zigzag(to.X-from.X))
	return binary.AppendUvarint(b, zigzag(to.Y-from.Y))
}

func (l *Layer) feature(id int64, kind byte, values []Value) {
	l.tags = l.tags[:0]
	for k, v := range values {
		at, ok := l.at[v]
		if !ok {
			at = uint64(len(l.values))
			l.values = append(l.values, v)
			l.at[v] = at
		}
		l.tags = binary.AppendUvarint(binary.AppendUvarint(l.tags, uint64(k)), at)
	}
	f := l.one[:0]
	if id > 0 {
		f = binary.AppendUvarint(append(f, featureID), uint64(id))
	}
	f = appendBytes(f, featureTags, l.tags)
	f = append(f, featureType, kind)
	f = appendBytes(f, featureGeometry, l.geometry)
	l.one = f
	l.features = appendBytes(l.features, layerFeatures, f)
	l.count++
}

func appendBytes[T []byte | string](b []byte, tag byte, v T) []byte {
	return append(binary.AppendUvarint(append(b, tag), uint64(len(v))), v...)
}

// Encode returns a tile with the layers that have features. A tile without any
// is empty.
func Encode(layers ...*Layer) []byte {
	var out []byte
	for _, l := range layers {
		if l.count > 0 {
			out = appendBytes(out, tileLayers, l.encode())
		}
	}
	return out
}

func (l *Layer) encode() []byte {
	b := make([]byte, 0, len(l.features)+16*len(l.values)+64)
	b = append(b, layerVersion, 2)
	b = appendBytes(b, layerName, l.name)
	b = append(b, l.features...)
	for _, k := range l.keys {
		b = appendBytes(b, layerKeys, k)
	}
	for _, v := range l.values {
		one := appendBytes(nil, valueText, v.Text)
		if v.Text == "" {
			one = binary.AppendUvarint([]byte{valueInt64}, uint64(v.Number))
		}
		b = appendBytes(b, layerValues, one)
	}
	return binary.AppendUvarint(append(b, layerExtent), Extent)
}
