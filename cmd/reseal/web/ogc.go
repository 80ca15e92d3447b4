package web

import (
	"context"
	"encoding/json"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"reseal/cmd/reseal/layer"
	"reseal/cmd/reseal/web/ogc"
	"reseal/condition"
	"reseal/forecast"
	"reseal/inventory"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

// ogcRoutes answer a GIS.
func (s *Server) ogcRoutes(mux *http.ServeMux) {
	var beside ogc.Definition
	if err := json.Unmarshal(openAPI, &beside); err != nil {
		panic(err) // it is a part of the program
	}
	service := &ogc.Service{
		Beside: beside,
		Path:   "/ogc", Title: "Bridge deck joints", Now: s.Store.Now,
		About: s.ogcAbout,
		Extent: func(ctx context.Context) (box orb.Bound, ok bool, err error) {
			a, _, err := s.theNetwork(ctx)
			if err != nil {
				return box, false, err
			}
			return a.Bound, a.Joints() > a.Unplaced, nil
		},
		Secure: func(r *http.Request) bool {
			return r.TLS != nil || s.BehindProxy && r.Header.Get("X-Forwarded-Proto") == "https"
		},
		Log: func(r *http.Request, err error) { s.log.Printf("%s %s: %v", r.Method, r.URL.Path, err) },
	}
	for _, c := range []struct {
		name, title, about, time string
		count                    func(context.Context, inventory.Filter) (int, error)
		filters                  []string
	}{
		{
			"bridges", "Bridges", "Bridges in service.", "",
			func(ctx context.Context, f inventory.Filter) (int, error) {
				return inventory.CountBridges(ctx, s.Store.Read(), f)
			},
			[]string{"district", "county", "route"},
		},
		{
			"joints", "Joints", "Joints in service, with their seal and how they were last seen; datetime is the day of the last inspection.", "inspected_on",
			s.countJoints,
			[]string{"district", "county", "route", "seal_kind"},
		},
		{"worklist", "Work list", "The seals to renew next fiscal year, ranked. " + caution, "", nil, nil},
		{"due", "Inspections due", "Joints to be looked at by today, in the order of travel; datetime is the day on which it was due. " + strings.Join(strings.Fields(layer.DueCaution), " "), "due_on", nil, nil},
	} {
		l := layer.Named(c.name)
		service.Collections = append(service.Collections, ogc.Collection{
			ID: c.name, Title: c.title, About: c.about, Time: c.time, Columns: columnsOf(l), Count: c.count,
			Each: func(ctx context.Context, f inventory.Filter, to layer.Sink) error {
				return l.Write(ctx, s.Store, layer.Query{Filter: f, Today: s.today(), Due: s.dueToday, WorkList: s.nextWorkList}, to)
			},
			Filters: func(f *inventory.Filter, column, value string) bool {
				return value != "" && slices.Contains(c.filters, column) && filterBy(f, column, value)
			},
		})
	}
	service.Register(mux)
}

// caution goes with what sends people onto a deck.
const caution = "It is a projection and replaces no inspection; work on a live deck needs traffic control by the agency's standards and local codes, and what is marked for review a licensed engineer's judgement first."

func (s *Server) ogcAbout(ctx context.Context) (string, error) {
	about := "What reseal keeps of bridge deck joints, as features for a GIS."
	notice, err := store.Notice(ctx, s.Store.Read())
	if notice != "" {
		about += " " + notice + "."
	}
	return about, err
}

// columnsOf are all columns of a layer.
func columnsOf(l layer.Layer) []table.Column {
	columns, err := l.Columns(nil)
	if err != nil {
		panic(err) // all of them are always there
	}
	return columns
}

// filterBy puts an equality into a filter.
func filterBy(f *inventory.Filter, column, value string) bool {
	into := map[string]*string{"district": &f.District, "county": &f.County, "route": &f.Route, "seal_kind": &f.SealKind}[column]
	*into = value
	return true
}

// nextWorkList is that of the next fiscal year, with the line where the money
// on record for it ends.
func (s *Server) nextWorkList(ctx context.Context) (*forecast.WorkList, error) {
	q, err := s.workListAsked(ctx, url.Values{})
	if err != nil {
		return nil, err
	}
	list, _, err := s.workListOf(ctx, q)
	return list, err
}

// dueToday are the inspections due by today, of the whole network.
func (s *Server) dueToday(ctx context.Context) ([]*condition.Due, error) {
	soon, _, err := s.due.get(ctx, s)
	if err != nil {
		return nil, err
	}
	var due []*condition.Due
	for _, d := range soon.All {
		if !s.today().Before(d.DueOn) {
			due = append(due, d)
		}
	}
	return due, nil
}
