package mvt_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"reseal/geo/mvt"
)

// TestWebMercator: the corners of the square, and the tile of the coordinates
// in the section "Lon./lat. to tile numbers" of OpenStreetMap's wiki page
// "Slippy map tilenames" (from memory): 139.7006793, 35.6590699 at zoom 18 is
// 232798, 103246.
func TestWebMercator(t *testing.T) {
	for name, c := range map[string]struct {
		at   orb.Point
		x, y float64
	}{
		"middle":     {orb.Point{0, 0}, 0.5, 0.5},
		"north-west": {orb.Point{-180, 85.0511287798}, 0, 0},
		"south-east": {orb.Point{180, -85.0511287798}, 1, 1},
		"beyond":     {orb.Point{0, 89}, 0.5, 0},
	} {
		if x, y := mvt.Fraction(c.at); math.Abs(x-c.x) > 1e-9 || math.Abs(y-c.y) > 1e-9 {
			t.Errorf("%s: got %v %v, want %v %v", name, x, y, c.x, c.y)
		}
	}
	x, y := mvt.Fraction(orb.Point{139.7006793, 35.6590699})
	if x, y := int(x*(1<<18)), int(y*(1<<18)); x != 232798 || y != 103246 {
		t.Errorf("got tile %d %d, want 232798 103246", x, y)
	}
}

// TestTileWithGDAL: GDAL's MVT driver reads back what was written, on the
// ground.
func TestTileWithGDAL(t *testing.T) {
	ogr2ogr, err := exec.LookPath("ogr2ogr")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("ogr2ogr is not installed")
		}
		t.Skip("ogr2ogr is not installed")
	}
	tile := mvt.Tile{Z: 14, X: 2685, Y: 5950}
	place := func(p orb.Point) mvt.Place { return tile.Place(mvt.Fraction(p)) }
	bridge := orb.Point{-120.99, 44.08}
	line := orb.LineString{{-120.985, 44.081}, {-120.9848, 44.0812}}
	bridges, joints := mvt.NewLayer("bridges", "class", "joints"), mvt.NewLayer("joints", "class", "tag")
	bridges.Point(7, place(bridge), mvt.Value{Number: 3}, mvt.Value{Number: 12})
	for i := range 3 {
		joints.Line(int64(i+1), place(line[0]), place(line[1]), mvt.Value{Number: int64(i)}, mvt.Value{Text: fmt.Sprintf("J%06d", i+1)})
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "tile.mvt")
	if err := os.WriteFile(path, mvt.Encode(bridges, joints, mvt.NewLayer("nothing")), 0o644); err != nil {
		t.Fatal(err)
	}
	read := func(layer string) (features []feature) {
		t.Helper()
		out := filepath.Join(dir, layer+".geojson")
		cmd := exec.CommandContext(t.Context(), ogr2ogr, "-f", "GeoJSON", "-t_srs", "EPSG:4326", "-lco", "COORDINATE_PRECISION=7", out, path, layer,
			"-oo", "X=2685", "-oo", "Y=5950", "-oo", "Z=14", "-oo", "CLIP=NO")
		if msg, err := cmd.CombinedOutput(); err != nil || len(msg) > 0 {
			t.Fatalf("%v: %s", err, msg)
		}
		b, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		var all struct{ Features []feature }
		if err := json.Unmarshal(b, &all); err != nil {
			t.Fatal(err)
		}
		return all.Features
	}
	near := func(got, want orb.Point) {
		t.Helper()
		if math.Hypot(got[0]-want[0], got[1]-want[1]) > 5e-6 { // a unit is 0.6 m there
			t.Errorf("got %v, want %v", got, want)
		}
	}
	got := read("bridges")
	if len(got) != 1 || got[0].Properties["class"] != 3.0 || got[0].Properties["joints"] != 12.0 {
		t.Fatalf("bridges: got %v", got)
	}
	var at orb.Point
	if err := json.Unmarshal(got[0].Geometry.Coordinates, &at); err != nil {
		t.Fatal(err)
	}
	near(at, bridge)
	got = read("joints")
	if len(got) != 3 {
		t.Fatalf("joints: got %v", got)
	}
	for i, f := range got {
		if f.Properties["tag"] != fmt.Sprintf("J%06d", i+1) || f.Properties["class"] != float64(i) {
			t.Errorf("joint %d: got %v", i, f.Properties)
		}
		var ends orb.LineString
		if err := json.Unmarshal(f.Geometry.Coordinates, &ends); err != nil || len(ends) != 2 {
			t.Fatalf("joint %d: got %s", i, f.Geometry.Coordinates)
		}
		near(ends[0], line[0])
		near(ends[1], line[1])
	}
}

type feature struct {
	Properties map[string]any
	Geometry   struct{ Coordinates json.RawMessage }
}

// TestPlaceStaysInOrder: of two positions the one further east is never left
// of the other, and a tile's own corner is 0, 0.
func TestPlaceStaysInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		z := rapid.IntRange(0, 16).Draw(t, "z")
		tile := mvt.Tile{Z: z, X: rapid.IntRange(0, 1<<z-1).Draw(t, "x"), Y: rapid.IntRange(0, 1<<z-1).Draw(t, "y")}
		if !tile.Valid() {
			t.Fatalf("%v is not valid", tile)
		}
		n := math.Exp2(float64(z))
		if diff := cmp.Diff(mvt.Place{}, tile.Place(float64(tile.X)/n, float64(tile.Y)/n)); diff != "" {
			t.Error(diff)
		}
		a, b := rapid.Float64Range(0, 1).Draw(t, "a"), rapid.Float64Range(0, 1).Draw(t, "b")
		if pa, pb := tile.Place(a, b), tile.Place(b, a); a < b && pa.X > pb.X {
			t.Errorf("got %v and %v", pa, pb)
		}
	})
}

func ExampleEncode() {
	tile := mvt.Tile{Z: 0}
	l := mvt.NewLayer("bridges", "joints")
	l.Point(1, tile.Place(mvt.Fraction(orb.Point{-121, 44})), mvt.Value{Number: 4})
	fmt.Println(len(mvt.Encode(l)), "bytes")
	// Output: 45 bytes
}

func BenchmarkLayer(b *testing.B) {
	for _, n := range []int{1_000, 10_000, 100_000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				l := mvt.NewLayer("joints", "class", "n")
				for i := range n {
					at := mvt.Place{X: int32(i % mvt.Extent), Y: int32(i / 7 % mvt.Extent)}
					l.Line(int64(i+1), at, mvt.Place{X: at.X + 9, Y: at.Y + 3}, mvt.Value{Number: int64(i % 6)}, mvt.Value{Number: int64(i % 50)})
				}
				mvt.Encode(l)
			}
			b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "features/s")
		})
	}
}
