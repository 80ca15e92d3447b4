package condition

import (
	"context"
	"fmt"
	"html"
	"html/template"
	"math"
	"strings"

	"github.com/paulmach/orb"
	"github.com/uptrace/bun"

	"reseal/geo"
	"reseal/inventory"
)

// Size of the map and the distance that its left half shows.
const (
	mapWidth, mapHeight = 340.0, 110.0
	mapReachFt          = 2 * 5280.0
)

// crewMap draws where the joint is: at the left the bridges around, at the
// right the joints of its own bridge, north up. Blank without a place.
func crewMap(ctx context.Context, db bun.IDB, k *Known) (template.HTML, error) {
	at, ok := k.Bridge.Geom.Geometry.(orb.Point)
	if !ok {
		return "", nil
	}
	var around []*inventory.Bridge
	err := inventory.EachBridge(ctx, db, inventory.Filter{Near: &at, WithinFt: mapReachFt * 1.6, Limit: 200}, func(b *inventory.Bridge) error {
		around = append(around, b)
		return nil
	})
	if err != nil {
		return "", err
	}
	var joints []inventory.Joint
	err = db.NewSelect().Model(&joints).Column("id", "tag", "geom").Where("bridge_id = ? AND status = ?", k.Bridge.ID, inventory.InService).Order("id").Scan(ctx)
	if err != nil {
		return "", err
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg viewBox="0 0 %g %g" role="img" aria-label="Map: the bridges around, and the joints of this bridge" font-size="8">`, mapWidth, mapHeight)
	half := frame{mapWidth / 2, at, mapReachFt * 2 / mapHeight * 1.1}
	half.draw(&b, 0, func(xy func(orb.Point) (float64, float64, bool)) {
		named := 0
		for _, other := range around {
			p, ok := other.Geom.Geometry.(orb.Point)
			x, y, in := xy(p)
			if !ok || !in || other.ID == k.Bridge.ID {
				continue
			}
			fmt.Fprintf(&b, `<circle cx="%.1f" cy="%.1f" r="1.8" fill="#fff" stroke="#000" stroke-width="0.7"/>`, x, y)
			if named < 5 && x < mapWidth/2-45 {
				named++
				fmt.Fprintf(&b, `<text x="%.1f" y="%.1f" font-size="6.5">%s</text>`, x+3, y+2, html.EscapeString(other.StructureNumber))
			}
		}
		x, y, _ := xy(at)
		fmt.Fprintf(&b, `<rect x="%.1f" y="%.1f" width="6" height="6"/><text x="%.1f" y="%.1f" font-weight="bold">%s</text>`,
			x-3, y-3, x+5, y+3, html.EscapeString(k.Bridge.StructureNumber))
	})
	drawJoints(&b, joints, k.Joint.ID)
	b.WriteString(`</svg>`)
	return template.HTML(b.String()), nil // numbers and escaped text only
}

// frame is one half of the map: its width, centre, and feet per unit.
type frame struct {
	width      float64
	center     orb.Point
	feetPerDot float64
}

// draw puts a border, north and a scale around what fn draws.
func (f frame) draw(b *strings.Builder, left float64, fn func(func(orb.Point) (x, y float64, inside bool))) {
	fmt.Fprintf(b, `<rect x="%.1f" y="0.5" width="%.1f" height="%.1f" fill="none" stroke="#777" stroke-width="0.6"/>`, left+0.5, f.width-3, mapHeight-1)
	lonFt, latFt := degreeFt(f.center)
	fn(func(p orb.Point) (x, y float64, inside bool) {
		dx, dy := (p[0]-f.center[0])*lonFt/f.feetPerDot, (p[1]-f.center[1])*latFt/f.feetPerDot
		x, y = left+f.width/2+dx, mapHeight/2-dy
		return x, y, x > left+4 && x < left+f.width-6 && y > 4 && y < mapHeight-4
	})
	long := scaleFt(f.feetPerDot * f.width / 3)
	word := fmt.Sprintf("%g ft", long)
	if long >= 2640 {
		word = fmt.Sprintf("%g mi", long/5280)
	}
	x := left + 6
	fmt.Fprintf(b, `<path d="M%.1f %.1fh%.1f" stroke="#000" stroke-width="1.4"/><text x="%.1f" y="%.1f" font-size="6.5">%s</text>`,
		x, mapHeight-6, long/f.feetPerDot, x, mapHeight-9, word)
	fmt.Fprintf(b, `<path d="M%.1f 18v-11m-2.5 4l2.5-4l2.5 4" fill="none" stroke="#000"/><text x="%.1f" y="25" font-size="7" text-anchor="middle">N</text>`,
		left+9, left+9)
}

// drawJoints draws the joints of the bridge, this one bold.
func drawJoints(b *strings.Builder, joints []inventory.Joint, this int64) {
	all := orb.Bound{Min: orb.Point{math.Inf(1), math.Inf(1)}, Max: orb.Point{math.Inf(-1), math.Inf(-1)}}
	for _, j := range joints {
		if j.Geom.Geometry != nil {
			all = all.Union(j.Geom.Bound())
		}
	}
	if all.IsEmpty() {
		return
	}
	lonFt, latFt := degreeFt(all.Center())
	width := mapWidth / 2
	scale := max((all.Max[0]-all.Min[0])*lonFt/(width-40), (all.Max[1]-all.Min[1])*latFt/(mapHeight-30), 0.5)
	frame{width, all.Center(), scale}.draw(b, width, func(xy func(orb.Point) (float64, float64, bool)) {
		for _, j := range joints {
			line, ok := j.Geom.Geometry.(orb.LineString)
			if !ok {
				continue
			}
			style := `stroke="#777" stroke-width="1"`
			if j.ID == this {
				style = `stroke="#000" stroke-width="3"`
			}
			b.WriteString(`<polyline fill="none" ` + style + ` points="`)
			for _, p := range line {
				x, y, _ := xy(p)
				fmt.Fprintf(b, "%.1f,%.1f ", x, y)
			}
			b.WriteString(`"/>`)
			if x, y, _ := xy(line[0]); j.ID == this {
				fmt.Fprintf(b, `<text x="%.1f" y="%.1f" font-weight="bold">%s</text>`, min(x+4, mapWidth-40), max(y-3, 10), html.EscapeString(j.Tag))
			}
		}
	})
}

// degreeFt is the length of a degree of longitude and of latitude, ft.
func degreeFt(at orb.Point) (lonFt, latFt float64) {
	return geo.DistanceFt(orb.Point{at[0] - 0.005, at[1]}, orb.Point{at[0] + 0.005, at[1]}) * 100,
		geo.DistanceFt(orb.Point{at[0], at[1] - 0.005}, orb.Point{at[0], at[1] + 0.005}) * 100
}

// scaleFt is the longest round length up to ft.
func scaleFt(ft float64) float64 {
	best := 1.0
	for _, round := range []float64{2, 5, 10, 20, 50, 100, 200, 500, 1000, 2640, 5280} {
		if round <= ft {
			best = round
		}
	}
	return best
}
