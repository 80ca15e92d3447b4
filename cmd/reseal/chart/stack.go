package chart

// Stack draws one bar at each label with the series on top of each other, such
// as the feet in each condition state at each inspection. Up to four series.
// From the label outlook on, if it is over 0, bars are what is expected: they
// are outlined with dashes and said to be.
func Stack(f Frame, labels []string, outlook int, series ...Series) string {
	c := newCanvas(f, names(series))
	high := 0.0
	for i := range labels {
		sum := 0.0
		for _, s := range series {
			v, _ := at(s.Values, i)
			sum += max(v, 0)
		}
		high = max(high, sum)
	}
	y := newAxis(0, high, 5, c.bottom, c.top)
	c.values(y)
	group := (c.right - c.left) / max(1, float64(len(labels)))
	for i, label := range labels {
		base, expected, dash := 0.0, "", ""
		if outlook > 0 && i >= outlook {
			expected, dash = "expected ", ` stroke-dasharray="3 2"`
		}
		for s, one := range series {
			v, ok := at(one.Values, i)
			if !ok || v <= 0 {
				continue
			}
			top := y.px(base + v)
			c.put(`<rect x="%s" y="%s" width="%s" height="%s" fill="%s" stroke="#000" stroke-width=".6"%s><title>%s</title></rect>`,
				px(c.left+(float64(i)+0.15)*group), px(top), px(0.7*group), px(y.px(base)-top), c.fill(s), dash, esc(expected+label+", "+one.Name+": "+c.Y(v)))
			base += v
		}
	}
	if outlook > 0 && outlook < len(labels) {
		x := c.left + float64(outlook)*group
		c.line(x, c.top-4, x, c.bottom, ` stroke-dasharray="4 3"`)
		c.text(x+4, c.top-6, "start", "expected")
	}
	c.labels(labels, func(i int) float64 { return c.left + (float64(i)+0.5)*group })
	c.legend(names(series), c.swatch)
	return c.done()
}
