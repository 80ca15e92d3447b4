package atlas_test

import (
	"encoding/binary"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"pgregory.net/rapid"

	"reseal/cmd/reseal/web/atlas"
	"reseal/forecast"
	"reseal/geo/mvt"
	"reseal/inventory"
)

const bridges = 150

// TestLoad: every joint is there, with what the inventory and the forecast say
// of it.
func TestLoad(t *testing.T) {
	s := filled(t, bridges)
	a := load(t, s)
	if a.Joints() != 4*bridges || a.Unplaced != 0 {
		t.Fatalf("got %d joints, %d nowhere; want %d, 0", a.Joints(), a.Unplaced, 4*bridges)
	}
	err := inventory.EachJoint(t.Context(), s.Read(), inventory.Filter{}, func(r *inventory.JointRow) error {
		j := a.ByID(r.ID)
		if j == nil || j.Tag != r.Tag || j.Worst != r.WorstState || j.Bridge.Number != r.StructureNumber || int(j.Class[0]) != r.WorstState {
			t.Errorf("joint %s: got %+v", r.Tag, j)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	tables, err := forecast.LoadTables(t.Context(), s.Read())
	if err != nil {
		t.Fatal(err)
	}
	m, err := forecast.NewModel(tables)
	if err != nil {
		t.Fatal(err)
	}
	seen := map[uint8]int{}
	err = m.Each(t.Context(), s.Read(), forecast.Options{AsOf: asOf}, func(p forecast.Projected) error {
		j := a.ByID(p.ID)
		seen[j.Class[1]]++
		switch {
		case len(p.Urgent()) > 0 != (j.Class[1] == 5):
			t.Errorf("%s: urgent findings %v, class %d", p.Tag, p.Urgent(), j.Class[1])
		case p.Forecast == nil:
			if j.Reason == "" || j.Class[2] != 0 {
				t.Errorf("%s has no forecast: got %+v", p.Tag, j)
			}
		case j.Failed != p.FailedBy(2027) || j.Year != p.ReplaceYear:
			t.Errorf("%s: got %v in %d, want %v in %d", p.Tag, j.Failed, j.Year, p.FailedBy(2027), p.ReplaceYear)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for class := range uint8(6) {
		if seen[class] == 0 {
			t.Errorf("the network shows no joint of class %d of urgency; it tests nothing there", class)
		}
	}
}

// TestYears: the class is the one whose words hold the year.
func TestYears(t *testing.T) {
	a := load(t, filled(t, 2))
	var got []string
	for _, c := range a.Scales[2].Classes {
		got = append(got, c.Label)
	}
	want := []string{"no forecast", "after 2046", "2037 to 2046", "2032 to 2036", "2029 to 2031", "2028 or before"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

// TestSelect: selections hold what a look at each joint gives.
func TestSelect(t *testing.T) {
	s := filled(t, bridges)
	a := load(t, s)
	var all []*inventory.JointRow
	all, err := inventory.Joints(t.Context(), s.Read(), inventory.Filter{})
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		lon, lat := rapid.Float64Range(-121.01, -119), rapid.Float64Range(43.99, 44.05)
		corner := func() orb.Point { return orb.Point{lon.Draw(t, "lon"), lat.Draw(t, "lat")} }
		ring := orb.Ring{corner(), corner(), corner()}
		ring = append(ring, ring[0])
		hidden := uint16(rapid.IntRange(0, 63).Draw(t, "hidden"))
		want := map[string]bool{}
		for _, r := range all {
			if planar.RingContains(ring, r.Geom.Bound().Center()) && hidden>>a.ByID(r.ID).Class[1]&1 == 0 {
				want[r.Tag] = true
			}
		}
		got := map[string]bool{}
		found := a.Select(atlas.Selection{Area: &ring, Scale: 1, Hidden: hidden})
		for _, j := range found {
			got[j.Tag] = true
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Error(diff)
		}
		for i := 1; i < len(found); i++ {
			p, q := found[i-1], found[i]
			if first, second := p.Class[1] == 5, q.Class[1] == 5; second && !first || first == second && p.Failed < q.Failed {
				t.Errorf("%s stands before %s", p.Tag, q.Tag)
			}
		}
	})
}

func TestFind(t *testing.T) {
	a := load(t, filled(t, bridges))
	for _, c := range []struct{ name, text, want string }{
		{"a tag", "j000017", "J000017"},
		{"a number", "B000042", "B000042"},
		{"with its state", "41/b000042", "B000042"},
		{"a part of a number", "0042", "B000042"},
		{"a route and a milepost", "R 3  10.5", "B000042"},
		{"a route and the nearest milepost", "R 3 MP 10.6", "B000042"},
		{"nothing", "zzz", ""},
		{"blank", "  ", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := ""
			if hits := a.Find(c.text, 5); len(hits) > 0 && hits[0].Joint != nil {
				got = hits[0].Joint.Tag
			} else if len(hits) > 0 {
				got = hits[0].Bridge.Number
			}
			if got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}

// TestTiles: at each zoom the tiles together draw every joint that is not
// hidden once, and where bridges have a point of their own it has the worst of
// their classes.
func TestTiles(t *testing.T) {
	a := load(t, filled(t, bridges))
	for _, hidden := range []uint16{0, 1 << 5, 1<<1 | 1<<4} {
		want := len(a.Select(atlas.Selection{Scale: 1, Hidden: hidden}))
		for _, zoom := range []int{0, 5, 9, 12, 13} {
			got := 0
			n := math.Exp2(float64(zoom))
			from, to := square(a.Bound.LeftTop()), square(a.Bound.RightBottom())
			for x := int(from[0] * n); x <= int(to[0]*n); x++ {
				for y := int(from[1] * n); y <= int(to[1]*n); y++ {
					for _, f := range decode(t, a.Tile(1, hidden, mvt.Tile{Z: zoom, X: x, Y: y})) {
						if !f.inside() {
							continue
						}
						got += int(f.values[1])
						if worst := worstOf(a.Bridge(f.id), hidden); f.id != 0 && worst != f.values[0] {
							t.Errorf("bridge %d is drawn as of class %d, want %d", f.id, f.values[0], worst)
						}
					}
				}
			}
			if got != want {
				t.Errorf("zoom %d, hidden %b: %d joints are drawn, want %d", zoom, hidden, got, want)
			}
		}
	}
}

func worstOf(b *atlas.Bridge, hidden uint16) (worst uint64) {
	if b == nil {
		return 0
	}
	for _, j := range b.Joints {
		if hidden>>j.Class[1]&1 == 0 {
			worst = max(worst, uint64(j.Class[1]))
		}
	}
	return worst
}

func square(p orb.Point) [2]float64 {
	x, y := mvt.Fraction(p)
	return [2]float64{x, y}
}

// dotted is a point of a tile: where, and the values of its fields.
type dotted struct {
	id     int64
	x, y   int64
	values [2]uint64
}

func (d *dotted) inside() bool { return d.x >= 0 && d.x < mvt.Extent && d.y >= 0 && d.y < mvt.Extent }

// decode reads the points of layer "bridges" by the wire format of protocol
// buffers; package mvt is checked against GDAL.
func decode(t *testing.T, tile []byte) (out []dotted) {
	t.Helper()
	for _, layer := range fields(t, tile)[3] {
		l := fields(t, layer)
		if string(l[1][0]) != "bridges" {
			continue
		}
		for _, feature := range l[2] {
			f := fields(t, feature)
			g, tags := numbers(f[4][0]), numbers(f[2][0])
			d := dotted{x: unzigzag(g[1]), y: unzigzag(g[2])}
			if feature[0] == 1<<3 { // the id comes first where there is one
				id, _ := binary.Uvarint(feature[1:])
				d.id = int64(id)
			}
			for i := range d.values {
				v := numbers(l[4][tags[2*i+1]])
				d.values[i] = v[1]
			}
			out = append(out, d)
		}
	}
	return out
}

func unzigzag(v uint64) int64 { return int64(v>>1) ^ -int64(v&1) }

func numbers(b []byte) (out []uint64) {
	for len(b) > 0 {
		v, n := binary.Uvarint(b)
		out, b = append(out, v), b[n:]
	}
	return out
}

// fields are the fields with a length of a message, by number.
func fields(t *testing.T, b []byte) map[uint64][][]byte {
	t.Helper()
	out := map[uint64][][]byte{}
	for len(b) > 0 {
		tag, n := binary.Uvarint(b)
		v, m := binary.Uvarint(b[n:])
		b = b[n+m:]
		if tag&7 == 2 {
			out[tag>>3] = append(out[tag>>3], b[:v])
			b = b[v:]
		}
	}
	return out
}
