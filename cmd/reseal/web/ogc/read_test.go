package ogc

import (
	"errors"
	"testing"

	"github.com/paulmach/orb"

	"reseal/inventory/table"
)

func TestBox(t *testing.T) {
	line := orb.LineString{{-121, 44}, {-120.9, 44.1}}
	for _, c := range []struct {
		name, text string
		g          orb.Geometry
		want       bool
	}{
		{"a point inside", "-122,43,-120,45", orb.Point{-121, 44}, true},
		{"a point on the edge", "-121,43,-120,45", orb.Point{-121, 44}, true},
		{"a point outside", "-120.9,43,-120,45", orb.Point{-121, 44}, false},
		{"a line through", "-120.96,44.02,-120.94,44.08", line, true},
		{"a line that passes the corner of its own box", "-121,44.09,-120.99,44.1", line, false},
		{"over the antimeridian", "170,-10,-170,10", orb.Point{-175, 0}, true},
		{"not there", "170,-10,-170,10", orb.Point{0, 0}, false},
		{"with heights", "-122,43,0,-120,45,9", orb.Point{-121, 44}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, err := readBox(c.text)
			if err != nil {
				t.Fatal(err)
			}
			if got := b.meets(c.g); got != c.want {
				t.Errorf("got %v, want %v", got, c.want)
			}
		})
	}
}

// FuzzReadBox: what is taken is within the world, what is not is the asker's
// mistake.
func FuzzReadBox(f *testing.F) {
	for _, s := range []string{"-122,43,-120,45", "1,2,3", "170,-10,-170,10", "NaN,0,1,1", "1e400,0,0,0", "-180,-90,0,180,90,0"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		b, err := readBox(s)
		if err == nil {
			if !(b.west >= -180 && b.east <= 180 && b.south >= -90 && b.north <= 90 && b.south <= b.north) {
				t.Errorf("%q became %v", s, *b)
			}
			b.meets(orb.Point{0, 0})
			return
		}
		var e *exception
		if !errors.As(err, &e) || e.Status != 400 {
			t.Errorf("%q: %v", s, err)
		}
	})
}

// FuzzReadTime: an interval that is taken does not end before it begins.
func FuzzReadTime(f *testing.F) {
	for _, s := range []string{"2025-01-01", "2025-01-01T00:00:00Z/..", "../2024-02-29", "/", "2025-13-01", "2025-02-01/2025-01-01"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		from, to, err := readTime(s)
		open := table.CivilDate{}
		if err == nil && (from == open && to == open || from != open && to != open && before(to, from)) {
			t.Errorf("%q became %v to %v", s, from, to)
		}
	})
}
