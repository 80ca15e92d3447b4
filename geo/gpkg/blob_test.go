package gpkg_test

import (
	"bytes"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkb"
	"pgregory.net/rapid"

	"reseal/geo/gpkg"
)

func unhex(t testing.TB, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(s)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// The bytes follow OGC 12-128r19 section 2.1.3; testdata/geo/blobs.py lays them
// out without this package.
const (
	pointBlob         = "47500001e610000001010000000000000000905ec00000000000c04740"
	pointEnvelopeBlob = "47500003e61000000000000000905ec00000000000905ec00000000000c047400000000000c0474001010000000000000000905ec00000000000c04740"
	pointBigEndian    = "47500000000010e60000000001c05e9000000000004047c00000000000"
	pointBigEnvelope  = "47500002000010e6c05e900000000000c05e9000000000004047c000000000004047c000000000000000000001c05e9000000000004047c00000000000"
	pointEmptyBlob    = "47500011e61000000101000000000000000000f87f000000000000f87f"
	lineEmptyBlob     = "47500011e6100000010200000000000000"
	lineBlob          = "47500003e61000000000000000905ec00000000000805ec00000000000c047400000000000004840" +
		"0102000000020000000000000000905ec00000000000c047400000000000805ec00000000000004840"
)

func TestAppendBlobVectors(t *testing.T) {
	for _, tt := range []struct {
		name string
		g    orb.Geometry
		want string
	}{
		{"point has no envelope", orb.Point{-122.25, 47.5}, pointBlob},
		{"empty line has the flag and no envelope", orb.LineString{}, lineEmptyBlob},
		{"empty line of nil", orb.LineString(nil), lineEmptyBlob},
		{"line has its envelope", orb.LineString{{-122.25, 47.5}, {-122, 48}}, lineBlob},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, err := gpkg.AppendBlob([]byte("kept"), tt.g, gpkg.WGS84)
			if err != nil {
				t.Fatal(err)
			}
			if want := append([]byte("kept"), unhex(t, tt.want)...); !bytes.Equal(got, want) {
				t.Errorf("got %x, want %x", got, want)
			}
		})
	}
}

func TestDecodeBlobVectors(t *testing.T) {
	place := orb.Point{-122.25, 47.5}
	// Envelopes with heights and measures are allowed before a flat body.
	wide := func(code byte, size int) string {
		b := unhex(t, pointBlob)
		b[3] |= code << 1
		return hex.EncodeToString(b[:8]) + hex.EncodeToString(make([]byte, size)) + hex.EncodeToString(b[8:])
	}
	for _, tt := range []struct {
		name, blob string
		want       orb.Geometry
	}{
		{"little endian", pointBlob, place},
		{"xy envelope", pointEnvelopeBlob, place},
		{"big endian", pointBigEndian, place},
		{"big endian with envelope", pointBigEnvelope, place},
		{"xyz envelope", wide(2, 48), place},
		{"xym envelope", wide(3, 48), place},
		{"xyzm envelope", wide(4, 64), place},
		{"empty point is no geometry", pointEmptyBlob, nil},
		{"empty line", lineEmptyBlob, orb.LineString{}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, srsID, err := gpkg.DecodeBlob(unhex(t, tt.blob))
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(tt.want, got); diff != "" || srsID != gpkg.WGS84 {
				t.Errorf("srs %d, geometry (-want +got):\n%s", srsID, diff)
			}
		})
	}
}

func TestDecodeBlobRefuses(t *testing.T) {
	// change returns the point blob with one byte changed.
	change := func(at int, to byte) []byte {
		b := unhex(t, pointBlob)
		b[at] = to
		return b
	}
	kind := func(code uint32) []byte {
		b := unhex(t, pointBlob)
		binary.LittleEndian.PutUint32(b[9:], code)
		return b
	}
	nested := unhex(t, "47500001e6100000")
	for range 100 {
		nested = append(nested, unhex(t, "010700000001000000")...)
	}
	nested = append(nested, make([]byte, 4096)...)
	for _, tt := range []struct {
		name string
		blob []byte
		want error
	}{
		{"nothing", nil, gpkg.ErrInvalid},
		{"other magic", change(0, 'X'), gpkg.ErrInvalid},
		{"later version", change(2, 1), gpkg.ErrUnsupported},
		{"envelope code 5", change(3, 1|5<<1), gpkg.ErrInvalid},
		{"extended type", change(3, 0x21), gpkg.ErrUnsupported},
		{"reserved bits", change(3, 0x41), gpkg.ErrInvalid},
		{"body byte order 2", change(8, 2), gpkg.ErrInvalid},
		{"ends in the envelope", unhex(t, pointEnvelopeBlob)[:20], gpkg.ErrInvalid},
		{"ends in the point", unhex(t, pointBlob)[:28], gpkg.ErrInvalid},
		{"bytes left over", append(unhex(t, pointBlob), 0), gpkg.ErrInvalid},
		{"type 0", kind(0), gpkg.ErrUnsupported},
		{"point with height, ISO", kind(1001), gpkg.ErrUnsupported},
		{"point with measure, ISO", kind(2001), gpkg.ErrUnsupported},
		{"point with height, extended", kind(0x80000001), gpkg.ErrUnsupported},
		{"circular arc", kind(8), gpkg.ErrUnsupported},
		{"more points than bytes", unhex(t, "47500001e61000000102000000ffffffff"), gpkg.ErrInvalid},
		{"line in a set of points", unhex(t, "47500001e6100000010400000001000000010200000000000000000000000000000000000000"), gpkg.ErrInvalid},
		{"half a point is not a number", append(unhex(t, pointBlob)[:21], unhex(t, "000000000000f87f")...), gpkg.ErrInvalid},
		{"nested too deep", nested, gpkg.ErrUnsupported},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if got, _, err := gpkg.DecodeBlob(tt.blob); !errors.Is(err, tt.want) {
				t.Errorf("got %v, %v, want error %v", got, err, tt.want)
			}
		})
	}
}

func TestAppendBlobRefuses(t *testing.T) {
	for _, tt := range []struct {
		name string
		g    orb.Geometry
	}{
		{"no geometry", nil},
		{"point not a number", orb.Point{math.NaN(), 1}},
		{"line to infinity", orb.LineString{{0, 0}, {0, math.Inf(-1)}}},
		{"nil in a collection", orb.Collection{orb.Point{1, 2}, nil}},
		{"not a number in a hole", orb.Polygon{{{0, 0}, {1, 0}, {1, 1}, {0, 0}}, {{math.NaN(), 0}}}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, err := gpkg.AppendBlob([]byte("kept"), tt.g, gpkg.WGS84)
			if !errors.Is(err, gpkg.ErrInvalid) || string(got) != "kept" {
				t.Errorf("got %q, %v, want %q and ErrInvalid", got, err, "kept")
			}
		})
	}
}

// anyGeometry draws a geometry of any kind, empty ones included.
func anyGeometry(depth int) *rapid.Generator[orb.Geometry] {
	point := rapid.Custom(func(t *rapid.T) orb.Point {
		return orb.Point{rapid.Float64Range(-180, 180).Draw(t, "lon"), rapid.Float64Range(-90, 90).Draw(t, "lat")}
	})
	points := rapid.SliceOfN(point, 0, 6)
	line := rapid.Map(points, func(p []orb.Point) orb.LineString { return p })
	ring := rapid.Map(points, func(p []orb.Point) orb.Ring { return p })
	polygon := rapid.Map(rapid.SliceOfN(ring, 0, 3), func(r []orb.Ring) orb.Polygon { return r })
	wide := func(g any) orb.Geometry { return g.(orb.Geometry) }
	kinds := []*rapid.Generator[orb.Geometry]{
		rapid.Map(point, func(g orb.Point) orb.Geometry { return wide(g) }),
		rapid.Map(line, func(g orb.LineString) orb.Geometry { return wide(g) }),
		rapid.Map(polygon, func(g orb.Polygon) orb.Geometry { return wide(g) }),
		rapid.Map(points, func(g []orb.Point) orb.Geometry { return orb.MultiPoint(g) }),
		rapid.Map(rapid.SliceOfN(line, 0, 3), func(g []orb.LineString) orb.Geometry { return orb.MultiLineString(g) }),
		rapid.Map(rapid.SliceOfN(polygon, 0, 3), func(g []orb.Polygon) orb.Geometry { return orb.MultiPolygon(g) }),
	}
	if depth > 0 {
		kinds = append(kinds, rapid.Map(rapid.SliceOfN(anyGeometry(depth-1), 0, 3),
			func(g []orb.Geometry) orb.Geometry { return orb.Collection(g) }))
	}
	return rapid.OneOf(kinds...)
}

// TestBlobRoundTrip: what is written reads back the same, its body is what
// orb's encoder writes, and the sides are those of the points.
func TestBlobRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := anyGeometry(2).Draw(t, "geometry")
		blob, err := gpkg.AppendBlob(nil, g, gpkg.WGS84)
		if err != nil {
			t.Fatal(err)
		}
		got, srsID, err := gpkg.DecodeBlob(blob)
		if err != nil || srsID != gpkg.WGS84 {
			t.Fatalf("srs %d, %v", srsID, err)
		}
		if diff := cmp.Diff(g, got); diff != "" {
			t.Fatalf("(-want +got):\n%s", diff)
		}
		if body := wkb.MustMarshal(g); !bytes.HasSuffix(blob, body) {
			t.Fatalf("got %x, want the body %x", blob, body)
		}
		bare := append(append([]byte{}, blob[:8]...), wkb.MustMarshal(g)...)
		bare[3] = 1 // no envelope, no empty flag: sides come from the body
		for name, side := range map[string]func([]byte) (float64, bool, error){
			"MinX": gpkg.MinX, "MaxX": gpkg.MaxX, "MinY": gpkg.MinY, "MaxY": gpkg.MaxY,
		} {
			want, wantOK, err := side(blob)
			if err != nil {
				t.Fatal(err)
			}
			got, ok, err := side(bare)
			if err != nil || got != want || ok != wantOK {
				t.Fatalf("%s: with envelope %v %v, without %v %v, %v", name, want, wantOK, got, ok, err)
			}
		}
		if isEmpty, err := gpkg.IsEmpty(blob); err != nil || isEmpty != (blob[3]&0x10 != 0) {
			t.Fatalf("IsEmpty %v, %v; flags %#x", isEmpty, err, blob[3])
		}
	})
}

func TestSides(t *testing.T) {
	blob, err := gpkg.AppendBlob(nil, orb.LineString{{3, -4}, {-1, 2}, {0, 7}}, gpkg.WGS84)
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name string
		side func([]byte) (float64, bool, error)
		want float64
	}{{"MinX", gpkg.MinX, -1}, {"MaxX", gpkg.MaxX, 3}, {"MinY", gpkg.MinY, -4}, {"MaxY", gpkg.MaxY, 7}} {
		if got, ok, err := tt.side(blob); got != tt.want || !ok || err != nil {
			t.Errorf("%s: got %v, %v, %v, want %v", tt.name, got, ok, err, tt.want)
		}
	}
	blob[8+7] = 0x7f // the first number of the envelope is no longer finite
	blob[8+6] = 0xf8
	if got, ok, err := gpkg.MinX(blob); !errors.Is(err, gpkg.ErrInvalid) {
		t.Errorf("envelope not finite: got %v, %v, %v, want ErrInvalid", got, ok, err)
	}
}

// FuzzDecodeBlob: hostile bytes never panic, and what is taken can be written
// and read again.
func FuzzDecodeBlob(f *testing.F) {
	for _, s := range []string{pointBlob, pointEnvelopeBlob, pointBigEndian, pointBigEnvelope, pointEmptyBlob, lineEmptyBlob} {
		f.Add(unhex(f, s))
	}
	collection, err := gpkg.AppendBlob(nil, orb.Collection{
		orb.MultiPolygon{{{{0, 0}, {1, 0}, {1, 1}, {0, 0}}}}, orb.MultiLineString{{{0, 0}, {1, 1}}}, orb.MultiPoint{{2, 3}},
	}, gpkg.WGS84)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(collection)
	f.Fuzz(func(t *testing.T, blob []byte) {
		gpkg.MinX(blob)
		g, srsID, err := gpkg.DecodeBlob(blob)
		if err != nil || g == nil {
			return
		}
		again, err := gpkg.AppendBlob(nil, g, srsID)
		if err != nil {
			t.Fatalf("cannot write %v: %v", g, err)
		}
		got, _, err := gpkg.DecodeBlob(again)
		if diff := cmp.Diff(g, got); diff != "" || err != nil {
			t.Fatalf("%v (-want +got):\n%s", err, diff)
		}
	})
}

func BenchmarkAppendBlob(b *testing.B) {
	line := orb.LineString{{-122.25, 47.5}, {-122.2499, 47.5001}}
	var buf []byte
	b.ReportAllocs()
	for b.Loop() {
		var err error
		if buf, err = gpkg.AppendBlob(buf[:0], line, gpkg.WGS84); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDecodeBlob(b *testing.B) {
	blob, err := gpkg.AppendBlob(nil, orb.LineString{{-122.25, 47.5}, {-122.2499, 47.5001}}, gpkg.WGS84)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := gpkg.DecodeBlob(blob); err != nil {
			b.Fatal(err)
		}
	}
}
