package geojson_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"reseal/geo/geojson"
)

func TestWriter(t *testing.T) {
	place := orb.Point{-122.25, 47.5}
	for _, tt := range []struct {
		name string
		opt  geojson.Options
		fill func(w *geojson.Writer)
		want string
	}{
		{"no features", geojson.Options{}, func(*geojson.Writer) {}, `{"type":"FeatureCollection","features":[` + "\n]}\n"},
		{"no lines", geojson.Options{Lines: true}, func(*geojson.Writer) {}, ""},
		{
			"all kinds of property, in order",
			geojson.Options{},
			func(w *geojson.Writer) {
				w.Begin(7, place)
				w.Str("z", "I-5 \"north\"")
				w.Int("a", -3)
				w.Float("f", 0.1)
				w.Bool("b", true)
				w.Null("n")
				w.End()
			},
			`{"type":"FeatureCollection","features":[` + "\n" +
				`{"type":"Feature","id":7,"geometry":{"type":"Point","coordinates":[-122.25,47.5]},` +
				`"properties":{"z":"I-5 \"north\"","a":-3,"f":0.1,"b":true,"n":null}}` + "\n]}\n",
		},
		{
			"not located, no id, no properties; then a second",
			geojson.Options{Lines: true},
			func(w *geojson.Writer) {
				w.Begin(0, nil)
				w.End()
				w.Begin(1, orb.LineString{})
				w.End()
			},
			`{"type":"Feature","geometry":null,"properties":{}}` + "\n" + `{"type":"Feature","id":1,"geometry":null,"properties":{}}` + "\n",
		},
		{
			"box at the end, of what has a place",
			geojson.Options{BBox: true, Decimals: 1},
			func(w *geojson.Writer) {
				w.Begin(1, orb.LineString{{-122.26, 47.5}, {-120, 48}})
				w.End()
				w.Begin(2, nil)
				w.End()
				w.Begin(3, orb.Point{math.NaN(), 1})
				w.End()
			},
			`{"type":"FeatureCollection","features":[` + "\n" +
				`{"type":"Feature","id":1,"geometry":{"type":"LineString","coordinates":[[-122.3,47.5],[-120,48]]},"properties":{}},` + "\n" +
				`{"type":"Feature","id":2,"geometry":null,"properties":{}}` + "\n" + `],"bbox":[-122.3,47.5,-120,48]}` + "\n",
		},
		{
			"no box without a place",
			geojson.Options{BBox: true},
			func(w *geojson.Writer) {
				w.Begin(1, nil)
				w.End()
			},
			`{"type":"FeatureCollection","features":[` + "\n" + `{"type":"Feature","id":1,"geometry":null,"properties":{}}` + "\n]}\n",
		},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var out bytes.Buffer
			w := geojson.NewWriter(&out, tt.opt)
			tt.fill(w)
			if err := w.Close(); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(tt.want, out.String()); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// TestWriterLeavesOutBadFeatures: whatever goes wrong with a feature, the
// document stays valid and holds the others.
func TestWriterLeavesOutBadFeatures(t *testing.T) {
	for _, tt := range []struct {
		name string
		bad  func(w *geojson.Writer) error
	}{
		{"position not finite", func(w *geojson.Writer) error { w.Begin(2, orb.Point{1, math.Inf(1)}); return w.End() }},
		{"number not finite", func(w *geojson.Writer) error {
			w.Begin(2, nil)
			w.Float("x", math.NaN())
			w.Int("y", 1)
			return w.End()
		}},
		{"line of one position", func(w *geojson.Writer) error { w.Begin(2, orb.LineString{{1, 2}}); return w.End() }},
		{"ring not closed", func(w *geojson.Writer) error {
			w.Begin(2, orb.Polygon{{{0, 0}, {1, 0}, {1, 1}, {0, 1}}})
			return w.End()
		}},
		{"polygon without a ring in a set", func(w *geojson.Writer) error { w.Begin(2, orb.MultiPolygon{{}}); return w.End() }},
		{"nil in a collection", func(w *geojson.Writer) error { w.Begin(2, orb.Collection{nil}); return w.End() }},
		{"begun twice", func(w *geojson.Writer) error { w.Begin(2, nil); w.Begin(3, nil); return w.End() }},
	} {
		t.Run(tt.name, func(t *testing.T) {
			for _, lines := range []bool{false, true} {
				var out bytes.Buffer
				w := geojson.NewWriter(&out, geojson.Options{Lines: lines})
				var ids []string
				feature := func(id int64) {
					w.Begin(id, orb.Point{1, 2})
					if err := w.End(); err != nil {
						t.Fatal(err)
					}
					ids = append(ids, fmt.Sprint(id))
				}
				feature(1)
				if err := tt.bad(w); !errors.Is(err, geojson.ErrInvalid) {
					t.Errorf("got %v, want ErrInvalid", err)
				}
				feature(4)
				w.Begin(5, nil) // is never ended
				if err := w.Close(); !errors.Is(err, geojson.ErrInvalid) {
					t.Errorf("close with an open feature: got %v, want ErrInvalid", err)
				}
				if got := readIDs(t, out.Bytes(), lines); cmp.Diff(ids, got) != "" || w.Written() != 2 {
					t.Errorf("got ids %v, %d written, want %v", got, w.Written(), ids)
				}
			}
		})
	}
}

// readIDs reads a document with encoding/json and returns its features' ids.
func readIDs(t testing.TB, doc []byte, lines bool) []string {
	t.Helper()
	var collection document
	if lines {
		dec := json.NewDecoder(bytes.NewReader(doc))
		for {
			var f feature
			if err := dec.Decode(&f); err == io.EOF {
				break
			} else if err != nil {
				t.Fatalf("%v in %s", err, doc)
			}
			collection.Features = append(collection.Features, f)
		}
	} else if err := json.Unmarshal(doc, &collection); err != nil {
		t.Fatalf("%v in %s", err, doc)
	}
	var ids []string
	for _, f := range collection.Features {
		ids = append(ids, fmt.Sprint(f.ID))
	}
	return ids
}

func TestWriterMisuse(t *testing.T) {
	w := geojson.NewWriter(io.Discard, geojson.Options{})
	if err := w.End(); !errors.Is(err, geojson.ErrInvalid) {
		t.Errorf("end without begin: got %v", err)
	}
	w.Int("a", 1)
	w.Begin(1, nil)
	if err := w.End(); !errors.Is(err, geojson.ErrInvalid) {
		t.Errorf("property before a feature: got %v", err)
	}
	w = geojson.NewWriter(io.Discard, geojson.Options{})
	for range 2 {
		if err := w.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	}
	w.Begin(1, nil)
	if err := w.End(); !errors.Is(err, geojson.ErrInvalid) {
		t.Errorf("end after close: got %v", err)
	}
}

type fullDisk struct{ room int }

var errFull = errors.New("disk full")

func (d *fullDisk) Write(p []byte) (int, error) {
	if d.room < len(p) {
		return 0, errFull
	}
	d.room -= len(p)
	return len(p), nil
}

func TestWriterStreamFails(t *testing.T) {
	w := geojson.NewWriter(&fullDisk{room: 100_000}, geojson.Options{})
	var failed error
	for i := int64(1); i < 10_000 && failed == nil; i++ {
		w.Begin(i, orb.Point{1, 2})
		failed = w.End()
	}
	if !errors.Is(failed, errFull) {
		t.Errorf("end: got %v, want %v", failed, errFull)
	}
	if err := w.Close(); !errors.Is(err, errFull) {
		t.Errorf("close: got %v, want %v", err, errFull)
	}
}

// document is what encoding/json reads and, in the benchmark, writes.
type document struct {
	Type     string    `json:"type"`
	Features []feature `json:"features"`
	BBox     []float64 `json:"bbox,omitempty"`
}

type feature struct {
	Type       string          `json:"type"`
	ID         int             `json:"id"`
	Geometry   json.RawMessage `json:"geometry"`
	Properties map[string]any  `json:"properties"`
}

// TestWriterReadsBack: encoding/json reads the same features, with positions to
// half a unit of the last decimal, and a box that fits them.
func TestWriterReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var out bytes.Buffer
		w := geojson.NewWriter(&out, geojson.Options{BBox: true})
		var lines []orb.LineString
		var properties []map[string]any
		for i := range rapid.IntRange(0, 5).Draw(t, "features") {
			var line orb.LineString
			for range rapid.SampledFrom([]int{0, 2, 5}).Draw(t, "points") {
				line = append(line, orb.Point{rapid.Float64Range(-180, 180).Draw(t, "lon"), rapid.Float64Range(-90, 90).Draw(t, "lat")})
			}
			p := map[string]any{
				"s": rapid.String().Draw(t, "s"), "f": rapid.Float64().Draw(t, "f"), "b": rapid.Bool().Draw(t, "b"), "n": nil,
			}
			lines, properties = append(lines, line), append(properties, p)
			w.Begin(int64(i+1), line)
			w.Str("s", p["s"].(string))
			w.Float("f", p["f"].(float64))
			w.Bool("b", p["b"].(bool))
			w.Null("n")
			if err := w.End(); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		var got document
		if err := json.Unmarshal(out.Bytes(), &got); err != nil {
			t.Fatalf("%v in %s", err, out.Bytes())
		}
		if len(got.Features) != len(lines) {
			t.Fatalf("got %d features, want %d", len(got.Features), len(lines))
		}
		all := orb.MultiPoint{}
		for i, f := range got.Features {
			g, err := geojson.ParseGeometry(f.Geometry)
			if err != nil {
				t.Fatal(err)
			}
			line, _ := g.(orb.LineString)
			if len(line) != len(lines[i]) || f.ID != i+1 || cmp.Diff(properties[i], f.Properties) != "" {
				t.Fatalf("got %v, want %v %v", f, lines[i], properties[i])
			}
			const half = 0.5e-7 + 1e-13 // and the step of a float64 near 180, twice
			for j, p := range line {
				if want := lines[i][j]; math.Abs(p[0]-want[0]) > half || math.Abs(p[1]-want[1]) > half {
					t.Fatalf("got %v, want %v", p, want)
				}
			}
			all = append(all, line...)
		}
		if len(all) > 0 {
			b := all.Bound()
			if diff := cmp.Diff([]float64{b.Min[0], b.Min[1], b.Max[0], b.Max[1]}, got.BBox); diff != "" {
				t.Fatalf("box (-want +got):\n%s", diff)
			}
		}
	})
}

// TestWriterWithGDAL: an independent reader takes the document without a word.
func TestWriterWithGDAL(t *testing.T) {
	ogrinfo, err := exec.LookPath("ogrinfo")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("ogrinfo is not installed")
		}
		t.Skip("ogrinfo is not installed")
	}
	for _, opt := range []geojson.Options{{}, {BBox: true}, {Lines: true}} {
		path := filepath.Join(t.TempDir(), map[bool]string{false: "f.geojson", true: "f.geojsonl"}[opt.Lines])
		f, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		w := geojson.NewWriter(f, opt)
		for i := range 10 {
			w.Begin(int64(i+1), orb.LineString{{-122 + float64(i), 47}, {-121 + float64(i), 48}})
			w.Str("name", "invented\x01\n\u2028")
			if err := w.End(); err != nil {
				t.Fatal(err)
			}
		}
		if err := errors.Join(w.Close(), f.Close()); err != nil {
			t.Fatal(err)
		}
		out, err := exec.CommandContext(t.Context(), ogrinfo, "-al", "-so", path).CombinedOutput()
		got := string(out)
		if err != nil || !strings.Contains(got, "Feature Count: 10") || !strings.Contains(got, "(-122.000000, 47.000000) - (-112.000000, 48.000000)") ||
			strings.Contains(got, "Warning") || strings.Contains(got, "ERROR") {
			t.Errorf("%+v: %v\n%s", opt, err, got)
		}
	}
}

// benchmarkLines returns n short lines across western roads, invented.
func benchmarkLines(n int) []orb.LineString {
	rng := rand.New(rand.NewPCG(1, 2))
	lines := make([]orb.LineString, n)
	for i := range lines {
		p := orb.Point{-125 + 10*rng.Float64(), 45 + 4*rng.Float64()}
		lines[i] = orb.LineString{p, {p[0] + 1e-4*rng.Float64(), p[1] + 1e-4*rng.Float64()}}
	}
	return lines
}

// BenchmarkWriter compares the stream with its naive twin: the whole collection
// in memory, through encoding/json.
func BenchmarkWriter(b *testing.B) {
	for _, n := range []int{1_000, 10_000, 100_000} {
		lines := benchmarkLines(n)
		b.Run(fmt.Sprint("stream/", n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				w := geojson.NewWriter(io.Discard, geojson.Options{})
				for i, line := range lines {
					w.Begin(int64(i+1), line)
					w.Str("structure", "000100410000003414")
					w.Int("joint", 2)
					w.Float("gap_in", 1.8125)
					w.Int("year", 2031)
					if err := w.End(); err != nil {
						b.Fatal(err)
					}
				}
				if err := w.Close(); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "features/s")
		})
		b.Run(fmt.Sprint("whole/", n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				collection := document{Type: "FeatureCollection"}
				for i, line := range lines {
					geometry, err := json.Marshal(struct {
						Type        string         `json:"type"`
						Coordinates orb.LineString `json:"coordinates"`
					}{"LineString", line})
					if err != nil {
						b.Fatal(err)
					}
					collection.Features = append(collection.Features, feature{"Feature", i + 1, geometry, map[string]any{
						"structure": "000100410000003414", "joint": 2, "gap_in": 1.8125, "year": 2031,
					}})
				}
				if _, err := json.Marshal(collection); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "features/s")
		})
	}
}

// Two features as a collection; the second has not been located.
func ExampleWriter() {
	var out bytes.Buffer
	w := geojson.NewWriter(&out, geojson.Options{})
	w.Begin(1, orb.LineString{{-122.25, 47.5}, {-122.2499, 47.5001}})
	w.Str("name", "pier 2")
	w.Float("gap_in", 1.75)
	if err := w.End(); err != nil {
		fmt.Println(err)
	}
	w.Begin(2, nil)
	w.Str("name", "pier 3")
	w.Null("gap_in")
	if err := w.End(); err != nil {
		fmt.Println(err)
	}
	if err := w.Close(); err != nil {
		fmt.Println(err)
	}
	fmt.Print(out.String())
	// Output:
	// {"type":"FeatureCollection","features":[
	// {"type":"Feature","id":1,"geometry":{"type":"LineString","coordinates":[[-122.25,47.5],[-122.2499,47.5001]]},"properties":{"name":"pier 2","gap_in":1.75}},
	// {"type":"Feature","id":2,"geometry":null,"properties":{"name":"pier 3","gap_in":null}}
	// ]}
}

func TestWriterMembers(t *testing.T) {
	var out bytes.Buffer
	w := geojson.NewWriter(&out, geojson.Options{Members: func() []byte { return []byte(`"links":[]`) }})
	w.Begin(1, nil)
	if err := errors.Join(w.End(), w.Close()); err != nil {
		t.Fatal(err)
	}
	var got struct {
		Features []any
		Links    *[]any
	}
	if err := json.Unmarshal(out.Bytes(), &got); err != nil || len(got.Features) != 1 || got.Links == nil {
		t.Errorf("got %v, %s", err, out.Bytes())
	}
}
