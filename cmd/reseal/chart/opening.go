package chart

import (
	"fmt"
	"math"
)

// Opening is the gap of a joint by the temperature of its deck, in inches and °F.
type Opening struct {
	Line         []OpeningAt // by rising temperature; Gap with its band
	Readings     []OpeningAt
	MinIn, MaxIn float64 // between which the seal works; both 0: not on record
	ColdF, HotF  float64 // the ends of the deck's range
}

// OpeningAt is a gap at a temperature.
type OpeningAt struct {
	TempF, GapIn, LowIn, HighIn float64
	Tip                         string
}

// Plot draws readings, the line through them with its band, what the seal
// works at, and the coldest and hottest deck.
func (o *Opening) Plot(f Frame) string {
	f.Y = func(v float64) string { return short(v) }
	c := newCanvas(f, nil)
	left, right, low, high := o.reach()
	y := newAxis(low, high, 5, c.bottom, c.top)
	x := axis{from: left, to: right, at: c.left + 8, end: c.right - 8}
	limits := o.MaxIn > o.MinIn
	if limits {
		c.put(`<rect x="%s" y="%s" width="%s" height="%s" fill="currentColor" fill-opacity=".06"/>`,
			px(c.left), px(y.px(o.MaxIn)), px(c.right-c.left), px(y.px(o.MinIn)-y.px(o.MaxIn)))
	}
	c.values(y)
	step := 20.0
	for t := math.Ceil(left/step) * step; t <= right; t += step {
		c.text(x.px(t), c.bottom+16, "middle", short(t))
	}
	for _, end := range []struct {
		tempF float64
		name  string
	}{{o.ColdF, "coldest"}, {o.HotF, "hottest"}} {
		c.line(x.px(end.tempF), c.top, x.px(end.tempF), c.bottom, ` stroke-dasharray="2 3"`)
		c.text(x.px(end.tempF), c.top-4, [...]string{"start", "end"}[map[bool]int{true: 1}[end.name == "hottest"]], fmt.Sprintf("%s %.0f °F", end.name, end.tempF))
	}
	if limits {
		for _, l := range []struct {
			in   float64
			name string
			dy   float64
		}{{o.MaxIn, "seal's largest opening", -4}, {o.MinIn, "seal's smallest opening", 13}} {
			c.line(c.left, y.px(l.in), c.right, y.px(l.in), ` stroke-width="1.5"`)
			if y.px(l.in)+l.dy < c.top+10 { // where the words of the temperatures are
				l.dy = 13
			} else if y.px(l.in)+l.dy > c.bottom {
				l.dy = -4
			}
			c.text(c.left+14, y.px(l.in)+l.dy, "start", fmt.Sprintf("%s %.2f in", l.name, l.in))
		}
	}
	c.fit(o, x, y)
	return c.done()
}

// fit draws the line with its band and the readings.
func (c *canvas) fit(o *Opening, x, y axis) {
	there, back, line, pen := "", "", "", "M"
	for _, p := range o.Line {
		at := px(x.px(p.TempF)) + " "
		there += pen + at + px(y.px(p.HighIn))
		back = "L" + at + px(y.px(p.LowIn)) + back
		line += pen + at + px(y.px(p.GapIn))
		pen = "L"
	}
	if len(o.Line) > 1 {
		c.put(`<path d="%s%sZ" fill="%s" fill-opacity=".16" stroke="%s" stroke-opacity=".5" stroke-width=".8"/>`, there, back, stroke(0), stroke(0))
		c.put(`<path d="%s" fill="none" stroke="%s" stroke-width="2"/>`, line, stroke(0))
	}
	for _, r := range o.Readings {
		c.put(`<path d="%s" fill="%s" stroke="%s" stroke-width="1.5"><title>%s</title></path>`, shape(1, x.px(r.TempF), y.px(r.GapIn), 4), stroke(3), stroke(0), esc(r.Tip))
	}
}

func (o *Opening) reach() (left, right, low, high float64) {
	left, right, low, high = o.ColdF, o.HotF, math.Inf(1), math.Inf(-1)
	for _, p := range o.Line {
		left, right, low, high = min(left, p.TempF), max(right, p.TempF), min(low, p.LowIn), max(high, p.HighIn)
	}
	for _, r := range o.Readings {
		left, right, low, high = min(left, r.TempF), max(right, r.TempF), min(low, r.GapIn), max(high, r.GapIn)
	}
	if o.MaxIn > o.MinIn {
		low, high = min(low, o.MinIn), max(high, o.MaxIn)
	}
	if !(high > low) {
		low, high = 0, 1
	}
	if !(right > left) {
		right = left + 1
	}
	return left, right, low, high
}
