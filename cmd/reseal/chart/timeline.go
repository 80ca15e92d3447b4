package chart

import "math"

// TimeRow is a row of a time line.
type TimeRow struct {
	Name  string
	Spans []TimeSpan
	Marks []TimeMark
}

// TimeSpan is something that lasts, in decimal years.
type TimeSpan struct {
	From, To float64
	Name     string // written in it where there is room
	Tip      string
}

// TimeMark is something that happened.
type TimeMark struct {
	At   float64 // decimal year
	Kind int     // 0 to 3: disc, square, triangle, cross
	Tip  string
}

// TimeLine draws rows of spans and marks over the years from one to another,
// with a line at today. Frame.HeightPx 0 gives each row its room.
func TimeLine(f Frame, from, to, today float64, rows ...TimeRow) string {
	const linePx = 30.0
	if f.HeightPx == 0 {
		f.HeightPx = 34 + linePx*float64(len(rows)) + marginBottom
	}
	c := newCanvas(f, nil)
	longest := 0
	for _, r := range rows {
		longest = max(longest, len([]rune(r.Name)))
	}
	c.left, c.top = 14+0.56*fontPx*float64(longest), 34
	if !(to > from) {
		to = from + 1
	}
	x := axis{from: from, to: to, at: c.left, end: c.right}
	in := func(year float64) float64 { return x.px(min(max(year, from), to)) }
	c.years(x)
	for i, r := range rows {
		y := c.top + linePx*(float64(i)+0.5)
		c.text(0, y+4, "start", r.Name)
		c.line(c.left, y+linePx/2, c.right, y+linePx/2, ` stroke-opacity=".18"`)
		for k, s := range r.Spans {
			left, width := in(s.From), max(2, in(s.To)-in(s.From))
			c.put(`<rect x="%s" y="%s" width="%s" height="18" rx="2" fill="currentColor" fill-opacity="%s" stroke="currentColor"><title>%s</title></rect>`,
				px(left), px(y-9), px(width), [...]string{".14", ".28"}[k%2], esc(s.Tip))
			if 0.56*fontPx*float64(len([]rune(s.Name)))+8 < width {
				c.text(left+4, y+4, "start", s.Name)
			}
		}
		for _, m := range r.Marks {
			c.put(`<path d="%s" fill="currentColor" stroke="currentColor" stroke-width="1.5"><title>%s</title></path>`, shape(m.Kind, in(m.At), y, 5), esc(m.Tip))
		}
	}
	if today > from && today < to {
		c.line(x.px(today), c.top-4, x.px(today), c.bottom, ` stroke-dasharray="4 3"`)
		c.text(x.px(today), c.top-8, "middle", "today")
	}
	return c.done()
}

// years writes round years under a time line.
func (c *canvas) years(x axis) {
	room := int((c.right - c.left) / 60)
	step := 1.0
	for _, s := range []float64{1, 2, 5, 10, 20, 50} {
		if step = s; (x.to-x.from)/s <= float64(max(room, 1)) {
			break
		}
	}
	for year := math.Ceil(x.from/step) * step; year <= x.to; year += step {
		c.line(x.px(year), c.top, x.px(year), c.bottom, ` stroke-opacity=".18"`)
		c.text(x.px(year), c.bottom+16, "middle", Year(year))
	}
	c.line(c.left, c.bottom, c.right, c.bottom, "")
}
