package chart

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"
)

// Layer is one class of places on a map, the most important last.
type Layer struct {
	Name string
	At   []orb.Point // longitude and latitude in degrees, WGS 84
}

// metres of one degree of latitude on a sphere of 6,371,008.8 m, and of a
// statute mile.
const metresPerDegree, metresPerMile = 111195.08, 1609.344

// Map draws places over their bounding box, each layer with its own mark and
// size, on a grid of degrees with a bar of miles. It is a plain plot: longitude
// times the cosine of the middle latitude. Up to four layers. The height follows
// the width; places that would cover each other are drawn once.
func Map(f Frame, layers ...Layer) string {
	bound, any := orb.Bound{}, false
	for _, l := range layers {
		for _, p := range l.At {
			if any {
				bound = bound.Extend(p)
			} else {
				bound, any = orb.Bound{Min: p, Max: p}, true
			}
		}
	}
	const least = 0.005 // degrees
	for k := range 2 {
		if grow := least - (bound.Max[k] - bound.Min[k]); grow > 0 {
			bound.Min[k], bound.Max[k] = bound.Min[k]-grow/2, bound.Max[k]+grow/2
		}
	}
	if !(f.WidthPx > 0) {
		f.WidthPx = 720
	}
	squeeze := math.Cos((bound.Min[1] + bound.Max[1]) / 2 * math.Pi / 180)
	inner := f.WidthPx - marginLeft - marginRight
	wide, high := (bound.Max[0]-bound.Min[0])*squeeze, bound.Max[1]-bound.Min[1]
	perDegree := min(inner/wide, 0.8*f.WidthPx/high)
	f.HeightPx = perDegree*high + marginTop + marginBottom
	c := newCanvas(f)
	c.right = c.left + perDegree*wide
	x := axis{from: bound.Min[0], to: bound.Max[0], at: c.left, end: c.right}
	y := axis{from: bound.Min[1], to: bound.Max[1], at: c.bottom, end: c.top}
	if any {
		c.graticule(x, y)
		c.scaleBar(perDegree)
	} else {
		c.text(c.left, (c.top+c.bottom)/2, "start", "no place on record")
	}
	for i, l := range layers {
		c.marks(i, len(layers), l, x, y)
	}
	all := make([]string, len(layers))
	for i, l := range layers {
		all[i] = fmt.Sprintf("%s: %d", l.Name, len(l.At))
	}
	c.legend(all, func(i int, x, y float64) { c.mark(i, len(layers), placeMark(i, len(layers), x+9, y+6)) })
	return c.done()
}

func (c *canvas) marks(i, of int, l Layer, x, y axis) {
	var d []byte
	drawn := map[[2]int]bool{}
	for _, p := range l.At {
		at := [2]float64{x.px(p[0]), y.px(p[1])}
		cell := [2]int{int(math.Round(at[0])), int(math.Round(at[1]))}
		if drawn[cell] || math.IsNaN(at[0]+at[1]) {
			continue
		}
		drawn[cell] = true
		d = append(d, placeMark(i, of, float64(cell[0]), float64(cell[1]))...)
	}
	c.mark(i, of, string(d))
}

// mark draws one path with the looks of a layer.
func (c *canvas) mark(i, of int, d string) {
	if d == "" {
		return
	}
	switch of - 1 - i { // how far from the most important
	case 0:
		c.put(`<path d="%s" fill="#fee838" stroke="#000" stroke-width="1.2"/>`, d)
	case 1:
		c.put(`<path d="%s" fill="#00224e" stroke="#fff" stroke-width=".5"/>`, d)
	case 2:
		c.put(`<path d="%s" fill="none" stroke="#575d6d" stroke-width="1"/>`, d)
	default:
		c.put(`<path d="%s" fill="none" stroke="#8f8f8f" stroke-width="2" stroke-linecap="round"/>`, d)
	}
}

// placeMark is the outline of a layer's mark: a large triangle for the most
// important, then a square, a ring, a dot.
func placeMark(i, of int, x, y float64) string {
	switch of - 1 - i {
	case 0:
		return shape(2, x, y, 5)
	case 1:
		return shape(1, x, y, 2.6)
	case 2:
		return shape(0, x, y, 2)
	}
	return "M" + px(x) + " " + px(y) + "h0"
}

// graticule draws meridians and parallels at round degrees.
func (c *canvas) graticule(x, y axis) {
	round := func(a axis) (out []float64) {
		b := newAxis(a.from, a.to, 4, a.at, a.end)
		for _, v := range b.ticks() {
			if v >= a.from && v <= a.to {
				out = append(out, v)
			}
		}
		return out
	}
	for _, v := range round(x) {
		c.line(x.px(v), c.top, x.px(v), c.bottom, ` stroke-opacity=".18"`)
		c.text(x.px(v), c.bottom+16, "middle", degrees(v, "E", "W"))
	}
	for _, v := range round(y) {
		c.line(c.left, y.px(v), c.right, y.px(v), ` stroke-opacity=".18"`)
		c.text(c.left-6, y.px(v)+4, "end", degrees(v, "N", "S"))
	}
	c.put(`<rect x="%s" y="%s" width="%s" height="%s" fill="none" stroke="currentColor" stroke-opacity=".5"/>`,
		px(c.left), px(c.top), px(c.right-c.left), px(c.bottom-c.top))
}

func degrees(v float64, plus, minus string) string {
	if v < 0 {
		plus, v = minus, -v
	}
	return short(v) + "° " + plus
}

// scaleBar draws a round number of miles, about a fifth of the width.
func (c *canvas) scaleBar(perDegree float64) {
	perMile := perDegree * metresPerMile / metresPerDegree
	miles := newAxis(0, (c.right-c.left)/perMile, 5, 0, 1).step
	from, y := c.right-miles*perMile, c.bottom+30
	c.put(`<path d="M%s %sv-5M%s %sH%sv-5" fill="none" stroke="currentColor" stroke-width="1.4"/>`, px(from), px(y), px(from), px(y), px(c.right))
	c.text(from-6, y+2, "end", short(miles)+" mi")
}
