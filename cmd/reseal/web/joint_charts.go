package web

import (
	"cmp"
	"fmt"
	"html/template"
	"slices"

	"reseal/cmd/reseal/chart"
	"reseal/condition"
	"reseal/condition/opening"
	"reseal/forecast"
	"reseal/inventory"
)

// timeLine draws the seals of each stretch with what was seen and done.
func timeLine(b *jointPage, today inventory.Date) template.HTML {
	now := today.DecimalYear()
	from, to := now, now+3
	var rows []chart.TimeRow
	for i := range b.Stretches {
		t := &b.Stretches[i]
		row := chart.TimeRow{Name: "Seal"}
		if len(b.Stretches) > 1 {
			row.Name = fmt.Sprintf("Seal, %s–%s ft", number(t.FromFt), number(t.ToFt))
		}
		for _, seal := range slices.Backward(t.Seals) {
			if seal.InstalledOn.IsZero() {
				continue
			}
			end, words := now, seal.Kind+", since "+seal.InstalledOn.String()
			if !seal.RemovedOn.IsZero() {
				end, words = seal.RemovedOn.DecimalYear(), seal.Kind+", "+seal.InstalledOn.String()+" to "+seal.RemovedOn.String()
			}
			row.Spans = append(row.Spans, chart.TimeSpan{From: seal.InstalledOn.DecimalYear(), To: end, Name: seal.Kind, Tip: words})
		}
		rows = append(rows, row)
	}
	rows = append(rows, eventRows(b)...)
	rows = slices.DeleteFunc(rows, func(r chart.TimeRow) bool { return len(r.Spans)+len(r.Marks) == 0 })
	if len(rows) == 0 {
		return ""
	}
	for _, r := range rows {
		for _, s := range r.Spans {
			from = min(from, s.From)
		}
		for _, m := range r.Marks {
			from = min(from, m.At)
		}
	}
	return template.HTML(chart.TimeLine(chart.Frame{
		Title: "What happened at " + b.Joint.Tag, Desc: "Seals in place, inspections, gap readings, work and findings by date; the lists below say the same.",
	}, from-0.5, to, now, rows...))
}

// eventRows are inspections, readings, work and findings, each in a row.
func eventRows(b *jointPage) []chart.TimeRow {
	looks := chart.TimeRow{Name: "Inspected"}
	for i := range b.Inspections {
		in := &b.Inspections[i]
		looks.Marks = append(looks.Marks, chart.TimeMark{At: in.InspectedOn.DecimalYear(), Tip: "inspected " + in.InspectedOn.String() + ": worst " + cmp.Or(condition.StateWord(condition.Worst(in.StateFt())), "not seen")})
	}
	read := chart.TimeRow{Name: "Gap read"}
	for _, r := range b.Readings {
		read.Marks = append(read.Marks, chart.TimeMark{At: r.ReadOn.DecimalYear(), Kind: 1, Tip: fmt.Sprintf("gap %.2f in, %s", r.GapIn, r.ReadOn)})
	}
	work := chart.TimeRow{Name: "Work"}
	for _, k := range b.Work {
		work.Marks = append(work.Marks, chart.TimeMark{At: k.DoneOn.DecimalYear(), Kind: 2, Tip: k.Treatment + ", " + k.DoneOn.String()})
	}
	found := chart.TimeRow{Name: "Findings"}
	for _, f := range b.Findings {
		found.Marks = append(found.Marks, chart.TimeMark{At: f.FoundOn.DecimalYear(), Kind: 3, Tip: f.Kind + ", " + f.Urgency + ", " + f.FoundOn.String()})
	}
	return []chart.TimeRow{looks, read, work, found}
}

// barYears is for how many years to come the condition is drawn.
const barYears = 10

// conditionBars draws the feet in each state as inspected, then as expected.
func conditionBars(b *jointPage) template.HTML {
	series := make([]chart.Series, 4)
	for s := range series {
		series[s].Name = condition.StateWord(s + 1)
	}
	var labels []string
	add := func(label string, ft [4]float64) {
		labels = append(labels, label)
		for s := range series {
			series[s].Values = append(series[s].Values, ft[s])
		}
	}
	for i := range slices.Backward(b.Inspections) {
		in := &b.Inspections[i]
		if ft := in.StateFt(); condition.Worst(ft) > 0 {
			add(fmt.Sprint(in.InspectedOn.Year), ft)
		}
	}
	outlook := len(labels)
	if f := b.Forecast; f != nil && f.Forecast != nil && f.LengthFt > 0 {
		for i, year := range f.Years[:min(barYears, len(f.Years))] {
			ft := f.Shares[i]
			for s := range ft {
				ft[s] *= f.LengthFt
			}
			add(fmt.Sprint(year), ft)
		}
	}
	if len(labels) == 0 {
		return ""
	}
	for s := range series { // the worst at the bottom, where it is seen first
		if s < 2 {
			series[s], series[3-s] = series[3-s], series[s]
		}
	}
	return template.HTML(chart.Stack(chart.Frame{
		Title: "Condition of " + b.Joint.Tag, Desc: "Feet in each condition state at each inspection, then expected at the end of each year if nothing is done.", YLabel: "feet",
	}, labels, outlook, series...))
}

// chance draws the probability of having failed, with the replacement year.
func chance(j *forecast.Projected) template.HTML {
	return template.HTML(chart.Chance(chart.Frame{
		Title: "Will " + j.Tag + " have failed?", Desc: "Probability of having failed by the end of each year, if nothing is done.", XLabel: "by the end of the fiscal year",
	}, j.Years, j.Failed, j.EarlyYear, j.ReplaceYear, j.LateYear))
}

// openingPlot draws the gap by the deck's temperature.
func openingPlot(tag string, g *condition.Gap, line *opening.Line, check *opening.Check, now float64) template.HTML {
	o := chart.Opening{MinIn: g.Limits.MinIn, MaxIn: g.Limits.MaxIn, ColdF: check.Range.MinF, HotF: check.Range.MaxF}
	for _, e := range line.ExpectedOpenings(now) {
		o.Line = append(o.Line, chart.OpeningAt{TempF: e.DeckTempF, GapIn: e.GapIn, LowIn: e.LowIn, HighIn: e.HighIn})
	}
	for _, r := range g.Readings {
		o.Readings = append(o.Readings, chart.OpeningAt{TempF: r.DeckTempF, GapIn: r.GapIn, Tip: fmt.Sprintf("%.2f in at %.0f °F, %.0f", r.GapIn, r.DeckTempF, r.Year)})
	}
	return template.HTML(o.Plot(chart.Frame{
		Title: "The gap of " + tag, Desc: "Readings, the line through them with its 80 % band, the seal's limits, and the coldest and hottest deck.",
		XLabel: "deck temperature, °F", YLabel: "gap, in",
	}))
}
