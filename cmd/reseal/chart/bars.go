package chart

// Bars draws a group of bars at each label, one bar a series, with a whisker
// where the series has a band. Up to four series.
func Bars(f Frame, labels []string, series ...Series) string {
	c := newCanvas(f)
	low, high := reach(series)
	y := newAxis(low, high, 5, c.bottom, c.top)
	c.values(y)
	group := (c.right - c.left) / max(1, float64(len(labels)))
	width := 0.76 * group / max(1, float64(len(series)))
	left := func(i, s int) float64 { return c.left + (float64(i)+0.12)*group + float64(s)*width }
	for s, one := range series {
		for i, label := range labels {
			v, ok := at(one.Values, i)
			if !ok {
				continue
			}
			x, top, bottom := left(i, s), y.px(max(v, 0)), y.px(min(v, 0))
			lo, okLow := at(one.Low, i)
			hi, okHigh := at(one.High, i)
			tip := label + ", " + one.Name + ": " + c.Y(v)
			if okLow && okHigh {
				tip += " (10-90 %: " + c.Y(lo) + " to " + c.Y(hi) + ")"
			}
			c.put(`<rect x="%s" y="%s" width="%s" height="%s" fill="%s" stroke="#000" stroke-width=".6"><title>%s</title></rect>`,
				px(x), px(top), px(0.92*width), px(bottom-top), c.fill(s), esc(tip))
			if okLow && okHigh {
				c.whisker(x+0.46*width, min(6, 0.3*width), y.px(lo), y.px(hi))
			}
		}
	}
	c.labels(labels, func(i int) float64 { return c.left + (float64(i)+0.5)*group })
	c.legend(names(series), c.swatch)
	return c.done()
}

// whisker is a band as an upright line with feet, white below so that it shows
// on a dark bar.
func (c *canvas) whisker(x, foot, low, high float64) {
	d := "M" + px(x) + " " + px(low) + "V" + px(high) + "M" + px(x-foot) + " " + px(low) + "h" + px(2*foot) + "M" + px(x-foot) + " " + px(high) + "h" + px(2*foot)
	c.put(`<path d="%s" stroke="#fff" stroke-width="3.4" fill="none"/><path d="%s" stroke="#000" stroke-width="1.3" fill="none"/>`, d, d)
}

// swatch is the box of a filled series in the legend.
func (c *canvas) swatch(i int, x, y float64) {
	c.put(`<rect x="%s" y="%s" width="18" height="11" fill="%s" stroke="#000" stroke-width=".6"/>`, px(x), px(y), c.fill(i))
}

// Bands draws shares that add up, one band a series from below, such as the
// length in each condition state over the years. Up to four series.
func Bands(f Frame, labels []string, series ...Series) string {
	c := newCanvas(f)
	n := len(labels)
	base, top := make([]float64, n), make([]float64, n)
	high := 0.0
	for i := range n {
		sum := 0.0
		for _, s := range series {
			v, _ := at(s.Values, i)
			sum += max(v, 0)
		}
		high = max(high, sum)
	}
	y := newAxis(0, high, 5, c.bottom, c.top)
	x := func(i int) float64 { return c.left + (float64(i)+0.5)*(c.right-c.left)/max(1, float64(n)) }
	c.values(y)
	for s, one := range series {
		for i := range n {
			v, _ := at(one.Values, i)
			top[i] = base[i] + max(v, 0)
		}
		c.put(`<path d="`)
		for i := range n {
			c.put("%s%s %s", map[bool]string{true: "M", false: "L"}[i == 0], px(x(i)), px(y.px(top[i])))
		}
		for i := n - 1; i >= 0; i-- {
			c.put("L%s %s", px(x(i)), px(y.px(base[i])))
		}
		first, _ := at(one.Values, 0)
		last, _ := at(one.Values, n-1)
		c.put(`Z" fill="%s" stroke="#000" stroke-width=".6"><title>%s: from %s to %s</title></path>`, c.fill(s), esc(one.Name), esc(c.Y(first)), esc(c.Y(last)))
		copy(base, top)
	}
	c.labels(labels, x)
	c.legend(names(series), c.swatch)
	return c.done()
}
