package geo_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"reseal/geo"
)

func dms(deg, minute, second float64) float64 { return deg + minute/60 + second/3600 }

// The line from Flinders Peak to Buninyong is the worked example of the
// Geocentric Datum of Australia Technical Manual (ICSM), chapter 4: 54,972.271 m,
// azimuth 306°52'05.37". It is on GRS 80, whose polar axis is 0.1 mm shorter
// than that of WGS 84: no difference in the digits given.
var (
	flindersPeak = orb.Point{dms(144, 25, 29.52440), -dms(37, 57, 3.72030)}
	buninyong    = orb.Point{dms(143, 55, 35.38390), -dms(37, 39, 10.15610)}
)

const (
	flindersBuninyongM   = 54972.271
	flindersBuninyongDeg = 306 + 52.0/60 + 5.37/3600
)

func TestDistanceFtPublished(t *testing.T) {
	// The equator is a circle of radius a; the quarter meridian is 10,001,965.7293 m
	// (H. Moritz, Geodetic Reference System 1980, derived constants; from memory).
	for _, tt := range []struct {
		name        string
		a, b        orb.Point
		wantM, tolM float64
	}{
		{"Flinders Peak to Buninyong", flindersPeak, buninyong, flindersBuninyongM, 0.0005},
		{"a degree of the equator", orb.Point{-90, 0}, orb.Point{-89, 0}, 6378137 * math.Pi / 180, 1e-6},
		{"quarter meridian", orb.Point{20, 0}, orb.Point{20, 90}, 10001965.729, 0.001},
		{"across the antimeridian", orb.Point{179.5, 0}, orb.Point{-179.5, 0}, 6378137 * math.Pi / 180, 1e-6},
		{"same point", buninyong, buninyong, 0, 0},
		{"pole seen from two longitudes", orb.Point{10, 90}, orb.Point{-60, 90}, 0, 1e-6},
		{"pole to pole, on a sphere", orb.Point{0, -90}, orb.Point{0, 90}, 2 * 10001965.729, 0.006 * 2e7},
		{"nearly antipodal, on a sphere", orb.Point{0, 0}, orb.Point{179.9, 0.1}, 2 * 10001965.729, 0.006 * 2e7},
	} {
		t.Run(tt.name, func(t *testing.T) {
			for _, got := range []float64{geo.DistanceFt(tt.a, tt.b), geo.DistanceFt(tt.b, tt.a)} {
				if got /= geo.FeetPerMetre; !(math.Abs(got-tt.wantM) <= tt.tolM) {
					t.Errorf("got %.6f m, want %.6f within %g", got, tt.wantM, tt.tolM)
				}
			}
		})
	}
}

func TestDestinationPublished(t *testing.T) {
	got := geo.Destination(flindersPeak, flindersBuninyongDeg, flindersBuninyongM*geo.FeetPerMetre)
	// The azimuth is given to 0.01", which is 2.7 mm at this distance.
	if offM := geo.DistanceFt(got, buninyong) / geo.FeetPerMetre; !(offM < 0.003) {
		t.Errorf("got %v, want %v: %.4f m off", got, buninyong, offM)
	}
}

// A hair west of the antimeridian once gave a longitude of 180.
func TestDestinationAtAntimeridian(t *testing.T) {
	if got := geo.Destination(orb.Point{-180, -89.9}, 720, 37583.5); got[0] != -180 {
		t.Errorf("got %v, want longitude -180", got)
	}
}

func TestDestinationReturns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := orb.Point{rapid.Float64Range(-180, 180).Draw(t, "lon"), rapid.Float64Range(-89.9, 89.9).Draw(t, "lat")}
		bearing := rapid.Float64Range(-360, 720).Draw(t, "bearing")
		distance := rapid.Float64Range(-1e7, 1e7).Draw(t, "distance")
		q := geo.Destination(p, bearing, distance)
		if q[0] < -180 || q[0] >= 180 || math.Abs(q[1]) > 90 {
			t.Fatalf("got %v, outside the globe", q)
		}
		// 0.1 mm, and what a float64 degree can hold over and above.
		if got := geo.DistanceFt(p, q); !(math.Abs(got-math.Abs(distance)) < 4e-4) {
			t.Fatalf("got %.6f ft from %v to %v, want %.6f", got, p, q, math.Abs(distance))
		}
	})
}

func TestNotFinite(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, p := range []orb.Point{{nan, 0}, {0, nan}, {inf, 0}, {0, 91}} {
		if got := geo.DistanceFt(p, orb.Point{1, 1}); !math.IsNaN(got) {
			t.Errorf("distance from %v: got %v, want NaN", p, got)
		}
		if got := geo.CrossLine(p, 0, 0, 40, 0); got != nil {
			t.Errorf("line across %v: got %v, want none", p, got)
		}
	}
	for _, args := range [][4]float64{{nan, 0, 40, 0}, {inf, 0, 40, 0}, {0, nan, 40, 0}, {0, 0, nan, 0}, {0, 0, inf, 0}, {0, 0, 0, 0}, {0, 0, -1, 0}, {0, 0, 40, nan}, {0, 0, 40, 90}} {
		if got := geo.CrossLine(orb.Point{-122, 47}, args[0], args[1], args[2], args[3]); got != nil {
			t.Errorf("CrossLine%v: got %v, want none", args, got)
		}
	}
}

func TestCrossLine(t *testing.T) {
	center := orb.Point{-122, 47}
	// Offsets from center in feet to the east and to the north, on the plane: the
	// lines are so short that the curvature does not show.
	offset := func(p orb.Point) (east, north float64) {
		east = math.Copysign(geo.DistanceFt(center, orb.Point{p[0], center[1]}), p[0]-center[0])
		north = math.Copysign(geo.DistanceFt(center, orb.Point{center[0], p[1]}), p[1]-center[1])
		return east, north
	}
	sin30, cos30 := 0.5, math.Sqrt(3)/2
	for _, tt := range []struct {
		name                         string
		bearing, along, length, skew float64
		left, right                  [2]float64
	}{
		{"north, square", 0, 0, 40, 0, [2]float64{-20, 0}, [2]float64{20, 0}},
		{"north, 100 ft ahead", 0, 100, 40, 0, [2]float64{-20, 100}, [2]float64{20, 100}},
		{"north, 100 ft behind", 0, -100, 40, 0, [2]float64{-20, -100}, [2]float64{20, -100}},
		{"east, square", 90, 100, 40, 0, [2]float64{100, 20}, [2]float64{100, -20}},
		{"north, right end ahead", 0, 0, 40, 30, [2]float64{-20 * cos30, -20 * sin30}, [2]float64{20 * cos30, 20 * sin30}},
		{"north, left end ahead", 0, 0, 40, -30, [2]float64{-20 * cos30, 20 * sin30}, [2]float64{20 * cos30, -20 * sin30}},
		{"south, right end ahead", 180, 0, 40, 30, [2]float64{20 * cos30, 20 * sin30}, [2]float64{-20 * cos30, -20 * sin30}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			line := geo.CrossLine(center, tt.bearing, tt.along, tt.length, tt.skew)
			if len(line) != 2 {
				t.Fatalf("got %v, want two points", line)
			}
			for i, want := range [][2]float64{tt.left, tt.right} {
				if e, n := offset(line[i]); math.Abs(e-want[0]) > 0.005 || math.Abs(n-want[1]) > 0.005 {
					t.Errorf("%s end: got %.4f east %.4f north, want %.4f %.4f", [...]string{"left", "right"}[i], e, n, want[0], want[1])
				}
			}
			if got := geo.DistanceFt(line[0], line[1]); math.Abs(got-tt.length) > 1e-6 {
				t.Errorf("length: got %.8f, want %v", got, tt.length)
			}
		})
	}
}

// The expansion joint of a deck 38 ft wide, 120 ft ahead of the middle of a
// bridge that carries its road to the north-east, skewed 20 degrees: the line is
// longer than the deck is wide.
func ExampleCrossLine() {
	const widthFt, skewDeg = 38, 20
	lengthFt := widthFt / math.Cos(skewDeg*math.Pi/180)
	line := geo.CrossLine(orb.Point{-122.25, 47.5}, 45, 120, lengthFt, skewDeg)
	fmt.Printf("%.2f ft\n", geo.DistanceFt(line[0], line[1]))
	fmt.Printf("left  %.7f %.7f\nright %.7f %.7f\n", line[0][0], line[0][1], line[1][0], line[1][1])
	// Output:
	// 40.44 ft
	// left  -122.2497309 47.5002560
	// right -122.2495826 47.5002092
}

func BenchmarkDistanceFt(b *testing.B) {
	q := geo.Destination(buninyong, 30, 500)
	b.ReportAllocs()
	for b.Loop() {
		geo.DistanceFt(buninyong, q)
	}
}

func BenchmarkCrossLine(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		geo.CrossLine(buninyong, 30, 120, 40, 20)
	}
}
