package chart

import (
	"fmt"
	"hash/fnv"
	"html"
	"math"
	"strconv"
	"strings"
)

// Frame is what is around a chart.
type Frame struct {
	Title  string // above the chart; no two charts of a page may share one
	Desc   string // a sentence with what the chart shows, for those who cannot see it
	XLabel string // under the horizontal axis
	YLabel string // above the vertical axis, with the unit

	WidthPx, HeightPx float64 // 0: 720 by 300

	X func(float64) string // words of a place on the axis of Lines; nil: Number
	Y func(float64) string // words of a value; nil: Number
}

// Series is one kind of value, in the order of the labels.
type Series struct {
	Name      string
	Values    []float64
	Low, High []float64 // ends of each value's band; none: no band
}

// palette is cividis from dark to light.
var palette = [...]string{"#00224e", "#575d6d", "#a59c74", "#fee838"}

// dashes tell lines apart without colour.
var dashes = [...]string{"", "7 4", "2 3", "9 3 2 3"}

const (
	marginLeft, marginRight = 64.0, 16.0
	marginTop, marginBottom = 62.0, 44.0
	fontPx                  = 12.0
)

// canvas collects the elements of one chart.
type canvas struct {
	strings.Builder
	Frame
	id                       string // of the chart in its page
	left, top, right, bottom float64
}

// newCanvas begins a chart with room for the legend's rows.
func newCanvas(f Frame, legend []string) *canvas {
	if !(f.WidthPx > 0) {
		f.WidthPx = 720
	}
	if !(f.HeightPx > 0) {
		f.HeightPx = 300
	}
	if f.X == nil {
		f.X = Number
	}
	if f.Y == nil {
		f.Y = Number
	}
	h := fnv.New32a()
	h.Write([]byte(f.Title))
	c := &canvas{
		Frame: f, id: fmt.Sprintf("c%08x", h.Sum32()),
		left: marginLeft, top: marginTop, right: f.WidthPx - marginRight, bottom: f.HeightPx - marginBottom,
	}
	_, rows := legendAt(legend, f.WidthPx)
	c.top += rowPx * float64(rows-1)
	c.put(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %s %s" role="img" aria-labelledby="%s-t %s-d" font-family="sans-serif" font-size="%s">`,
		px(f.WidthPx), px(f.HeightPx), c.id, c.id, px(fontPx))
	c.put(`<title id="%s-t">%s</title><desc id="%s-d">%s</desc>`, c.id, esc(f.Title), c.id, esc(f.Desc))
	c.patterns()
	c.put(`<text x="0" y="15" font-size="14" font-weight="bold" fill="currentColor">%s</text>`, esc(f.Title))
	return c
}

// patterns defines the fill of each series: the colour with its own hatching.
func (c *canvas) patterns() {
	marks := [...]string{
		``,
		`<path d="M0 8L8 0M-2 2L2 -2M6 10L10 6" stroke="#fff" stroke-width="1.5"/>`,
		`<circle cx="4" cy="4" r="1.3" fill="#000"/>`,
		`<path d="M0 0L8 8M-2 6L2 10M6 -2L10 2" stroke="#000" stroke-width=".8"/>`,
	}
	c.put(`<defs>`)
	for i, colour := range palette {
		c.put(`<pattern id="%s-p%d" width="8" height="8" patternUnits="userSpaceOnUse"><rect width="8" height="8" fill="%s"/>%s</pattern>`, c.id, i, colour, marks[i])
	}
	c.put(`</defs>`)
}

// fill is the fill of the ith series.
func (c *canvas) fill(i int) string { return fmt.Sprintf("url(#%s-p%d)", c.id, i%len(palette)) }

func (c *canvas) put(format string, args ...any) { fmt.Fprintf(c, format, args...) }

// text writes at a place; anchor is start, middle or end.
func (c *canvas) text(x, y float64, anchor, text string) {
	c.put(`<text x="%s" y="%s" text-anchor="%s" fill="currentColor">%s</text>`, px(x), px(y), anchor, esc(text))
}

// line draws a thin line of the frame.
func (c *canvas) line(x1, y1, x2, y2 float64, more string) {
	c.put(`<path d="M%s %sL%s %s" stroke="currentColor" fill="none"%s/>`, px(x1), px(y1), px(x2), px(y2), more)
}

func (c *canvas) done() string {
	c.put("</svg>\n")
	return c.String()
}

// axis is a scale of values along one side.
type axis struct {
	from, to float64 // values at the ends
	at, end  float64 // pixels of the ends
	step     float64
}

// newAxis covers values with round steps of 1, 2 or 5 times a power of ten.
func newAxis(low, high float64, steps int, at, end float64) axis {
	if !(high > low) {
		high = low + 1
	}
	raw := (high - low) / float64(steps)
	step := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, k := range []float64{1, 2, 5, 10} {
		if k*step >= raw*(1-1e-9) {
			step *= k
			break
		}
	}
	return axis{math.Floor(low/step+1e-9) * step, math.Ceil(high/step-1e-9) * step, at, end, step}
}

func (a axis) px(v float64) float64 { return a.at + (v-a.from)/(a.to-a.from)*(a.end-a.at) }

// ticks are the round values of the axis.
func (a axis) ticks() (out []float64) {
	n := int(math.Round((a.to - a.from) / a.step))
	for i := range n + 1 {
		out = append(out, a.from+float64(i)*a.step)
	}
	return out
}

// values draws the vertical axis with its grid.
func (c *canvas) values(a axis) {
	for _, v := range a.ticks() {
		c.line(c.left, a.px(v), c.right, a.px(v), ` stroke-opacity=".18"`)
		c.text(c.left-6, a.px(v)+4, "end", c.Y(v))
	}
	c.line(c.left, c.bottom, c.right, c.bottom, "")
	if c.YLabel != "" {
		c.text(0, c.top-12, "start", c.YLabel)
	}
	if c.XLabel != "" {
		c.text((c.left+c.right)/2, c.HeightPx-4, "middle", c.XLabel)
	}
}

// labels writes those that fit under the middle of their places.
func (c *canvas) labels(labels []string, at func(i int) float64) {
	longest := 1
	for _, l := range labels {
		longest = max(longest, len(l))
	}
	room := (c.right - c.left) / max(1, float64(len(labels)))
	every := max(1, int(math.Ceil(float64(longest+1)*0.58*fontPx/room)))
	end := math.Inf(-1) // of the last one written: places may be uneven
	for i, l := range labels {
		if half := 0.29 * fontPx * float64(len(l)); i%every == 0 && at(i)-half >= end {
			c.text(at(i), c.bottom+16, "middle", l)
			end = at(i) + half
		}
	}
}

// rowPx is the height of a row of the legend.
const rowPx = 15.0

// legendAt is where each name stands, in rows as wide as the chart, and how many
// rows that takes.
func legendAt(legend []string, widthPx float64) (at [][2]float64, rows int) {
	x, rows := 0.0, 1
	for _, name := range legend {
		if name == "" { // a line that needs no name
			at = append(at, [2]float64{})
			continue
		}
		width := 24 + 0.56*fontPx*float64(len([]rune(name))) + 14
		if x > 0 && x+width > widthPx {
			x, rows = 0, rows+1
		}
		at = append(at, [2]float64{x, 24 + rowPx*float64(rows-1)})
		x += width
	}
	return at, rows
}

// legend names the series above the chart, each beside what draw draws in a box of
// 18 by 11 pixels.
func (c *canvas) legend(names []string, draw func(i int, x, y float64)) {
	at, _ := legendAt(names, c.WidthPx)
	for i, name := range names {
		if name == "" {
			continue
		}
		draw(i, at[i][0], at[i][1])
		c.text(at[i][0]+23, at[i][1]+10, "start", name)
	}
}

func names(series []Series) []string {
	out := make([]string, len(series))
	for i, s := range series {
		out[i] = s.Name
	}
	return out
}

// at is the ith of values; ok is false where there is none.
func at(values []float64, i int) (v float64, ok bool) {
	if i < 0 || i >= len(values) || math.IsNaN(values[i]) || math.IsInf(values[i], 0) {
		return 0, false
	}
	return values[i], true
}

// reach is the least and greatest finite value, 0 and the bands included.
func reach(series []Series) (low, high float64) {
	for _, s := range series {
		for _, values := range [][]float64{s.Values, s.Low, s.High} {
			for i := range values {
				if v, ok := at(values, i); ok {
					low, high = min(low, v), max(high, v)
				}
			}
		}
	}
	return low, high
}

// px is a length in pixels to a tenth.
func px(v float64) string {
	s := strings.TrimSuffix(strconv.FormatFloat(v, 'f', 1, 64), ".0")
	if s == "-0" {
		return "0"
	}
	return s
}

func esc(s string) string { return html.EscapeString(s) }
