package web

import (
	"cmp"
	"context"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"reseal/condition"
	"reseal/geo"
	"reseal/inventory"
	"reseal/inventory/store"
)

// How far ahead the list of due joints looks, in days, and how many of a route
// it shows.
const (
	dueDays  = 366
	dueShown = 400
)

// unrouted stands for joints whose bridge has no route on record.
const unrouted = "-"

// dueList is what is due within a year, in the order of travel.
type dueList struct {
	All       []*condition.Due
	Districts []string

	sums parts[struct{}, dueQuery, dueSum]
}

// dueSum sums up the part of a list that a query chooses.
type dueSum struct {
	Due    []*condition.Due
	Routes []dueRoute
}

func (s *Server) loadDue(ctx context.Context) (*dueList, error) {
	all, err := condition.DueBy(ctx, s.Store.Read(), inventory.Filter{}, s.today().AddDays(dueDays), condition.DueRules{})
	return &dueList{All: all, Districts: districts(all)}, err
}

// choose returns what a query wants, and the trips to it.
func (l *dueList) choose(q dueQuery) dueSum {
	sum, _ := l.sums.get(struct{}{}, q, func() (dueSum, error) {
		due := q.choose(l.All)
		return dueSum{due, dueRoutes(condition.Trips(due))}, nil
	})
	return sum
}

// dueQuery is what a request wants of the due joints.
type dueQuery struct {
	District, Route string
	Days            int // due within; 0: by today
	By              inventory.Date
}

func (s *Server) dueQuery(r *http.Request) (q dueQuery, err error) {
	q.District, q.Route = r.FormValue("district"), r.FormValue("route")
	if days := r.FormValue("days"); days != "" {
		if q.Days, err = strconv.Atoi(days); err != nil || q.Days < 0 || q.Days > dueDays {
			return q, store.Invalid("give days from 0 to 366", "%q is no number of days ahead", days)
		}
	}
	q.By = s.today().AddDays(q.Days)
	return q, nil
}

// choose returns what the query wants, in the order of travel.
func (q dueQuery) choose(due []*condition.Due) (out []*condition.Due) {
	for _, d := range due {
		if q.By.Before(d.DueOn) || q.District != "" && d.District != q.District || q.Route != "" && cmp.Or(d.Route, unrouted) != q.Route {
			continue
		}
		out = append(out, d)
	}
	return out
}

// dueStop is a bridge on the way with its due joints.
type dueStop struct {
	First  *condition.Due
	Joints []dueJoint
}

// dueJoint is one due joint with the middle of its line.
type dueJoint struct {
	*condition.Due
	Lon, Lat float64
	Placed   bool
}

// inspectPage is what the page of due joints shows.
type inspectPage struct {
	dueQuery
	Routes    []dueRoute
	Districts []string
	Stops     []dueStop // of the route chosen
	Joints    int
	Shown     int
	AsOf      string
	Horizons  []horizon
	Today     inventory.Date
}

// horizon is how far ahead one can look.
type horizon struct {
	Days int
	Word string
}

var horizons = []horizon{{0, "by today"}, {30, "within 30 days"}, {90, "within 90 days"}, {dueDays, "within a year"}}

// With is the address of the same list for a route, or for all.
func (p *inspectPage) With(route string) string {
	q := url.Values{}
	for name, v := range map[string]string{"route": route, "district": p.District, "days": strconv.Itoa(p.Days)} {
		if v != "" && v != "0" {
			q.Set(name, v)
		}
	}
	if len(q) == 0 {
		return "/inspect"
	}
	return "/inspect?" + q.Encode()
}

// Late tells whether a day has gone by.
func (p *inspectPage) Late(on inventory.Date) bool { return on.Before(p.Today) }

// dueRoute sums up the trips of one route.
type dueRoute struct {
	Route           string // as the query has it
	Name            string
	Bridges, Joints int
	Trips           []condition.Trip
}

func (s *Server) inspectList(w http.ResponseWriter, r *http.Request) error {
	q, err := s.dueQuery(r)
	if err != nil {
		return err
	}
	list, at, err := s.due.get(r.Context(), s)
	if err != nil {
		return err
	}
	p := &inspectPage{dueQuery: q, Districts: list.Districts, Horizons: horizons, Today: s.today()}
	if !at.IsZero() {
		p.AsOf = at.Format("15:04")
	}
	sum := list.choose(q)
	p.Joints = len(sum.Due)
	if q.Route == "" {
		p.Routes = sum.Routes
	} else {
		p.Shown = min(p.Joints, dueShown)
		p.Stops = stops(sum.Due[:p.Shown])
	}
	return s.render(w, r, http.StatusOK, "inspect-list.html", Page{
		Title: "Inspections due", Nav: "Inspect", Style: []string{"field.css"}, Code: []string{"inspect-list.js"}, Body: p,
	})
}

func districts(due []*condition.Due) (out []string) {
	seen := map[string]bool{}
	for _, d := range due {
		if d.District != "" && !seen[d.District] {
			seen[d.District] = true
			out = append(out, d.District)
		}
	}
	slices.Sort(out)
	return out
}

// dueRoutes puts the trips of a route together.
func dueRoutes(trips []condition.Trip) (out []dueRoute) {
	for _, t := range trips {
		route := cmp.Or(t.Route, unrouted)
		if n := len(out); n == 0 || out[n-1].Route != route {
			out = append(out, dueRoute{Route: route, Name: cmp.Or(t.Route, "No route on record")})
		}
		last := &out[len(out)-1]
		last.Bridges += t.Bridges
		last.Joints += t.Joints
		last.Trips = append(last.Trips, t)
	}
	return out
}

// stops groups due joints by bridge, in their order.
func stops(due []*condition.Due) (out []dueStop) {
	for _, d := range due {
		if n := len(out); n == 0 || out[n-1].First.BridgeID != d.BridgeID {
			out = append(out, dueStop{First: d})
		}
		j := dueJoint{Due: d}
		j.Lon, j.Lat, j.Placed = middle(d.Geom)
		out[len(out)-1].Joints = append(out[len(out)-1].Joints, j)
	}
	return out
}

// middle is the middle of a line, where there is one.
func middle(g geo.Geometry) (lon, lat float64, ok bool) {
	if g.Geometry == nil {
		return 0, 0, false
	}
	c := g.Bound().Center()
	return c[0], c[1], true
}

// inspectGo leads from a tag or label to the form.
func (s *Server) inspectGo(w http.ResponseWriter, r *http.Request) error {
	j, err := inventory.FindJoint(r.Context(), s.Store.Read(), r.FormValue("joint"))
	if err != nil {
		return err
	}
	http.Redirect(w, r, "/inspect/"+url.PathEscape(j.Tag), http.StatusSeeOther)
	return nil
}

// formPage is what the form of one joint shows.
type formPage struct {
	*condition.Form
	States    []stateWord
	Positions []string
	Limits    struct{ MaxGapIn, MinTempF, MaxTempF float64 }
}

// LastFt are the feet in a state the last time.
func (formPage) LastFt(f *condition.Feet, state int) float64 { return f.States()[state-1] }

// LastWorst is the worst state of the last inspection with feet.
func (p formPage) LastWorst() int { return condition.Worst(p.Last.StateFt()) }

// stateWord is a condition state in words.
type stateWord struct {
	State int
	Key   string // cs1 to cs4, or unseen
	Word  string
	Says  string // what it looks like, for the quick entry
}

var stateWords = []stateWord{
	{1, "cs1", "good", "sound and tight, nothing to note"},
	{2, "cs2", "fair", "wear, surface cracks or a drip; works"},
	{3, "cs3", "poor", "torn, loose or leaking in places"},
	{4, "cs4", "severe", "missing, split through, or water runs free"},
}

func (s *Server) inspectForm(w http.ResponseWriter, r *http.Request) error {
	f, err := s.form(r)
	if err != nil {
		return err
	}
	if f.Joint.Status != inventory.InService {
		return store.Invalid("choose another joint from the list", "joint %s is %s", f.Joint.Tag, f.Joint.Status)
	}
	p := formPage{Form: f, States: stateWords, Positions: positions(f)}
	p.Limits.MaxGapIn, p.Limits.MinTempF, p.Limits.MaxTempF = condition.MaxGapIn, condition.MinDeckTempF, condition.MaxDeckTempF
	return s.render(w, r, http.StatusOK, "inspect-form.html", Page{
		Title: "Inspect " + f.Joint.Tag, Nav: "Inspect", Style: []string{"field.css"}, Code: []string{"inspect-form.js"}, Body: p,
	})
}

// positions are where a gap can be read: where it was, and the usual places.
func positions(f *condition.Form) []string {
	out := slices.Clone(f.Positions)
	for _, p := range []string{"left curb", "crown", "right curb"} {
		if !slices.Contains(out, p) {
			out = append(out, p)
		}
	}
	return out
}

// step names a field with a button on each side.
type step struct{ ID, Word string }

// Step is for the template: a field and what it counts.
func (formPage) Step(id, word string) step { return step{id, word} }

// Next is the state at an index, from 1.
func (formPage) Next(i int) int { return i + 1 }
