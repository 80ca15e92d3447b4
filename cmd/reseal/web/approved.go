package web

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"reseal/condition"
	"reseal/forecast"
	"reseal/forecast/money"
	"reseal/inventory"
	"reseal/inventory/store"
)

// approvedPage is the approved lists, and the jobs of one with the form that
// moves them.
type approvedPage struct {
	Lists  []forecast.ApprovedList
	States []string
	Chosen *forecast.ApprovedList // nil: none
	State  string                 // of the jobs shown; empty: all
	Jobs   []forecast.Job
	Steps  []sortWords
	Seals  []string
	Moved  string // what was just done
	Move   moveForm
}

// moveForm is what a person asks of the jobs, as it was typed.
type moveForm struct {
	Chosen      map[int64]bool
	All         bool
	To          string
	On          string
	Values      url.Values
	Wrong, Hint string // why it was not done
}

// jobSteps are the steps of a job in words.
var jobSteps = []sortWords{
	{forecast.Programmed, "into the programme"},
	{forecast.Obligated, "obligated: money committed to a contract"},
	{forecast.Completed, "completed"},
	{forecast.Paid, "paid"},
	{forecast.Dropped, "dropped, for a reason"},
	{"undo", "one step back, to correct a mistake"},
}

func (s *Server) approvedLists(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	b, err := s.approvedBody(r.Context(), q.Get("list"), q.Get("state"))
	if err != nil {
		return err
	}
	if n, err := strconv.Atoi(q.Get("moved")); err == nil && n > 0 {
		b.Moved = count(n, "job") + " taken one step back."
		if to := q.Get("to"); slices.Contains(b.States, to) {
			b.Moved = fmt.Sprintf("%s %s.", count(n, "job"), to)
		}
	}
	return s.showApproved(w, r, http.StatusOK, b)
}

func (s *Server) showApproved(w http.ResponseWriter, r *http.Request, status int, b *approvedPage) error {
	title := "Approved lists"
	if b.Chosen != nil {
		title = b.Chosen.Name
	}
	return s.render(w, r, status, "approved.html", Page{Title: title, Nav: "Work list", Wide: true, Style: []string{"joint.css", "worklist.css"}, Code: []string{"approved.js"}, Body: b})
}

func (s *Server) approvedBody(ctx context.Context, list, state string) (*approvedPage, error) {
	b := &approvedPage{States: forecast.JobStates(), State: state, Steps: jobSteps, Move: moveForm{To: forecast.Programmed}}
	db := s.Store.Read()
	var err error
	if b.Lists, err = forecast.ApprovedLists(ctx, db); err != nil || list == "" {
		return b, err
	}
	if b.Jobs, err = forecast.Jobs(ctx, db, forecast.JobFilter{List: list, Progress: state}); err != nil {
		return b, err
	}
	for i := range b.Lists {
		if b.Lists[i].Name == list {
			b.Chosen = &b.Lists[i]
		}
	}
	catalogue, err := condition.LoadCatalogue(ctx, db)
	b.Seals = catalogue.Names()
	return b, err
}

// moveJobs takes the jobs that were ticked one step, all or none.
func (s *Server) moveJobs(w http.ResponseWriter, r *http.Request) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	list, form := r.PostFormValue("list"), readMoveForm(r)
	move, err := form.read(list)
	n := 0
	if err == nil {
		err = s.Store.Update(r.Context(), s.person(r), func(ctx context.Context, tx *store.Tx) (err error) {
			n, err = move.Move(ctx, tx, s.today())
			return err
		})
	}
	to := url.Values{"list": {list}, "moved": {strconv.Itoa(n)}, "to": {move.To}}
	if state := r.PostFormValue("state"); state != "" {
		to.Set("state", state)
	}
	return edited(w, r, err, "/worklist/approved?"+to.Encode(), func() error {
		b, failed := s.approvedBody(r.Context(), list, r.PostFormValue("state"))
		if failed != nil {
			return failed
		}
		form.Wrong, form.Hint = err.Error(), hint(err)
		b.Move = form
		return s.showApproved(w, r, statusOf(err), b)
	})
}

func readMoveForm(r *http.Request) moveForm {
	f := moveForm{Chosen: map[int64]bool{}, All: r.PostFormValue("all") != "", To: r.PostFormValue("to"), Values: r.PostForm}
	for _, text := range r.PostForm["job"] {
		if id, err := strconv.ParseInt(text, 10, 64); err == nil {
			f.Chosen[id] = true
		}
	}
	return f
}

// read makes a move of what was typed.
func (f *moveForm) read(list string) (m forecast.JobsMove, err error) {
	get := func(name string) string { return strings.TrimSpace(f.Values.Get(name)) }
	m.List, m.All, m.Seen, m.To = list, f.All, map[int64]store.Instant{}, f.To
	if f.To == "undo" {
		m.To = ""
	} else if f.To == "" {
		return m, store.Invalid("choose one of the steps", "no step is chosen")
	}
	for id := range f.Chosen {
		m.Seen[id] = store.Instant(get(fmt.Sprintf("seen-%d", id)))
	}
	m.Contract, m.Reason, m.Seal, m.Notes = get("contract"), get("reason"), get("seal"), get("notes")
	m.AsRecorded, m.AcceptOdd = get("as-recorded") != "", get("accept-odd") != ""
	if text := get("on"); text != "" {
		if m.On, err = inventory.ParseDate(text); err != nil {
			return m, store.Invalid("write YYYY-MM-DD", "%q is no day", text)
		}
	}
	if text := strings.TrimLeft(get("cost"), "$"); text != "" {
		cents, err := money.Parse(text)
		if err != nil || cents < 0 {
			return m, store.Invalid("give dollars, for example 9,840", "%q is no cost", text)
		}
		m.ActualCents = &cents
	}
	return m, nil
}
