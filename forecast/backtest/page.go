package backtest

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"strings"
)

//go:embed page.html
var pageText string

// Page is what an HTML page shows.
type Page struct {
	Title  string
	Notes  []string // what it rests on, in words
	Result Result
}

// WriteHTML writes the page as one file that needs nothing else: no script, no
// font, no picture from elsewhere. It prints on paper.
func (p Page) WriteHTML(w io.Writer) error {
	t, err := template.New("page").Funcs(template.FuncMap{
		"plot":    plot,
		"percent": func(v float64) string { return fmt.Sprintf("%.0f %%", 100*v) },
		"four":    func(v float64) string { return fmt.Sprintf("%.4f", v) },
		"verdict": func(g *Gain) string {
			if g == nil {
				return ""
			}
			return map[string]string{"better": "▲ model better", "worse": "▼ model worse", "cannot tell": "– cannot tell"}[g.Verdict]
		},
	}).Parse(pageText)
	if err != nil {
		return err
	}
	return t.Execute(w, p)
}

// Colours of the cividis scale (Nuñez, Anderton & Renslow 2018, PLoS ONE
// 13:e0199239), from dark to light.
const (
	dark  = "#00204d"
	mid   = "#7c7b78"
	light = "#dcbf4b"
)

// plot draws observed shares against forecasts with 90 % intervals and the
// number of cases beside each, over a line of perfect calibration.
func plot(deciles []Decile) template.HTML {
	const size, left, top = 420.0, 60.0, 16.0
	most, highest := 1, 0.0 // most cases, highest probability or share
	for _, d := range deciles {
		if d.Cases > 0 {
			most, highest = max(most, d.Cases), max(highest, d.Forecast, d.Upper)
		}
	}
	scale := 1.0
	for highest < 0.45*scale {
		scale /= 2
	}
	x := func(p float64) float64 { return left + size*p/scale }
	y := func(p float64) float64 { return top + size*(1-p/scale) }
	var b strings.Builder
	add := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	add(`<svg viewBox="0 0 540 500" role="img" aria-label="calibration: share that failed against the probability forecast">`)
	for i := range 6 {
		p := scale * float64(i) / 5
		add(`<path d="M%.1f %.1fV%.1fM%.1f %.1fH%.1f" stroke="#ddd" fill="none"/>`, x(p), y(0), y(scale), x(0), y(p), x(scale))
		add(`<text x="%.1f" y="%.1f" text-anchor="middle">%.3g %%</text><text x="%.1f" y="%.1f" text-anchor="end">%.3g %%</text>`,
			x(p), y(0)+18, 100*p, x(0)-6, y(p)+4, 100*p)
	}
	add(`<path d="M%.1f %.1fL%.1f %.1f" stroke="%s" stroke-dasharray="6 4" fill="none"/>`, x(0), y(0), x(scale), y(scale), mid)
	add(`<text x="%.1f" y="%.1f" text-anchor="end" fill="%s">as said</text>`, x(scale), y(0.9*scale), mid)
	for _, d := range deciles {
		if d.Cases == 0 {
			continue
		}
		add(`<path d="M%.1f %.1fV%.1f" stroke="%s" stroke-width="2" fill="none"/>`, x(d.Forecast), y(d.Lower), y(d.Upper), dark)
		r := 3 + 6*math.Sqrt(float64(d.Cases)/float64(most))
		fill := light
		if !d.Fits {
			fill = "#fff"
		}
		add(`<circle cx="%.1f" cy="%.1f" r="%.1f" fill="%s" stroke="%s" stroke-width="1.5"/>`, x(d.Forecast), y(d.Observed), r, fill, dark)
		add(`<text x="%.1f" y="%.1f">%d</text>`, x(d.Forecast)+r+3, y(d.Observed)+4, d.Cases)
	}
	add(`<text x="%.1f" y="%.1f" text-anchor="middle">probability of failure forecast, mean of each tenth</text>`, x(scale/2), y(0)+42)
	add(`<text transform="translate(14 %.1f) rotate(-90)" text-anchor="middle">share that failed</text></svg>`, y(scale/2))
	return template.HTML(b.String()) // numbers only: nothing in it comes from the data's texts
}
