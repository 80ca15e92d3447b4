package web

import (
	"context"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"reseal/cmd/reseal/chart"
	"reseal/condition"
	"reseal/forecast"
	"reseal/forecast/money"
	"reseal/inventory"
	"reseal/inventory/store"
)

func (s *Server) budgetRoutes(mux *http.ServeMux) {
	mux.Handle("GET /budget", s.page(s.budget))
	mux.Handle("POST /budget/keep", s.page(s.keepPlan))
	mux.Handle("GET /budget/export/{file}", s.page(s.exportBudget))
}

// budgetQuery is what a budget's address asks for.
type budgetQuery struct {
	Years       int
	YearlyCents int64  // nominal, of each year; 0: the budgets on record
	Levels      string // per cent, separated by commas
}

// shares are the levels as parts of 1; that of the budgets themselves is always
// among them.
func (q budgetQuery) shares() ([]float64, error) {
	shares := []float64{1}
	for text := range strings.SplitSeq(q.Levels, ",") {
		v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
		if err != nil || !(v >= 0 && v <= 1000) || len(shares) > 12 {
			return nil, store.Invalid("for example 80,90,110", "levels are up to 12 numbers from 0 to 1000 per cent, not %q", q.Levels)
		}
		if v != 100 {
			shares = append(shares, v/100)
		}
	}
	return shares, nil
}

func (q budgetQuery) address() template.URL {
	v := url.Values{"years": {strconv.Itoa(q.Years)}, "levels": {q.Levels}}
	if q.YearlyCents > 0 {
		v.Set("yearly", money.FormatDollars(q.YearlyCents))
	}
	return template.URL(v.Encode()) // escaped as a query is
}

func budgetAsked(v url.Values) (q budgetQuery, err error) {
	q = budgetQuery{Years: 10, Levels: "80,90,100,110,120"}
	if text := v.Get("years"); text != "" {
		if q.Years, err = strconv.Atoi(text); err != nil || q.Years < 1 || q.Years > 30 {
			return q, store.Invalid("give 1 to 30", "%q is not a number of years", text)
		}
	}
	if text := strings.TrimLeft(strings.TrimSpace(v.Get("yearly")), "$"); text != "" {
		if q.YearlyCents, err = money.Parse(text); err != nil || q.YearlyCents <= 0 {
			return q, store.Invalid("give dollars over 0, for example 2,000,000", "%q is not the money of a year", text)
		}
	}
	if text := strings.TrimSpace(v.Get("levels")); text != "" {
		q.Levels = text
	}
	_, err = q.shares()
	return q, err
}

// projection is what the coming years need, and plans at several levels of
// money.
type projection struct {
	Budget    *forecast.Budget
	Levels    []forecast.Level    // by rising share, the need last
	Standings *forecast.Standings // of the network and its districts, in the order of Levels
	FirstYear int                 // of the plans
	LastYear  int
	PriceYear int
	Bands     string // what the bands count
	Assumed   int64  // cents a year taken because no budget is on record; 0: none
}

// makeProjection works out what a query asks for.
func (s *Server) makeProjection(ctx context.Context, q budgetQuery) (*projection, error) {
	a, err := s.theAgency(ctx)
	if err != nil {
		return nil, err
	}
	shares, err := q.shares()
	if err != nil {
		return nil, err
	}
	db, now := s.Store.Read(), a.model.YearOf(s.today())
	joints, err := inventory.CountJoints(ctx, db, inventory.Filter{})
	if err != nil {
		return nil, err
	}
	defer s.planning.begin(joints)()
	p := &projection{Bands: a.tables.BandWords()}
	if p.Budget, err = a.model.NewBudget(ctx, db, s.asOfToday(), q.Years+1, forecast.ByDistrict); err != nil {
		return nil, err
	}
	s.planning.tidy()
	o := forecast.PlanOptions{Options: s.asOfToday(), FirstYear: now + 1, Years: q.Years, YearlyCents: q.YearlyCents}
	problem, err := a.model.NewProblem(ctx, db, o)
	if err != nil {
		return nil, err
	}
	need, err := problem.Unlimited(ctx)
	if err != nil {
		return nil, err
	}
	need.Forget()
	if !problem.Limited() {
		p.Assumed = need.EvenCents()
		problem.GiveYearly(p.Assumed)
	}
	s.planning.tidy()
	p.FirstYear, p.LastYear, p.PriceYear = now+1, now+q.Years, problem.PriceYear
	if p.Levels, err = problem.SideBySide(ctx, need, shares); err != nil {
		return nil, err
	}
	plans := make([]*forecast.Plan, len(p.Levels))
	for i := range p.Levels {
		plans[i] = p.Levels[i].Plan
	}
	s.planning.tidy()
	// The problem, most of the memory, ends in here: nothing may hold it on.
	p.Standings, err = a.model.NewStandings(ctx, db, s.asOfToday(), q.Years+1, forecast.ByDistrict, problem, plans...)
	return p, err
}

// base is the level of the budgets as they are.
func (p *projection) base() *forecast.Level { return &p.Levels[p.baseAt()] }

func (p *projection) baseAt() int {
	return slices.IndexFunc(p.Levels, func(l forecast.Level) bool { return l.Share == 1 })
}

// End is where the network stands at the last year's end under a level.
func (p *projection) End(level int) *forecast.Standing {
	all := p.Standings.Plans[level]
	return &all[len(all)-1]
}

// Ends are where the districts stand at the last year's end at 100 %.
func (p *projection) Ends() (out []forecast.Standing) {
	for _, row := range p.Standings.Plans[p.baseAt()] {
		if row.Year == p.LastYear && !row.Network {
			out = append(out, row)
		}
	}
	return out
}

// budgetPage is a projection for people.
type budgetPage struct {
	*projection
	Query     budgetQuery
	Address   template.URL
	AsOf      string
	Sentences []string // what each level means, the most telling first
	Years     template.HTML
	Curve     template.HTML
	Used      template.HTML
	Condition template.HTML
	Failed    template.HTML
	Severe    template.HTML
	Total     forecast.BudgetRow
	Districts []forecast.BudgetRow // all years of each
	Whole     []forecast.WholeRow  // of the network and the plan of 100 %; none where there are none
	LeftOut   []string
}

func (s *Server) budget(w http.ResponseWriter, r *http.Request) error {
	q, err := budgetAsked(r.URL.Query())
	if err != nil {
		return err
	}
	p, at, err := s.projections.get(r.Context(), s, q)
	if err != nil {
		return err
	}
	b := &budgetPage{projection: p, Query: q, Address: q.address(), AsOf: asOfClock(at), Years: needBars(p), Curve: moneyCurve(p), Used: usedBars(p), Condition: conditionBands(p), Failed: failedLines(p), Severe: severeLines(p)}
	base := p.base()
	for i := range p.Levels {
		if l := &p.Levels[i]; l != base {
			b.Sentences = append(b.Sentences, l.Against(base, p.LastYear))
		}
	}
	rows := p.Budget.Network
	b.Total = rows[len(rows)-1]
	for _, row := range p.Budget.Groups {
		if row.Year == 0 {
			b.Districts = append(b.Districts, row)
		}
	}
	b.Whole = forecast.WholeRows(rows, p.Standings.Plans[p.baseAt()])
	b.LeftOut = forecast.NotJudged(p.Budget.NoForecast, p.Budget.NoLength)
	return s.render(w, r, http.StatusOK, "budget.html", Page{
		Title: "Budget", Nav: "Budget", Style: []string{"joint.css", "chart.css", "budget.css"}, Code: []string{"budget.js"}, Body: b,
	})
}

// toDollars is cents for a chart.
func toDollars[C ~int64](cents C) float64 { return float64(cents) / 100 }

// needBars draws what the years need, with the band.
func needBars(p *projection) template.HTML {
	var labels []string
	need := chart.Series{Name: "expected need"}
	for _, row := range p.Budget.Network {
		if row.Year == 0 {
			continue
		}
		labels = append(labels, fmt.Sprint(row.Year))
		need.Values = append(need.Values, toDollars(row.Nominal))
		need.Low, need.High = append(need.Low, toDollars(row.Low)), append(need.High, toDollars(row.High))
	}
	return template.HTML(chart.Bars(chart.Frame{
		Title: "What each year needs", Desc: "Expected cost of renewing every seal in the year in which it fails, with its 10 to 90 % band.",
		YLabel: money.Nominal(0).Label(), Y: chart.Dollars,
	}, labels, need))
}

// usedBars draws what the plans at the least, the base and the greatest level
// spend in each year.
func usedBars(p *projection) template.HTML {
	var plans []*forecast.Plan
	var series []chart.Series
	for i := range p.Levels {
		if l := &p.Levels[i]; i == 0 || l == p.base() || i == len(p.Levels)-2 || l.NoLimit {
			plans, series = append(plans, l.Plan), append(series, chart.Series{Name: l.Name()})
		}
	}
	var labels []string
	for _, year := range forecast.PlansByYear(plans...) {
		labels = append(labels, year.Name)
		for k, cents := range year.Cents {
			series[k].Values = append(series[k].Values, toDollars(cents))
		}
	}
	return template.HTML(chart.Bars(chart.Frame{
		Title: "What each year spends", Desc: "Money that the plan uses in each year at some levels of money.", YLabel: money.Nominal(0).Label(), Y: chart.Dollars,
	}, labels, series...))
}

// conditionBands draws the share of the network's length in each state at the
// money as it is.
func conditionBands(p *projection) template.HTML {
	series := make([]chart.Series, 4)
	for i := range series { // the worst at the bottom
		series[i].Name = condition.StateWord(4 - i)
	}
	var labels []string
	for _, row := range forecast.NetworkYears(p.Standings.Plans[p.baseAt()]) {
		labels = append(labels, fmt.Sprint(row.Year))
		for i := range series {
			series[i].Values = append(series[i].Values, row.States[3-i].Mean)
		}
	}
	return template.HTML(chart.Bands(chart.Frame{
		Title: "Condition at 100 % of the money", Desc: "Mean share of the network's length in each condition state at the end of each year.", YLabel: "share of the length", Y: chart.Percent,
	}, labels, series...))
}

// failedLines draws how many joints have failed.
func failedLines(p *projection) template.HTML {
	return standingLines(p, chart.Frame{
		Title: "Joints failed", Desc: "Joints expected to have failed at the end of each year, with 10 to 90 % bands.", YLabel: "joints",
	}, func(s *forecast.Standing) forecast.Band { return s.Failed })
}

// severeLines draws the share of the length in CS4.
func severeLines(p *projection) template.HTML {
	return standingLines(p, chart.Frame{
		Title: "Length in CS4", Desc: "Share of the network's length expected in CS4 at the end of each year, with 10 to 90 % bands.", YLabel: "share of the length", Y: chart.Percent,
	}, (*forecast.Standing).Severe)
}

// standingLines draws where the network stands by year with nothing done, at the
// least level, at the money as it is and with no limit.
func standingLines(p *projection, f chart.Frame, of func(*forecast.Standing) forecast.Band) template.HTML {
	var x []float64
	line := func(name string, all []forecast.Standing) chart.Series {
		s := chart.Series{Name: name}
		x = x[:0]
		rows := forecast.NetworkYears(all)
		for i := range rows {
			b := of(&rows[i])
			x, s.Values = append(x, float64(rows[i].Year)), append(s.Values, b.Mean)
			s.Low, s.High = append(s.Low, b.Low), append(s.High, b.High)
		}
		return s
	}
	series := []chart.Series{line("nothing done", p.Standings.Idle)}
	for i := range p.Levels {
		if l := &p.Levels[i]; i == 0 || l.Share == 1 || l.NoLimit {
			series = append(series, line(l.Name(), p.Standings.Plans[i]))
		}
	}
	f.X = chart.Year
	return template.HTML(chart.Lines(f, x, series...))
}

// moneyCurve draws the joints expected to have failed at the end against the
// money spent.
func moneyCurve(p *projection) template.HTML {
	var x []float64
	failed := chart.Series{Name: fmt.Sprintf("joints failed at the end of %d", p.LastYear)}
	for i := range p.Levels {
		v := toDollars(p.Levels[i].SpentCents())
		if n := len(x); n > 0 && v <= x[n-1] { // more money that no plan can use
			continue
		}
		b := p.End(i).Failed
		x, failed.Values = append(x, v), append(failed.Values, b.Mean)
		failed.Low, failed.High = append(failed.Low, b.Low), append(failed.High, b.High)
	}
	return template.HTML(chart.Lines(chart.Frame{
		Title: "Condition against money", Desc: "Joints expected to have failed at the end, by the money spent over all years at each level, with 10 to 90 % bands.",
		XLabel: fmt.Sprintf("nominal dollars spent %d-%d", p.FirstYear, p.LastYear), YLabel: "joints", X: chart.Dollars,
	}, x, failed))
}

// keepPlan puts the plan of a level on record under a name, where it can be
// compared with others.
func (s *Server) keepPlan(w http.ResponseWriter, r *http.Request) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	q, err := budgetAsked(r.PostForm)
	if err != nil {
		return err
	}
	p, at, err := s.projections.get(r.Context(), s, q)
	if err != nil {
		return err
	}
	if !at.IsZero() {
		return beingMade(nil)
	}
	name, level := strings.TrimSpace(r.PostFormValue("name")), r.PostFormValue("level")
	if name == "" || len(name) > 80 {
		return store.Invalid("give one of 1 to 80 characters", "a plan needs a name")
	}
	before, err := forecast.KeptBefore(r.Context(), s.Store.Read(), name)
	if err != nil {
		return err
	}
	if before != "" {
		return store.Invalid("give another name", "a plan %q was kept %s", name, before)
	}
	for i := range p.Levels {
		l := &p.Levels[i]
		if l.Name() != level {
			continue
		}
		if l.Shortfall != nil {
			return store.Invalid("give more money, or end decisions", "the plan does not keep its money: %s", l.Missing)
		}
		if err := s.Store.Update(r.Context(), s.person(r), func(ctx context.Context, tx *store.Tx) error { return l.Keep(ctx, tx, name) }); err != nil {
			return err
		}
		http.Redirect(w, r, "/worklist/plans?"+url.Values{"b": {name}}.Encode(), http.StatusSeeOther)
		return nil
	}
	return store.Invalid("choose a level of the page", "there is no level %q", level)
}
