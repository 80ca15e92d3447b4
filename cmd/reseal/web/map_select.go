package web

import (
	"context"
	"net/http"
	"strings"

	"reseal/cmd/reseal/layer"
	"reseal/cmd/reseal/web/atlas"
	"reseal/condition"
	"reseal/forecast"
	"reseal/geo/geojson"
	"reseal/inventory"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

const (
	selectionShown = 500 // joints on the page of a selection
	sheetsAtOnce   = 60
)

// chosen are the joints that the address chooses on the map, in the order of
// travel.
func (s *Server) chosen(r *http.Request) (*atlas.Atlas, mapChoice, []*atlas.Joint, error) {
	a, _, err := s.theNetwork(r.Context())
	if err != nil {
		return nil, mapChoice{}, nil, err
	}
	c, err := readMapChoice(a, r.URL.Query())
	if err != nil {
		return nil, c, nil, err
	}
	joints := a.Select(c.Selection)
	atlas.Travel(joints)
	return a, c, joints, nil
}

// within narrows what is read from the inventory to the place chosen, where
// all chosen joints have one of their own.
func within(c mapChoice, joints []*atlas.Joint) (f inventory.Filter) {
	if atlas.Drawn(joints) {
		f.Box, f.Area = c.Box, c.Area
	}
	return f
}

// selectionView is the list of what was selected on the map.
type selectionView struct {
	Query  string
	Total  int
	Rows   []mapRow
	Scale  string
	Due    *dueView // nil: the list of joints
	Sheets bool     // few enough for crew sheets
}

func (s *Server) mapSelection(w http.ResponseWriter, r *http.Request) error {
	a, c, joints, err := s.chosen(r)
	if err != nil {
		return err
	}
	v := selectionView{Query: c.Query.Encode(), Total: len(joints), Scale: a.Scales[c.Scale].Title, Sheets: len(joints) <= sheetsAtOnce}
	for _, j := range joints[:min(len(joints), selectionShown)] {
		v.Rows = append(v.Rows, rowOf(a, c.Scale, j))
	}
	return s.render(w, r, http.StatusOK, "map-selection.html", Page{Title: "Joints selected on the map", Nav: "Map", Style: []string{"map.css"}, Body: v})
}

// dueView is the inspections due by a day among the joints selected.
type dueView struct {
	By    inventory.Date
	Rows  []*condition.Due
	Trips []condition.Trip
}

func (s *Server) mapDue(w http.ResponseWriter, r *http.Request) error {
	_, c, joints, err := s.chosen(r)
	if err != nil {
		return err
	}
	d := &dueView{By: s.today()}
	if text := r.URL.Query().Get("due-by"); text != "" {
		if d.By, err = inventory.ParseDate(text); err != nil {
			return store.Invalid("write YYYY-MM-DD", "%q is no day", text)
		}
	}
	all, err := condition.DueBy(r.Context(), s.Store.Read(), within(c, joints), d.By, condition.DueRules{})
	if err != nil {
		return err
	}
	chosen := idsOf(joints)
	for _, due := range all {
		if chosen[due.ID] {
			d.Rows = append(d.Rows, due)
		}
	}
	d.Trips = condition.Trips(d.Rows)
	v := selectionView{Query: c.Query.Encode(), Total: len(joints), Due: d, Sheets: len(joints) <= sheetsAtOnce}
	return s.render(w, r, http.StatusOK, "map-due.html", Page{Title: "Inspections due among the joints selected", Nav: "Map", Style: []string{"map.css"}, Body: v})
}

func idsOf(joints []*atlas.Joint) map[int64]bool {
	out := make(map[int64]bool, len(joints))
	for _, j := range joints {
		out[j.ID] = true
	}
	return out
}

// sheetPolicy lets a page of sheets bring its style along: it is a document of
// its own, to be printed and kept, and has no script.
const sheetPolicy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

func (s *Server) mapSheets(w http.ResponseWriter, r *http.Request) error {
	_, _, joints, err := s.chosen(r)
	if err != nil {
		return err
	}
	if len(joints) > sheetsAtOnce {
		return store.Invalid("select fewer on the map, or make them with: reseal sheet", "%s are too many for sheets at once; at most %d", count(len(joints), "joint"), sheetsAtOnce)
	}
	var tags []string
	for _, j := range joints {
		tags = append(tags, j.Tag)
	}
	if len(tags) == 0 {
		return store.NotFound("select some on the map", "no joint is selected")
	}
	a, err := s.theAgency(r.Context())
	if err != nil {
		return err
	}
	work, err := forecast.ApprovedWork(r.Context(), s.Store.Read(), a.tables)
	if err != nil {
		return err
	}
	sheets, refused, err := condition.CrewSheets(r.Context(), s.Store.Read(), tags, condition.CrewOptions{AsOf: s.today(), Work: work})
	if err != nil {
		return err
	}
	q := r.URL.Query()
	if len(refused) == 0 || q.Has("print") {
		return writeSheets(w, sheets)
	}
	q.Set("print", "1")
	b := sheetsPage{From: "Map", Back: "/map?" + r.URL.RawQuery, Of: "is selected on the map", Print: "/map/sheets?" + q.Encode(), Sheets: len(sheets), Refused: refused}
	return s.render(w, r, http.StatusOK, "sheets.html", Page{Title: "Crew sheets", Nav: "Map", Body: b})
}

// mapExport answers with the selected rows of a layer: joints.geojson,
// due.csv and so on.
func (s *Server) mapExport(w http.ResponseWriter, r *http.Request) error {
	name, format, _ := strings.Cut(r.PathValue("layer"), ".")
	l := layer.Named(name)
	if l == nil || name != "joints" && name != "due" || format != "geojson" && format != "csv" {
		return store.NotFound("there are joints and due, each as .geojson and .csv", "there is no file %s", r.PathValue("layer"))
	}
	_, c, joints, err := s.chosen(r)
	if err != nil {
		return err
	}
	chosen := idsOf(joints)
	q := layer.Query{Filter: within(c, joints), Today: s.today(), Keep: func(id int64) bool { return chosen[id] }}
	q.Due = func(ctx context.Context) ([]*condition.Due, error) {
		return condition.DueBy(ctx, s.Store.Read(), q.Filter, s.today(), condition.DueRules{})
	}
	columns, err := l.Columns(nil)
	if err != nil {
		return err
	}
	h := w.Header()
	h.Set("Content-Disposition", `attachment; filename="`+name+"."+format+`"`)
	h.Set("Content-Type", map[string]string{"geojson": "application/geo+json", "csv": "text/csv; charset=utf-8"}[format])
	var to layer.Sink
	if format == "csv" {
		to, err = layer.NewTable(columns, false, func(all []table.Column) (*table.Writer, error) { return table.NewCSV(w, all) })
	} else {
		to = layer.NewGeoJSON(w, columns, geojson.Options{})
	}
	if err != nil {
		return err
	}
	if err := l.Write(r.Context(), s.Store, q, to); err != nil {
		return err
	}
	return to.Close()
}
