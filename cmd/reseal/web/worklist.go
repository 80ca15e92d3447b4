package web

import (
	"context"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"reseal/forecast"
	"reseal/forecast/money"
	"reseal/inventory"
	"reseal/inventory/store"
)

const (
	belowShown = 40   // items shown below the line
	firstShown = 300  // items shown in all at first
	rowsShown  = 3000 // where more are asked for; exports have them all
	asideShown = 50   // of each list around the ranking
)

func (s *Server) workListRoutes(mux *http.ServeMux) {
	mux.Handle("GET /worklist", s.page(s.workList))
	mux.Handle("POST /worklist/approve", s.page(s.approve))
	mux.Handle("GET /worklist/approved", s.page(s.approvedLists))
	mux.Handle("POST /worklist/approved/move", s.page(s.moveJobs))
	mux.Handle("GET /worklist/plans", s.page(s.plans))
	mux.Handle("GET /worklist/sheets", s.page(s.crewSheets))
	mux.Handle("GET /worklist/sheets/print", s.page(s.printSheets))
	mux.Handle("GET /worklist/export/{format}", s.page(s.exportWorkList))
}

// workListQuery is what a work list's address asks for.
type workListQuery struct {
	Year            int
	District, Route string
	BudgetCents     int64 // 0: no line
}

// address is the query of an address that asks for the same.
func (q workListQuery) address() template.URL {
	v := url.Values{"year": {strconv.Itoa(q.Year)}, "budget": {money.FormatDollars(q.BudgetCents)}}
	for name, text := range map[string]string{"district": q.District, "route": q.Route} {
		if text != "" {
			v.Set(name, text)
		}
	}
	return template.URL(v.Encode()) // escaped as a query is
}

// makeWorkList ranks a year's work of the whole network, without a line.
func (s *Server) makeWorkList(ctx context.Context, year int) (*forecast.WorkList, error) {
	a, err := s.theAgency(ctx)
	if err != nil {
		return nil, err
	}
	return a.model.NewWorkList(ctx, s.Store.Read(), forecast.WorkListOptions{Options: s.asOfToday(), Year: year})
}

// workListAsked reads what is asked for. Without a budget that on record for
// the year counts; one of 0 draws no line.
func (s *Server) workListAsked(ctx context.Context, v url.Values) (q workListQuery, err error) {
	q.District, q.Route = strings.TrimSpace(v.Get("district")), strings.TrimSpace(v.Get("route"))
	if text := v.Get("year"); text != "" {
		if q.Year, err = strconv.Atoi(text); err != nil {
			return q, store.Invalid("give a fiscal year", "%q is not a year", text)
		}
	} else {
		a, err := s.theAgency(ctx)
		if err != nil {
			return q, err
		}
		q.Year = a.model.YearOf(s.today()) + 1
	}
	switch text := strings.TrimLeft(strings.TrimSpace(v.Get("budget")), "$"); text {
	case "":
		q.BudgetCents, err = forecast.BudgetOf(ctx, s.Store.Read(), q.Year, q.District)
	case "0":
	default:
		if q.BudgetCents, err = money.Parse(text); err != nil {
			err = store.Hinted(fmt.Errorf("budget: %w", err), "give dollars, for example 400,000, or 0 for no limit")
		}
	}
	if err == nil && q.BudgetCents < 0 {
		err = store.Invalid("give dollars over 0, or 0 for no limit", "a budget cannot be below 0")
	}
	return q, err
}

// workListOf is the list that is asked for; as is the time of it where a newer
// one is being made.
func (s *Server) workListOf(ctx context.Context, q workListQuery) (list *forecast.WorkList, as string, err error) {
	all, at, err := s.workLists.get(ctx, s, q.Year)
	if err != nil {
		return nil, "", err
	}
	list, err = s.workListPart(all, q)
	return list, asOfClock(at), err
}

// workListNow waits for the list as it is now, for a file to be kept.
func (s *Server) workListNow(ctx context.Context, q workListQuery) (*forecast.WorkList, error) {
	all, err := s.workLists.current(ctx, s, q.Year)
	if err != nil {
		return nil, err
	}
	return s.workListPart(all, q)
}

func (s *Server) workListPart(all *forecast.WorkList, q workListQuery) (*forecast.WorkList, error) {
	return s.workParts.get(all, q, func() (*forecast.WorkList, error) {
		return all.In(q.District, q.Route, q.BudgetCents)
	})
}

// workListPage is the list with what goes around it.
type workListPage struct {
	*forecast.WorkList
	Query      workListQuery
	Address    template.URL // the query, for links
	AsOf       string       // the time of the list where a newer one is being made; empty: it is of now
	Above      []forecast.WorkItem
	Below      []forecast.WorkItem // those shown
	Hidden     int                 // items not shown
	More       int                 // how many are shown where more are asked for; 0: no more
	Reviews    []forecast.WorkItem // the first of those urgent, of packages, and of whole bridges
	Visits     []forecast.Package
	Lengths    []forecast.WorkItem
	Bought     forecast.Bought
	MostCents  int64 // all that is ranked, for the slider
	StepCents  int64
	LeftCents  int64
	Saving     int64 // of shared visits
	LeftOut    []string
	Choices    inventory.Choices
	Years      []int
	Treatments []string
	Decide     decideForm
}

func (s *Server) workList(w http.ResponseWriter, r *http.Request) error {
	q, err := s.workListAsked(r.Context(), r.URL.Query())
	if err != nil {
		return err
	}
	b, err := s.workListBody(r.Context(), q, r.FormValue("more") == "1")
	if err != nil {
		return err
	}
	return s.render(w, r, http.StatusOK, "worklist.html", Page{
		Title: fmt.Sprintf("Work list %d", q.Year), Nav: "Work list", Wide: true,
		Style: []string{"joint.css", "worklist.css"}, Code: []string{"worklist.js"}, Body: b,
	})
}

func firstOf[T any](all []T) []T { return all[:min(len(all), asideShown)] }

func (s *Server) workListBody(ctx context.Context, q workListQuery, more bool) (*workListPage, error) {
	list, as, err := s.workListOf(ctx, q)
	if err != nil {
		return nil, err
	}
	a, err := s.theAgency(ctx)
	if err != nil {
		return nil, err
	}
	b := &workListPage{
		WorkList: list, Query: q, Address: q.address(), AsOf: as, Bought: list.Buys(), LeftCents: list.BudgetCents - list.SpentCents,
		LeftOut: list.LeftOut(), StepCents: 1_000_000,
	}
	if b.Choices, err = s.theChoices(ctx); err != nil {
		return nil, err
	}
	most := firstShown
	if more {
		most = rowsShown
	}
	shown := min(len(list.Ranked), list.Line+belowShown, most)
	b.Above, b.Hidden = list.Ranked[:min(list.Line, shown)], len(list.Ranked)-shown
	b.Below = list.Ranked[len(b.Above):shown]
	if n := min(len(list.Ranked), list.Line+belowShown, rowsShown); n > shown {
		b.More = n
	}
	b.Reviews, b.Visits, b.Lengths = firstOf(list.Urgent), firstOf(list.Packages), firstOf(list.Whole)
	if n := len(list.Ranked); n > 0 {
		b.MostCents = list.Ranked[n-1].CumulativeCents
	}
	for _, p := range list.Packages {
		b.Saving += p.SavingCents
	}
	now := a.model.YearOf(s.today())
	for year := now; year <= now+10; year++ {
		b.Years = append(b.Years, year)
	}
	for _, t := range a.tables.Treatments {
		b.Treatments = append(b.Treatments, t.Name)
	}
	b.Decide = newDecideForm("", q.Year, b.Treatments)
	return b, nil
}

// approve keeps the list above the line under a name, if it still is the list
// that the person saw.
func (s *Server) approve(w http.ResponseWriter, r *http.Request) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	q, err := s.workListAsked(r.Context(), r.PostForm)
	if err != nil {
		return err
	}
	list, as, err := s.workListOf(r.Context(), q)
	if err != nil {
		return err
	}
	if as != "" || r.PostFormValue("joints") != strconv.Itoa(list.Line) || r.PostFormValue("spent") != strconv.FormatInt(list.SpentCents, 10) {
		return &store.Error{
			Kind: store.ErrConflict, Text: "the list has changed since it was shown: nothing was approved",
			Hint: "go back to the work list, look at it as it is now, and approve that",
		}
	}
	name := strings.TrimSpace(r.PostFormValue("name"))
	err = s.Store.Update(r.Context(), s.person(r), func(ctx context.Context, tx *store.Tx) error {
		return list.Approve(ctx, tx, name, s.today())
	})
	if err != nil {
		return err
	}
	http.Redirect(w, r, "/worklist/approved?"+url.Values{"list": {name}}.Encode(), http.StatusSeeOther)
	return nil
}
