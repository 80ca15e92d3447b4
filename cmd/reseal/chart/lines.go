package chart

import "math"

// Lines draws each series over the places x, which must rise, with its own dash
// and mark. A series with a band has it shaded behind the line: one such series
// is a fan.
func Lines(f Frame, x []float64, series ...Series) string {
	c := newCanvas(f)
	low, high := reach(series)
	y := newAxis(low, high, 5, c.bottom, c.top)
	c.values(y)
	across := axis{from: 0, to: 1, at: c.left + 12, end: c.right - 12}
	if n := len(x); n > 0 {
		across.from, across.to = x[0], x[n-1]
		if !(across.to > across.from) {
			across.to = across.from + 1
		}
	}
	labels := make([]string, len(x))
	for i, v := range x {
		labels[i] = c.X(v)
	}
	c.labels(labels, func(i int) float64 { return across.px(x[i]) })
	for s, one := range series {
		c.band(s, x, one, across, y)
	}
	for s, one := range series {
		colour := stroke(s)
		d, pen := "", "M"
		for i := range x {
			v, ok := at(one.Values, i)
			if !ok {
				pen = "M"
				continue
			}
			d += pen + px(across.px(x[i])) + " " + px(y.px(v))
			pen = "L"
		}
		c.put(`<path d="%s" fill="none" stroke="%s" stroke-width="2" stroke-dasharray="%s"/>`, d, colour, dashes[s%len(dashes)])
		for i := range x {
			if v, ok := at(one.Values, i); ok {
				c.put(`<path d="%s" fill="%s" stroke="%s" stroke-width="1.5"><title>%s</title></path>`, shape(s, across.px(x[i]), y.px(v), 3.2),
					[...]string{colour, "#fff"}[s%2], colour, esc(c.X(x[i])+", "+one.Name+": "+c.Y(v)+bandWords(c, one, i)))
			}
		}
	}
	c.legend(names(series), func(i int, x, y float64) {
		c.put(`<path d="M%s %sh18" stroke="%s" stroke-width="2" stroke-dasharray="%s"/><path d="%s" fill="%s" stroke="%s" stroke-width="1.5"/>`,
			px(x), px(y+6), stroke(i), dashes[i%len(dashes)], shape(i, x+9, y+6, 3.2), [...]string{stroke(i), "#fff"}[i%2], stroke(i))
	})
	return c.done()
}

// stroke is the colour of a line; the lightest of the palette would not show.
func stroke(s int) string { return [...]string{"#00224e", "#575d6d", "#8a7f4f", "#b09a00"}[s%4] }

func bandWords(c *canvas, s Series, i int) string {
	lo, okLow := at(s.Low, i)
	hi, okHigh := at(s.High, i)
	if !okLow || !okHigh {
		return ""
	}
	return " (10-90 %: " + c.Y(lo) + " to " + c.Y(hi) + ")"
}

// band shades between the ends of a series' band.
func (c *canvas) band(s int, x []float64, one Series, across, y axis) {
	var there, back string
	pen := "M"
	for i := range x {
		lo, okLow := at(one.Low, i)
		hi, okHigh := at(one.High, i)
		if !okLow || !okHigh {
			continue
		}
		there += pen + px(across.px(x[i])) + " " + px(y.px(hi))
		back = "L" + px(across.px(x[i])) + " " + px(y.px(lo)) + back
		pen = "L"
	}
	if there != "" {
		c.put(`<path d="%s%sZ" fill="%s" fill-opacity=".16" stroke="%s" stroke-opacity=".5" stroke-width=".8"/>`, there, back, stroke(s), stroke(s))
	}
}

// shape is the mark of a series around a place: disc, square, triangle, cross.
func shape(s int, x, y, r float64) string {
	switch s % 4 {
	case 0:
		return "M" + px(x-r) + " " + px(y) + "a" + px(r) + " " + px(r) + " 0 1 0 " + px(2*r) + " 0a" + px(r) + " " + px(r) + " 0 1 0 " + px(-2*r) + " 0Z"
	case 1:
		return "M" + px(x-r) + " " + px(y-r) + "h" + px(2*r) + "v" + px(2*r) + "h" + px(-2*r) + "Z"
	case 2:
		h := r * math.Sqrt(3) / 2
		return "M" + px(x) + " " + px(y-h*1.3) + "l" + px(1.2*r) + " " + px(2.2*h) + "h" + px(-2.4*r) + "Z"
	}
	return "M" + px(x-r) + " " + px(y-r) + "l" + px(2*r) + " " + px(2*r) + "M" + px(x-r) + " " + px(y+r) + "l" + px(2*r) + " " + px(-2*r)
}
