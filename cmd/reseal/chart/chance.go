package chart

// Chance draws how likely something is to have happened by the end of each year,
// with the year by which it is as likely as not, and those of 10 and 90 % as a
// band. A year of 0 lies beyond the last.
func Chance(f Frame, years []int, chance []float64, early, middle, late int) string {
	f.X, f.Y = Year, Percent
	c := newCanvas(f, nil)
	y := axis{from: 0, to: 1, at: c.bottom, end: c.top, step: 0.25}
	c.values(y)
	x := axis{from: 0, to: 1, at: c.left + 12, end: c.right - 12}
	if n := len(years); n > 1 {
		x.from, x.to = float64(years[0]), float64(years[n-1])
	}
	at := func(year int) float64 {
		if year == 0 {
			return x.end
		}
		return min(max(x.px(float64(year)), x.at), x.end)
	}
	if early > 0 {
		c.put(`<rect x="%s" y="%s" width="%s" height="%s" fill="currentColor" fill-opacity=".1"/>`, px(at(early)), px(c.top), px(max(3, at(late)-at(early))), px(c.bottom-c.top))
	}
	d, pen := "", "M"
	for i, year := range years {
		d += pen + px(at(year)) + " " + px(y.px(chance[i]))
		pen = "L"
	}
	c.put(`<path d="%s" fill="none" stroke="%s" stroke-width="2.5"/>`, d, stroke(0))
	labels := make([]string, len(years))
	for i, year := range years {
		labels[i] = Year(float64(year))
		c.put(`<path d="%s" fill="%s" stroke="%s"><title>%s</title></path>`, shape(0, at(year), y.px(chance[i]), 2.6), stroke(0), stroke(0),
			esc("by the end of "+labels[i]+": "+Percent(chance[i])))
	}
	if middle > 0 {
		c.line(at(middle), c.top-4, at(middle), c.bottom, ` stroke-dasharray="4 3"`)
		c.text(min(at(middle), c.right-20), c.top-8, "middle", Year(float64(middle)))
	}
	c.labels(labels, func(i int) float64 { return at(years[i]) })
	return c.done()
}
