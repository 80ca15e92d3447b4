package sheet

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"reseal/condition/opening"
)

// Plot is the size of the drawing in its own units, and where its axes lie.
const (
	plotWidth, plotHeight           = 360.0, 190.0
	plotLeft, plotRight             = 42.0, 8.0
	plotTop, plotBottom             = 8.0, 28.0
	plotInnerWidth, plotInnerHeight = plotWidth - plotLeft - plotRight, plotHeight - plotTop - plotBottom
)

// plot draws the opening by deck temperature, its 80 % band, and the limits of
// the seal as dashed lines with their values, in black and grey. Blank without
// at least two expected openings.
func plot(openings []opening.Expected, m opening.Limits) template.HTML {
	if len(openings) < 2 {
		return ""
	}
	first, last := openings[0].DeckTempF, openings[len(openings)-1].DeckTempF
	low, high := math.Inf(1), math.Inf(-1)
	for _, o := range openings {
		low, high = min(low, o.LowIn), max(high, o.HighIn)
	}
	if m.Known() {
		low, high = min(low, m.MinIn), max(high, m.MaxIn)
	}
	step := tickStep(high - low)
	low, high = math.Floor(low/step)*step, math.Ceil(high/step)*step
	x := func(f float64) float64 { return plotLeft + (f-first)/(last-first)*plotInnerWidth }
	y := func(in float64) float64 { return plotTop + (high-in)/(high-low)*plotInnerHeight }

	var b strings.Builder
	line := func(x1, y1, x2, y2 float64, style string) {
		fmt.Fprintf(&b, `<line x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f" %s/>`, x1, y1, x2, y2, style)
	}
	text := func(px, py float64, anchor, say string) {
		fmt.Fprintf(&b, `<text x="%.1f" y="%.1f" text-anchor="%s">%s</text>`, px, py, anchor, say)
	}
	fmt.Fprintf(&b, `<svg viewBox="0 0 %g %g" role="img" aria-label="Opening by deck temperature with the limits of the seal" font-size="10">`, plotWidth, plotHeight)
	b.WriteString(`<polygon fill="#ddd" points="`)
	for _, o := range openings {
		fmt.Fprintf(&b, "%.1f,%.1f ", x(o.DeckTempF), y(o.HighIn))
	}
	for i := len(openings) - 1; i >= 0; i-- {
		fmt.Fprintf(&b, "%.1f,%.1f ", x(openings[i].DeckTempF), y(openings[i].LowIn))
	}
	b.WriteString(`"/>`)
	for in := low; in <= high+step/2; in += step {
		line(plotLeft, y(in), plotWidth-plotRight, y(in), `stroke="#bbb" stroke-width="0.5"`)
		text(plotLeft-3, y(in)+3.5, "end", fmt.Sprintf("%.3g", in))
	}
	for f := math.Ceil(first/20) * 20; f <= last; f += 20 {
		line(x(f), plotTop, x(f), plotHeight-plotBottom, `stroke="#bbb" stroke-width="0.5"`)
		text(x(f), plotHeight-plotBottom+11, "middle", fmt.Sprintf("%.0f", f))
	}
	text(plotLeft+plotInnerWidth/2, plotHeight-4, "middle", "deck temperature, °F")
	fmt.Fprintf(&b, `<text transform="translate(9 %.1f) rotate(-90)" text-anchor="middle">opening, in</text>`, plotTop+plotInnerHeight/2)
	b.WriteString(`<polyline fill="none" stroke="#000" stroke-width="1.6" points="`)
	for _, o := range openings {
		fmt.Fprintf(&b, "%.1f,%.1f ", x(o.DeckTempF), y(o.GapIn))
	}
	b.WriteString(`"/>`)
	if m.Known() {
		const dashed = `stroke="#000" stroke-width="1.2" stroke-dasharray="6 3"`
		line(plotLeft, y(m.MaxIn), plotWidth-plotRight, y(m.MaxIn), dashed)
		line(plotLeft, y(m.MinIn), plotWidth-plotRight, y(m.MinIn), dashed)
		text(plotWidth-plotRight-2, y(m.MaxIn)-3, "end", "seal's largest "+atMost(m.MaxIn)+" in")
		text(plotLeft+3, y(m.MinIn)-3, "start", "seal's smallest "+atLeast(m.MinIn)+" in")
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String()) // numbers and our own words only
}

// tickStep is the least of 0.25, 0.5, 1, 2, 5, 10 … that gives up to 7 ticks.
func tickStep(span float64) float64 {
	for scale := 1.0; ; scale *= 10 {
		for _, step := range [5]float64{0.25, 0.5, 1, 2, 5} {
			if span <= 7*step*scale {
				return step * scale
			}
		}
	}
}
