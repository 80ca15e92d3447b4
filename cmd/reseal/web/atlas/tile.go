package atlas

import (
	"math"
	"slices"

	"reseal/geo/mvt"
)

const (
	// JointZoom is the zoom from which joints are drawn as lines; before, each
	// bridge is a circle.
	JointZoom = 14
	// MaxZoom is the last zoom with tiles of its own: a unit is 0.1 m there.
	MaxZoom = 16

	margin   = 64 // units of a tile drawn beyond its edge, so that circles are whole
	cellBits = 5  // bridges in the same 2^5 units make one circle
	thinZoom = 12 // up to which they do
)

// Tile is a vector tile of one scale without the hidden classes, a bit each.
// Layer "bridges" has points: class, the worst of the joints there; n, how many
// they are; and as its id the bridge, or nothing where several bridges share
// the point. Layer "joints" has lines: class and tag, the id is the joint's. The
// worst come last, that is on top.
func (a *Atlas) Tile(scale int, hidden uint16, t mvt.Tile) []byte {
	bridges, joints := mvt.NewLayer("bridges", "class", "n"), mvt.NewLayer("joints", "class", "tag")
	if t.Z >= JointZoom {
		a.drawJoints(joints, scale, hidden, t)
	}
	a.drawBridges(bridges, scale, hidden, t)
	return mvt.Encode(bridges, joints)
}

// window is the part of the square that a tile draws, grown by more.
func window(t mvt.Tile, more float64) (from, to fraction) {
	n := math.Exp2(float64(t.Z))
	edge := margin/(n*mvt.Extent) + more
	return fraction{float64(t.X)/n - edge, float64(t.Y)/n - edge}, fraction{float64(t.X+1)/n + edge, float64(t.Y+1)/n + edge}
}

// between are those of things in order from west to east that lie between
// two edges.
func between[T any](all []T, x func(T) float64, from, to float64) []T {
	cut := func(edge float64) int {
		at, _ := slices.BinarySearchFunc(all, edge, func(v T, edge float64) int {
			if x(v) < edge {
				return -1
			}
			return 1
		})
		return at
	}
	first, last := cut(from), cut(to)
	return all[first:max(first, last)]
}

func (a *Atlas) drawJoints(l *mvt.Layer, scale int, hidden uint16, t mvt.Tile) {
	from, to := window(t, a.longest)
	var seen []*Joint
	for _, j := range between(a.drawn, func(j *Joint) float64 { return j.from.x }, from.x, to.x) {
		if j.from.y >= from.y && j.from.y <= to.y && hidden>>j.Class[scale]&1 == 0 {
			seen = append(seen, j)
		}
	}
	slices.SortStableFunc(seen, func(p, q *Joint) int { return int(p.Class[scale]) - int(q.Class[scale]) })
	for _, j := range seen {
		l.Line(j.ID, t.Place(j.from.x, j.from.y), t.Place(j.to.x, j.to.y), mvt.Value{Number: int64(j.Class[scale])}, mvt.Value{Text: j.Tag})
	}
}

// dot is one circle.
type dot struct {
	at     mvt.Place
	bridge int64 // 0: several
	class  uint8
	n      int
}

// drawBridges draws bridges where their joints are not drawn as lines.
func (a *Atlas) drawBridges(l *mvt.Layer, scale int, hidden uint16, t mvt.Tile) {
	from, to := window(t, 0)
	at := map[mvt.Place]int{}
	var dots []dot
	for _, b := range between(a.located, func(b *Bridge) float64 { return b.at.x }, from.x, to.x) {
		if b.at.y < from.y || b.at.y > to.y {
			continue
		}
		d := dot{at: t.Place(b.at.x, b.at.y), bridge: b.ID}
		for _, j := range b.Joints {
			if class := j.Class[scale]; hidden>>class&1 == 0 && !(t.Z >= JointZoom && j.line) {
				d.class, d.n = max(d.class, class), d.n+1
			}
		}
		if d.n == 0 {
			continue
		}
		k := d.at
		if t.Z <= thinZoom {
			k = mvt.Place{X: k.X >> cellBits, Y: k.Y >> cellBits}
		}
		if i, ok := at[k]; ok {
			dots[i].bridge, dots[i].class, dots[i].n = 0, max(dots[i].class, d.class), dots[i].n+d.n
			continue
		}
		at[k] = len(dots)
		dots = append(dots, d)
	}
	slices.SortStableFunc(dots, func(p, q dot) int { return int(p.class) - int(q.class) })
	for _, d := range dots {
		l.Point(d.bridge, d.at, mvt.Value{Number: int64(d.class)}, mvt.Value{Number: int64(d.n)})
	}
}
