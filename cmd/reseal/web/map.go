package web

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"reseal/cmd/reseal/web/atlas"
	"reseal/condition"
	"reseal/inventory/store"
)

const (
	mapListed = 50 // joints beside the map
	mapFound  = 8  // hits of a search
)

func (s *Server) mapRoutes(mux *http.ServeMux) {
	mux.Handle("GET /map", s.page(s.mapPage))
	mux.Handle("GET /map/list", s.page(s.mapList))
	mux.Handle("GET /map/card", s.page(s.mapCard))
	mux.Handle("GET /map/find", s.page(s.mapFind))
	mux.Handle("GET /map/selection", s.page(s.mapSelection))
	mux.Handle("GET /map/due", s.page(s.mapDue))
	mux.Handle("GET /map/sheets", s.page(s.mapSheets))
	mux.Handle("GET /map/export/{layer}", s.page(s.mapExport))
	mux.Handle("GET /tiles/{scale}/{z}/{x}/{y}", s.api(s.tile))
	mux.Handle("GET /background.pmtiles", s.page(s.background))
}

func (s *Server) makePlaces(ctx context.Context) (*atlas.Atlas, error) {
	return marked(atlas.Places(ctx, s.Store, s.today()))
}

func (s *Server) makeNetwork(ctx context.Context) (*atlas.Atlas, error) {
	return marked(atlas.Load(ctx, s.Store, s.today()))
}

// marked gives each atlas another mark, so that a browser keeps its tiles.
func marked(a *atlas.Atlas, err error) (*atlas.Atlas, error) {
	if err == nil {
		a.Mark = strconv.FormatInt(time.Now().UnixNano(), 36)
	}
	return a, err
}

// theNetwork is the network as of the moment at, without waiting for forecasts
// that are being made.
func (s *Server) theNetwork(ctx context.Context) (a *atlas.Atlas, at time.Time, err error) {
	a, at, ok, err := s.network.latest(ctx, s)
	if ok || err != nil {
		s.places.forget() // the network has them too
		return a, at, err
	}
	return s.places.get(ctx, s)
}

// mapChoice is what a view of the map or a list beside it asks for.
type mapChoice struct {
	atlas.Selection
	Query url.Values // of the choice alone, to be passed on
}

// readMapChoice reads by, the scale; off, the classes left out, by their
// number; and area, a ring of lon,lat,lon,lat…, or box, west,south,east,north.
func readMapChoice(a *atlas.Atlas, q url.Values) (c mapChoice, err error) {
	c.Query = url.Values{}
	for _, name := range []string{"by", "off", "area", "box"} {
		if v := q.Get(name); v != "" {
			c.Query.Set(name, v)
		}
	}
	var ok bool
	if c.Scale, ok = a.Scale(q.Get("by")); !ok {
		return c, store.Invalid("open /map anew", "there is no scale %q", q.Get("by"))
	}
	if c.Hidden, err = hiddenClasses(a, c.Scale, q.Get("off")); err != nil {
		return c, err
	}
	if text := q.Get("box"); text != "" {
		n, err := degreesOf(text, 2)
		if err != nil || len(n) != 2 {
			return c, store.Invalid("write WEST,SOUTH,EAST,NORTH in degrees", "%q is no box", text)
		}
		c.Box = &orb.Bound{Min: n[0], Max: n[1]}
	}
	if text := q.Get("area"); text != "" {
		n, err := degreesOf(text, 200)
		if err != nil || len(n) < 3 {
			return c, store.Invalid("write at least three LON,LAT in degrees", "%.40q is no area", text)
		}
		ring := append(orb.Ring(n), n[0])
		c.Area = &ring
	}
	return c, nil
}

// hiddenClasses reads the numbers of the classes left out.
func hiddenClasses(a *atlas.Atlas, scale int, off string) (hidden uint16, err error) {
	if off == "" {
		return 0, nil
	}
	for _, v := range strings.Split(off, ",") {
		class, err := strconv.Atoi(v)
		if err != nil || class < 0 || class >= len(a.Scales[scale].Classes) {
			return 0, store.Invalid("open /map anew", "the scale %s has no class %q", a.Scales[scale].Name, v)
		}
		hidden |= 1 << class
	}
	return hidden, nil
}

// degreesOf reads up to limit positions.
func degreesOf(text string, limit int) ([]orb.Point, error) {
	parts := strings.Split(text, ",")
	if len(parts)%2 != 0 || len(parts) > 2*limit {
		return nil, strconv.ErrSyntax
	}
	out := make([]orb.Point, len(parts)/2)
	for i, part := range parts {
		v, err := strconv.ParseFloat(strings.TrimSpace(part), 64)
		if err != nil || !(v >= -540 && v <= 540) { // a map may go round the world
			return nil, strconv.ErrRange
		}
		out[i/2][i%2] = v
	}
	return out, nil
}

// mapView is the map page.
type mapView struct {
	Atlas      *atlas.Atlas
	At         time.Time
	Choice     mapChoice
	List       mapListView
	Find       string
	Hits       []mapHit
	Start      *atlas.Joint // that the address names
	Background string       // address of the agency's own; empty: none
	JointZoom  int
	MaxZoom    int
}

// Bounds are west, south, east and north of the network.
func (v *mapView) Bounds() string {
	b := v.Atlas.Bound
	return fmt.Sprintf("%.5f,%.5f,%.5f,%.5f", b.Min[0], b.Min[1], b.Max[0], b.Max[1])
}

// Off tells whether a class of a scale is hidden at first.
func (v *mapView) Off(scale, class int) bool {
	return scale == v.Choice.Scale && v.Choice.Hidden>>class&1 == 1
}

func (s *Server) mapPage(w http.ResponseWriter, r *http.Request) error {
	a, at, err := s.theNetwork(r.Context())
	if err != nil {
		return err
	}
	c, err := readMapChoice(a, r.URL.Query())
	if err != nil {
		return err
	}
	v := &mapView{
		Atlas: a, At: at, Choice: c, List: listed(a, c), Find: r.URL.Query().Get("text"), Background: s.backgroundAddress(),
		JointZoom: atlas.JointZoom, MaxZoom: atlas.MaxZoom, Start: a.Joint(r.URL.Query().Get("joint")),
	}
	v.Hits = hits(a, v.Find)
	return s.render(w, r, http.StatusOK, "map.html", Page{
		Title: "Map", Nav: "Map", Wide: true, Style: []string{"vendor/maplibre-gl.css", "map.css"},
		Code: []string{"vendor/maplibre-gl.js", "vendor/topojson-client.js", "map.js"}, Body: v,
	})
}

// mapRow is a joint on a list, with the words of its class.
type mapRow struct {
	*atlas.Joint
	Class atlas.Class
	Route string
	At    string // lon,lat; empty: nowhere
}

func rowOf(a *atlas.Atlas, scale int, j *atlas.Joint) mapRow {
	row := mapRow{Joint: j, Class: a.Scales[scale].Classes[j.Class[scale]], Route: routeWords(j.Bridge)}
	if p, ok := j.At(); ok {
		row.At = fmt.Sprintf("%.6f,%.6f", p[0], p[1])
	}
	return row
}

// routeWords are a bridge's route and milepost.
func routeWords(b *atlas.Bridge) string {
	if b.Milepost == nil {
		return b.Route
	}
	return strings.TrimSpace(fmt.Sprintf("%s mile %.1f", b.Route, *b.Milepost))
}

// mapListView is the list beside the map: the most urgent of the joints in
// view or selected.
type mapListView struct {
	Rows   []mapRow
	Total  int
	Scale  string
	Counts string // by class, separated by commas; hidden ones too
	Query  string // leads to the same choice
	Placed bool   // a place was asked for
}

func listed(a *atlas.Atlas, c mapChoice) mapListView {
	all := c.Selection
	all.Hidden = 0
	counts := make([]int, len(a.Scales[c.Scale].Classes))
	v := mapListView{Scale: a.Scales[c.Scale].Title, Query: c.Query.Encode(), Placed: c.Box != nil || c.Area != nil}
	for _, j := range a.Select(all) {
		class := j.Class[c.Scale]
		counts[class]++
		if c.Hidden>>class&1 == 1 {
			continue
		}
		if v.Total++; len(v.Rows) < mapListed {
			v.Rows = append(v.Rows, rowOf(a, c.Scale, j))
		}
	}
	v.Counts = strings.Trim(strings.Join(strings.Fields(fmt.Sprint(counts)), ","), "[]")
	return v
}

func (s *Server) mapList(w http.ResponseWriter, r *http.Request) error {
	a, _, err := s.theNetwork(r.Context())
	if err != nil {
		return err
	}
	c, err := readMapChoice(a, r.URL.Query())
	if err != nil {
		return err
	}
	return s.renderPart(w, "map.html", "map-list", listed(a, c))
}

// mapCardView is what the map shows of a joint, or of the joints of a bridge.
type mapCardView struct {
	Joint    *atlas.Joint
	Bridge   *atlas.Bridge
	Rows     []mapRow
	Findings []string
	Next     int // the year that Failed is for
	Forecast bool
}

func (s *Server) mapCard(w http.ResponseWriter, r *http.Request) error {
	a, _, err := s.theNetwork(r.Context())
	if err != nil {
		return err
	}
	q := r.URL.Query()
	v := mapCardView{Next: a.Year + 1, Forecast: a.Forecast}
	scale, _ := a.Scale(q.Get("by"))
	if id, err := strconv.ParseInt(q.Get("bridge"), 10, 64); err == nil {
		v.Bridge = a.Bridge(id)
	} else if v.Joint = a.Joint(q.Get("joint")); v.Joint != nil {
		v.Bridge = v.Joint.Bridge
	}
	if v.Bridge == nil {
		return store.NotFound("search for it on the map", "there is no such joint or bridge in service")
	}
	if v.Joint != nil {
		v.Rows = []mapRow{rowOf(a, scale, v.Joint)}
		v.Findings = condition.FindingWords(v.Joint.Findings)
	} else {
		for _, j := range v.Bridge.Joints {
			v.Rows = append(v.Rows, rowOf(a, scale, j))
		}
	}
	return s.renderPart(w, "map.html", "map-card", v)
}

// mapHit is something found, and where it is.
type mapHit struct {
	atlas.Hit
	Route string
	At    string
}

func hits(a *atlas.Atlas, text string) (out []mapHit) {
	for _, h := range a.Find(text, mapFound) {
		p, ok := h.Bridge.At()
		if h.Joint != nil {
			p, ok = h.Joint.At()
		}
		hit := mapHit{Hit: h, Route: routeWords(h.Bridge)}
		if ok {
			hit.At = fmt.Sprintf("%.6f,%.6f", p[0], p[1])
		}
		out = append(out, hit)
	}
	return out
}

func (s *Server) mapFind(w http.ResponseWriter, r *http.Request) error {
	a, _, err := s.theNetwork(r.Context())
	if err != nil {
		return err
	}
	return s.renderPart(w, "map.html", "map-hits", hits(a, r.URL.Query().Get("text")))
}
