package web

import (
	"context"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"reseal/condition"
	"reseal/inventory"
	"reseal/inventory/store"
)

// jointsShown is how many joints a page of the list has.
const jointsShown = 100

func (s *Server) jointRoutes(mux *http.ServeMux) {
	mux.Handle("GET /joints", s.page(s.jointList))
	mux.Handle("GET /joints/{tag}", s.page(s.joint))
	mux.Handle("POST /joints/{tag}", s.page(s.editJoint))
	mux.Handle("POST /joints/{tag}/seals/{seal}", s.page(s.editSeal))
	mux.Handle("POST /joints/{tag}/decisions", s.page(s.decide))
}

// jointsPage is the list with the filter that made it.
type jointsPage struct {
	Query   url.Values
	Asked   string // the filter in words
	Joints  []*inventory.JointRow
	Choices inventory.Choices
	Sorts   []sortWords
	First   int    // number of the first row shown, from 1
	All     int    // how many the filter chooses
	Back    string // address of the rows before and after; empty: none
	On      string
}

type sortWords struct{ Name, Words string }

// jointSorts are the orders of inventory.Sorts in words.
func jointSorts() []sortWords {
	words := map[string]string{
		"travel": "route and milepost", "number": "structure number", "length": "longest first",
		"condition": "worst first", "year": "oldest seal first", "record": "order of record",
	}
	out := make([]sortWords, len(inventory.Sorts))
	for i, name := range inventory.Sorts {
		out[i] = sortWords{name, words[name]}
	}
	return out
}

func (s *Server) jointList(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	f, err := jointFilter(q)
	if err != nil {
		return err
	}
	f.Limit = jointsShown + 1
	b := jointsPage{Query: q, Asked: askedWords(q), Sorts: jointSorts(), First: f.Offset + 1}
	if b.All, err = s.countJoints(r.Context(), f); err != nil {
		return err
	}
	if b.Joints, err = inventory.Joints(r.Context(), s.Store.Read(), f); err != nil {
		return err
	}
	if b.Choices, err = s.theChoices(r.Context()); err != nil {
		return err
	}
	if len(b.Joints) > jointsShown {
		b.Joints, b.On = b.Joints[:jointsShown], "/joints?"+with(q, "from", strconv.Itoa(f.Offset+jointsShown))
	}
	if f.Offset > 0 {
		b.Back = "/joints?" + with(q, "from", strconv.Itoa(max(0, f.Offset-jointsShown)))
	}
	return s.render(w, r, http.StatusOK, "joints.html", Page{Title: "Joints", Nav: "Joints", Wide: true, Style: []string{"joint.css"}, Body: b})
}

// askedWords are what a filter chooses, on one line.
func askedWords(q url.Values) string {
	var words []string
	for _, name := range []string{"text", "bridge", "route", "district", "county", "kind", "status"} {
		if v := strings.TrimSpace(q.Get(name)); v != "" {
			words = append(words, v)
		}
	}
	if n, err := strconv.Atoi(q.Get("worst")); err == nil && n > 0 {
		words = append(words, condition.StateWord(n)+" or worse")
	}
	if len(words) == 0 {
		return "all in service"
	}
	return strings.Join(words, " · ")
}

// countJoints tells how many joints a filter chooses, whatever its limit.
func (s *Server) countJoints(ctx context.Context, f inventory.Filter) (int, error) {
	version, err := s.watch.Version(ctx)
	if err != nil {
		return 0, err
	}
	f.Sort, f.Limit, f.Offset = "", 0, 0
	return s.jointCounts.get(version, f, func() (int, error) { return inventory.CountJoints(ctx, s.Store.Read(), f) })
}

// jointFilter reads the filter of a list's address.
func jointFilter(q url.Values) (inventory.Filter, error) {
	get := func(name string) string { return strings.TrimSpace(q.Get(name)) }
	f := inventory.Filter{
		District: get("district"), County: get("county"), Route: get("route"), SealKind: get("kind"),
		Status: get("status"), Text: get("text"), Sort: get("sort"), Structure: get("bridge"),
	}
	for name, into := range map[string]*int{"worst": &f.WorstState, "from": &f.Offset} {
		text := get(name)
		if text == "" {
			continue
		}
		n, err := strconv.Atoi(text)
		if err != nil || n < 0 || name == "worst" && n > 4 {
			return f, store.Invalid("go back and choose again", "%q is no number for %s", text, name)
		}
		*into = n
	}
	if f.Sort != "" && !slices.Contains(inventory.Sorts, f.Sort) {
		return f, store.Invalid("choose one of: "+strings.Join(inventory.Sorts, ", "), "there is no order %q", f.Sort)
	}
	return f, nil
}

// with is a query with one value changed; an empty one is taken out.
func with(q url.Values, name, value string) string {
	out := url.Values{}
	for k, v := range q {
		if len(v) > 0 && v[0] != "" {
			out.Set(k, v[0])
		}
	}
	out.Del(name)
	if value != "" {
		out.Set(name, value)
	}
	return out.Encode()
}
