package main

import (
	"fmt"
	"math"
	"strings"

	"reseal/condition/opening"
)

const plotColumns, plotRows = 72, 15

// gapPlot draws the opening by deck temperature in characters: the line as *,
// its 80 % band as :, readings as o, the seal's limits as =.
func gapPlot(openings []gapOpening, readings []gapReading, m opening.Limits) string {
	if len(openings) < 2 {
		return ""
	}
	coldest, hottest := openings[0].DeckTempF, openings[len(openings)-1].DeckTempF
	low, high := math.Inf(1), math.Inf(-1)
	for _, o := range openings {
		low, high = min(low, o.LowIn), max(high, o.HighIn)
	}
	for _, r := range readings {
		low, high = min(low, r.GapIn), max(high, r.GapIn)
		coldest, hottest = min(coldest, r.DeckTempF), max(hottest, r.DeckTempF)
	}
	if m.Known() {
		low, high = min(low, m.MinIn), max(high, m.MaxIn)
	}
	if high-low < 0.1 {
		low, high = low-0.05, high+0.05
	}
	column := func(f float64) int {
		return int(math.Round((f - coldest) / (hottest - coldest) * (plotColumns - 1)))
	}
	row := func(in float64) int { return int(math.Round((high - in) / (high - low) * (plotRows - 1))) }
	var grid [plotRows][]rune
	for i := range grid {
		grid[i] = []rune(strings.Repeat(" ", plotColumns))
	}
	across := func(in float64, mark rune) {
		for x := range plotColumns {
			grid[row(in)][x] = mark
		}
	}
	for x := range plotColumns {
		o := between(openings, coldest+(hottest-coldest)*float64(x)/(plotColumns-1))
		for y := max(row(o.HighIn), 0); y <= min(row(o.LowIn), plotRows-1); y++ {
			grid[y][x] = ':'
		}
	}
	if m.Known() {
		across(m.MinIn, '=')
		across(m.MaxIn, '=')
	}
	for x := range plotColumns {
		o := between(openings, coldest+(hottest-coldest)*float64(x)/(plotColumns-1))
		if y := row(o.GapIn); y >= 0 && y < plotRows {
			grid[y][x] = '*'
		}
	}
	for _, r := range readings {
		grid[row(r.GapIn)][column(r.DeckTempF)] = 'o'
	}
	var b strings.Builder
	b.WriteString("opening in inches by deck temperature: * line, : 80 % band, o reading")
	if m.Known() {
		b.WriteString(", = seal's limits")
	}
	b.WriteByte('\n')
	for y, line := range grid {
		label := "      "
		if y%2 == 0 {
			label = fmt.Sprintf("%6.2f", high-(high-low)*float64(y)/(plotRows-1))
		}
		b.WriteString(strings.TrimRight(label+" |"+string(line), " ") + "\n")
	}
	b.WriteString("       +" + strings.Repeat("-", plotColumns) + "\n")
	axis := []rune(strings.Repeat(" ", plotColumns+12))
	for f := math.Ceil(coldest/20) * 20; f <= hottest; f += 20 {
		copy(axis[6+column(f):], []rune(fmt.Sprintf("%3.0f", f)))
	}
	b.WriteString(strings.TrimRight(string(axis), " ") + " °F\n")
	return b.String()
}

// between interpolates the openings at a temperature; beyond the ends the
// last two go on.
func between(openings []gapOpening, deckTempF float64) gapOpening {
	i := 1
	for i < len(openings)-1 && openings[i].DeckTempF < deckTempF {
		i++
	}
	a, b := openings[i-1], openings[i]
	t := (deckTempF - a.DeckTempF) / (b.DeckTempF - a.DeckTempF)
	mix := func(x, y float64) float64 { return x + t*(y-x) }
	return gapOpening{deckTempF, mix(a.GapIn, b.GapIn), mix(a.LowIn, b.LowIn), mix(a.HighIn, b.HighIn)}
}
