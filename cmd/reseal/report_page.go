package main

import (
	"cmp"
	_ "embed"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/cmd/reseal/chart"
	"reseal/forecast"
	"reseal/forecast/money"
	"reseal/inventory"
	"reseal/inventory/store"
)

//go:embed report.gohtml
var reportText string

// pageTemplate reads the page; its functions put numbers into words.
func pageTemplate() (*template.Template, error) {
	return template.New("report").Funcs(template.FuncMap{
		"dollars": func(v any) string {
			switch v := v.(type) {
			case int64:
				return "$" + money.FormatDollars(v)
			case money.Nominal:
				return "$" + money.FormatDollars(int64(v))
			case float64:
				return "$" + money.FormatDollars(int64(math.Round(v)))
			}
			return "?"
		},
		"between":    bandOf,
		"wholeWords": func() string { return "Of the money: " + strings.TrimPrefix(forecast.WholeWords, "of which ") },
		"count":      func(v float64) string { return money.FormatDollars(int64(math.Round(v)) * 100) },
		"percent":    func(share float64) string { return fmt.Sprintf("%.1f %%", 100*share) },
	}).Parse(reportText)
}

// bandOf is a band of cents in few characters.
func bandOf(low, high any) string {
	short := func(v any) string {
		switch v := v.(type) {
		case money.Nominal:
			return chart.Dollars(float64(v) / 100)
		case float64:
			return chart.Dollars(v / 100)
		}
		return "?"
	}
	return short(low) + "-" + strings.TrimPrefix(short(high), "$")
}

// listShown is how many lines of the work list a report has.
const listShown = 15

// reportPage is all that a report shows.
type reportPage struct {
	Title, Notice, Where string
	AsOf                 inventory.Date
	Summary              []string

	Map, Money, Idle, With, Severe, Curve template.HTML

	Years  []reportYear
	Whole  []forecast.WholeRow // by year, then all; none where there are none
	Levels []reportLevel

	List    []forecast.WorkItem
	Line    string
	Urgent  []forecast.WorkItem
	Caution string
	Claims  forecast.ClaimCount

	Illustrative string
	Notes        []string
}

// reportYear is one line of the table of years.
type reportYear struct {
	Need       forecast.BudgetRow
	Idle, With *forecast.Standing
}

// reportLevel is one line of the table of levels.
type reportLevel struct {
	Name string
	Plan *forecast.Plan
	End  *forecast.Standing
}

// gather works out everything that the page shows.
func gather(c *cli.Context, w world, s *store.Store, m *forecast.Model, t *forecast.Tables, o forecast.Options, levels []float64) (*reportPage, error) {
	r := &reportPage{Title: "Bridge deck joints", Where: where(c), AsOf: o.AsOf, Caution: strings.Join(strings.Fields(caution), " ")}
	var err error
	if r.Notice, err = store.Notice(c.Context, s.Read()); err != nil {
		return nil, err
	}
	p := &projection{settings: t.Settings, bands: t.BandWords(), prices: t.PriceWords()}
	if p.Budget, err = m.NewBudget(c.Context, s.Read(), o, c.Int("years"), forecast.ByDistrict); err != nil {
		return nil, err
	}
	pr, err := planFor(c, s, m, o, p.Years-1)
	if err != nil {
		return nil, err
	}
	source := "the money given"
	if !pr.Limited() {
		source = "the money that holds today's share failed, as no budget is on record"
		hold := money.FormatDollars(max(int64(p.Steady.Hold()), 100))
		if err := c.Set("yearly", hold); err != nil {
			return nil, err
		}
		if pr, err = planFor(c, s, m, o, p.Years-1); err != nil {
			return nil, err
		}
	}
	own := slices.Index(levels, 1) // the plan for all of the money
	if own < 0 {
		levels = append(levels, 1)
		slices.Sort(levels)
		own = slices.Index(levels, 1)
	}
	l, err := solveLevels(c, s, m, o, pr, levels)
	if err != nil {
		return nil, err
	}
	st, err := m.NewStandings(c.Context, s.Read(), o, p.Years, forecast.ByDistrict, pr)
	if err != nil {
		return nil, err
	}
	p.standings, p.priced = st, pr.Illustrative
	p.plan = l.levels[own].plan
	r.tables(p, l, own)
	if err := r.list(c, w, s, m, o); err != nil {
		return nil, err
	}
	places, err := r.places(c, s, o)
	if err != nil {
		return nil, err
	}
	r.charts(l, places)
	r.summarise(p, places, source)
	r.Illustrative = illustrativeNote(p.priced)
	r.Notes = r.rests(p, l)
	return r, nil
}

// tables takes the years and the levels; the plan's own level stands at its
// index.
func (r *reportPage) tables(p *projection, l *levelling, own int) {
	idle := forecast.NetworkYears(p.standings.Idle)
	with := forecast.NetworkYears(l.levels[own].all)
	for i := range idle {
		y := reportYear{Need: p.Network[i], Idle: &idle[i]}
		if i > 0 && i-1 < len(with) { // the plan begins next year
			y.With = &with[i-1]
		}
		r.Years = append(r.Years, y)
	}
	r.Whole = forecast.WholeRows(p.Network, l.levels[own].all)
	for i := range l.levels {
		v := &l.levels[i]
		r.Levels = append(r.Levels, reportLevel{v.name, v.plan, v.end()})
	}
}

// list takes the first lines of next year's work list.
func (r *reportPage) list(c *cli.Context, w world, s *store.Store, m *forecast.Model, o forecast.Options) error {
	list, err := workListOf(c, w, s, m, o)
	if err != nil {
		return err
	}
	r.List = list.Ranked[:min(listShown, len(list.Ranked))]
	r.Urgent = list.Urgent
	r.Line = fmt.Sprintf("%s ranked for %d, %s in all.", plural(len(list.Ranked), "joint"), list.Year, "$"+money.FormatDollars(list.SpentCents))
	if list.BudgetCents > 0 {
		r.Line = fmt.Sprintf("The $%s of %d reach %s of %d ranked, for $%s.", money.FormatDollars(list.BudgetCents), list.Year,
			plural(list.Line, "joint"), len(list.Ranked), money.FormatDollars(list.SpentCents))
	}
	claims, err := m.Claims(c.Context, s.Read(), o)
	r.Claims = forecast.CountClaims(claims)
	return err
}

// places are the joints on the map by their latest condition.
func (r *reportPage) places(c *cli.Context, s *store.Store, o forecast.Options) ([]chart.Layer, error) {
	layers := []chart.Layer{{Name: "never inspected"}, {Name: "good or fair"}, {Name: "some length poor"}, {Name: "some length severe"}}
	err := inventory.EachJoint(c.Context, s.Read(), o.Filter, func(j *inventory.JointRow) error {
		if j.Geom.Geometry == nil {
			return nil
		}
		layer := &layers[[...]int{0, 1, 1, 2, 3}[j.WorstState]]
		layer.At = append(layer.At, j.Geom.Bound().Center())
		return nil
	})
	return layers, err
}

// summarise says in sentences what the page shows.
func (r *reportPage) summarise(p *projection, places []chart.Layer, source string) {
	first, last := r.Years[0], r.Years[len(r.Years)-1]
	seen := 0
	for _, l := range places {
		seen += len(l.At)
	}
	say := func(format string, args ...any) { r.Summary = append(r.Summary, fmt.Sprintf(format, args...)) }
	say("%s in service, of which %d showed severe condition (CS4) when last inspected; by the end of %d about %.0f have failed (10-90 %%: %.0f to %.0f), a backlog of %s ft or %s.",
		plural(p.Joints, "joint"), len(places[3].At), first.Idle.Year, first.Idle.Failed.Mean, first.Idle.Failed.Low, first.Idle.Failed.High,
		money.FormatDollars(int64(first.Idle.BacklogFeet.Mean)*100), "$"+money.FormatDollars(int64(math.Round(first.Idle.Backlog.Mean))))
	if last.With != nil {
		say("With %s, %s over %d-%d, %.0f joints have failed at the end of %d; with nothing done %.0f. The backlog is then %s, against %s.",
			source, "$"+money.FormatDollars(int64(p.plan.SpentCents())), r.Years[1].Idle.Year, last.Idle.Year, last.With.Failed.Mean, last.Idle.Year, last.Idle.Failed.Mean,
			"$"+money.FormatDollars(int64(math.Round(last.With.Backlog.Mean))), "$"+money.FormatDollars(int64(math.Round(last.Idle.Backlog.Mean))))
	}
	if open := p.plan.OpenWords(); open != "" {
		say("%s.", open)
	}
	say("To hold today's share failed, %.1f %% by the cost of renewal, takes about $%s a year in constant dollars of %d.",
		100*p.Steady.FailedShare, money.FormatDollars(int64(p.Steady.Hold())), p.FirstYear)
	if len(r.Urgent) > 0 {
		say("%s an open severe finding or a plate and needs an engineer's review first.", map[bool]string{true: "1 joint has", false: fmt.Sprintf("Each of %d joints has", len(r.Urgent))}[len(r.Urgent) == 1])
	}
	if words := r.Claims.Words(); words != "" {
		say("%s (reseal claim).", words)
	}
}

// rests says what the figures rest on and leave out.
func (r *reportPage) rests(p *projection, l *levelling) []string {
	lines := []string{
		strings.ToUpper(p.settings.Backlog()[:1]) + p.settings.Backlog()[1:] + ".",
		"Need: every seal renewed in the year in which it fails, with no limit of money; the first year holds all that has failed already.",
		p.bands,
		fmt.Sprintf("Nominal dollars are as paid in each year; expected cost is a present value in constant dollars. %s.", p.prices),
		"No limit of money is the plan of least expected cost: it leaves a failed seal where waiting costs less than the work.",
		fmt.Sprintf("The plan's cost is within %.2f %% of the least possible.", p.plan.GapPct),
	}
	lines = append(lines, forecast.NotJudged(p.NoForecast, p.NoLength)...)
	if p.plan.Shortfall != nil || l.short {
		lines = append(lines, "At some level no plan meets every condition; the nearest is shown.")
	}
	return append(lines, "A forecast replaces no inspection and no engineer's judgement.")
}

// charts draws what the page shows.
func (r *reportPage) charts(l *levelling, places []chart.Layer) {
	var labels []string
	need := chart.Series{Name: "need"}
	planned, backlog := chart.Series{Name: "planned"}, chart.Series{Name: "backlog left by the plan"}
	var idle, with [4][]float64
	var years []float64
	severe := []chart.Series{{Name: "nothing done"}, {Name: "with the plan"}}
	for _, y := range r.Years {
		labels = append(labels, fmt.Sprint(y.Idle.Year))
		need.Values = append(need.Values, float64(y.Need.Nominal)/100)
		need.Low, need.High = append(need.Low, float64(y.Need.Low)/100), append(need.High, float64(y.Need.High)/100)
		at := y.With
		if at == nil {
			at = y.Idle
		}
		planned.Values = append(planned.Values, at.Spent.Mean/100)
		backlog.Values = append(backlog.Values, at.Backlog.Mean/100)
		backlog.Low, backlog.High = append(backlog.Low, at.Backlog.Low/100), append(backlog.High, at.Backlog.High/100)
		years = append(years, float64(y.Idle.Year))
		for k, s := range []*forecast.Standing{y.Idle, at} {
			severe[k].Values = append(severe[k].Values, s.Severe().Mean)
			severe[k].Low, severe[k].High = append(severe[k].Low, s.Severe().Low), append(severe[k].High, s.Severe().High)
		}
		for k := range idle {
			idle[k], with[k] = append(idle[k], y.Idle.States[k].Mean), append(with[k], at.States[k].Mean)
		}
	}
	first, last := &r.Years[0], &r.Years[len(r.Years)-1]
	r.Map = svg(chart.Map(chart.Frame{
		Title: "Joints by latest condition", Desc: fmt.Sprintf("A plot of the joints by longitude and latitude, %d of them with severe length.", len(places[3].At)), WidthPx: 700,
	}, places...))
	r.Money = svg(chart.Bars(chart.Frame{
		Title: "Money by fiscal year", YLabel: "nominal dollars; whiskers 10-90 %", Y: chart.Dollars,
		Desc: fmt.Sprintf("Need from %s in %s to %s in %s, beside what is planned and the backlog.", chart.Dollars(need.Values[0]), labels[0], chart.Dollars(need.Values[len(labels)-1]), labels[len(labels)-1]),
	}, labels, need, planned, backlog))
	states := func(shares [4][]float64) []chart.Series {
		return []chart.Series{{Name: "CS4 severe", Values: shares[3]}, {Name: "CS3 poor", Values: shares[2]}, {Name: "CS2 fair", Values: shares[1]}, {Name: "CS1 good", Values: shares[0]}}
	}
	frame := func(title string, end *forecast.Standing) chart.Frame {
		return chart.Frame{
			Title: title, YLabel: "mean share of the length, end of year", Y: chart.Percent, WidthPx: 370, HeightPx: 260,
			Desc: fmt.Sprintf("Length in CS4 goes from %s to %s.", chart.Percent(first.Idle.Severe().Mean), chart.Percent(end.Severe().Mean)),
		}
	}
	r.Idle = svg(chart.Bands(frame("Condition with nothing done", last.Idle), labels, states(idle)...))
	if last.With != nil {
		r.With = svg(chart.Bands(frame("Condition with the plan", last.With), labels, states(with)...))
	} else {
		severe = severe[:1]
	}
	r.Severe = svg(chart.Lines(chart.Frame{
		Title: "Length in CS4, with its 10-90 % band", YLabel: "share of the length, end of year", X: chart.Year, Y: chart.Percent, HeightPx: 260,
		Desc: fmt.Sprintf("With nothing done %s to %s at the end of the last year.", chart.Percent(last.Idle.Severe().Low), chart.Percent(last.Idle.Severe().High)),
	}, years, severe...))
	r.Curve = levelCurve(l)
}

// levelCurve draws the backlog at the end against the yearly money.
func levelCurve(l *levelling) template.HTML {
	var x []float64
	s := chart.Series{Name: "backlog at the end, with its 10-90 % band"}
	years := float64(l.problem.Instance.Years)
	order := append([]level{}, l.levels[:len(l.levels)-1]...) // no limit is no money given
	slices.SortStableFunc(order, func(a, b level) int { return cmp.Compare(a.plan.SpentCents(), b.plan.SpentCents()) })
	for i := range order {
		v := &order[i]
		spent := float64(v.plan.SpentCents()) / 100 / years
		if len(x) > 0 && spent <= x[len(x)-1] {
			continue
		}
		end := v.end()
		x = append(x, spent)
		s.Values, s.Low, s.High = append(s.Values, end.Backlog.Mean/100), append(s.Low, end.Backlog.Low/100), append(s.High, end.Backlog.High/100)
	}
	if len(x) < 2 {
		return ""
	}
	return svg(chart.Lines(chart.Frame{
		Title: "What other levels of money leave undone", XLabel: "mean yearly money spent, nominal dollars", YLabel: "backlog, nominal dollars", X: chart.Dollars, Y: chart.Dollars, HeightPx: 260,
		Desc: fmt.Sprintf("From %s a year with a backlog of %s to %s with %s.", chart.Dollars(x[0]), chart.Dollars(s.Values[0]), chart.Dollars(x[len(x)-1]), chart.Dollars(s.Values[len(x)-1])),
	}, x, s))
}

// svg marks what package chart drew, which escapes its texts itself, as HTML.
func svg(drawn string) template.HTML { return template.HTML(drawn) }
