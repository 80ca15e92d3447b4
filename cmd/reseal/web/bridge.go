package web

import (
	"context"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"strconv"

	"github.com/paulmach/orb"

	"reseal/cmd/reseal/chart"
	"reseal/condition"
	"reseal/forecast"
	"reseal/inventory"
	"reseal/inventory/store"
)

func (s *Server) bridgeRoutes(mux *http.ServeMux) {
	mux.Handle("GET /bridges/{state}/{number}", s.page(s.bridge))
	mux.Handle("POST /bridges/{state}/{number}", s.page(s.editBridge))
	mux.Handle("POST /bridges/{state}/{number}/projects", s.page(s.editProject))
	mux.Handle("POST /bridges/{state}/{number}/projects/{project}", s.page(s.editProject))
	mux.Handle("POST /bridges/{state}/{number}/projects/{project}/withdraw", s.page(s.withdrawProject))
}

// bridgePath is the address of a bridge's page.
func bridgePath(state, number string) string {
	return "/bridges/" + url.PathEscape(state) + "/" + url.PathEscape(number)
}

// bridgePage is a bridge for people: its joints with what comes next, what is on
// record of it, and the form to change it.
type bridgePage struct {
	*condition.BridgeRecord
	Map      string // address of the map centred on it; empty: it has no place
	At       orb.Point
	Locator  template.HTML
	Joints   []bridgeJoint // in service
	Gone     []*inventory.JointRow
	Open     []findingCard
	Severe   int // of Open, with plates: for an engineer's review
	LastYear int // of the forecast
	Basis    []string
	Changes  []changeWords
	Edit     editForm
	Plans    []editForm // of its projects, and of one more
}

// bridgeJoint is a joint of the bridge with its outlook.
type bridgeJoint struct {
	*inventory.JointRow
	Age string // of the seal in place
	forecast.Outlook
}

func (s *Server) bridge(w http.ResponseWriter, r *http.Request) error {
	b, err := s.bridgeBody(r)
	if err != nil {
		return err
	}
	return s.showBridge(w, r, http.StatusOK, b)
}

func (s *Server) showBridge(w http.ResponseWriter, r *http.Request, status int, b *bridgePage) error {
	return s.render(w, r, status, "bridge.html", Page{
		Title: "Bridge " + b.Bridge.StructureNumber, Nav: "Map", Style: []string{"joint.css", "chart.css", "bridge.css"}, Body: b,
	})
}

// bridgeRef names the bridge of an address.
func bridgeRef(r *http.Request) string { return r.PathValue("state") + "/" + r.PathValue("number") }

// bridgeBody reads and works out all that the page shows.
func (s *Server) bridgeBody(r *http.Request) (*bridgePage, error) {
	ctx, db := r.Context(), s.Store.Read()
	record, err := condition.BridgeRecordOf(ctx, db, bridgeRef(r))
	if err != nil {
		return nil, err
	}
	a, err := s.theAgency(ctx)
	if err != nil {
		return nil, err
	}
	b := &bridgePage{BridgeRecord: record, Edit: bridgeForm(record.Bridge), LastYear: a.model.Through(s.asOfToday()), Basis: a.tables.Illustrative()}
	outlook, err := a.model.OutlookOf(ctx, db, record.Bridge, s.asOfToday())
	if err != nil {
		return nil, err
	}
	for _, j := range record.Joints {
		if o, ok := outlook[j.ID]; ok {
			b.Joints = append(b.Joints, bridgeJoint{j, ageWords(j.InstalledOn, s.today()), o})
		} else {
			b.Gone = append(b.Gone, j)
		}
	}
	for _, f := range record.Findings {
		b.Open = append(b.Open, findingCard{f, f.DaysOpen(s.today())})
		if f.Urgency == "severe" || f.Kind == inventory.PlatePlaced {
			b.Severe++
		}
	}
	rows := []historyOf{{"bridges", record.Bridge.ID, ""}}
	for _, p := range record.Projects {
		if !p.Withdrawn() {
			b.Plans = append(b.Plans, projectForm(record.Bridge, p), withdrawForm(record.Bridge, &p))
		}
		rows = append(rows, historyOf{"projects", p.ID, p.Kind + ": "})
	}
	b.Plans = append(b.Plans, projectForm(record.Bridge, inventory.NewProject(record.Bridge.ID)))
	if b.Changes, err = changesOf(ctx, db, rows...); err != nil {
		return nil, err
	}
	return b, s.locate(ctx, b)
}

// ageWords say how old a seal is.
func ageWords(installed, today inventory.Date) string {
	switch years := int(today.YearsSince(installed)); {
	case installed.IsZero():
		return "age not on record"
	case years == 0:
		return "under a year old"
	default:
		return count(years, "year") + " old"
	}
}

// locate shows where the bridge is among those of its county, or of its district
// where no county is on record.
func (s *Server) locate(ctx context.Context, b *bridgePage) error {
	at, ok := b.Bridge.Geom.Geometry.(orb.Point)
	if !ok {
		return nil
	}
	b.At = at
	b.Map = fmt.Sprintf("/map?at=%.5f,%.5f,17", at[1], at[0])
	around := inventory.Filter{County: b.Bridge.County}
	name := "county"
	if around.County == "" {
		around.District, name = b.Bridge.District, "district"
	}
	if around == (inventory.Filter{}) {
		return nil
	}
	var others []orb.Point
	err := inventory.EachBridge(ctx, s.Store.Read(), around, func(o *inventory.Bridge) error {
		if p, ok := o.Geom.Geometry.(orb.Point); ok && o.ID != b.Bridge.ID {
			others = append(others, p)
		}
		return nil
	})
	b.Locator = template.HTML(chart.Map(chart.Frame{
		Title: "Where it is", Desc: "The bridge among the others of its " + name + ".", WidthPx: 420,
	}, chart.Layer{Name: "others in the " + name, At: others}, chart.Layer{Name: b.Bridge.StructureNumber, At: []orb.Point{at}}))
	return err
}

func (s *Server) editBridge(w http.ResponseWriter, r *http.Request) error {
	e := given(r, append(inventory.BridgeColumns(), inventory.BridgePlace...))
	err := s.Store.Update(r.Context(), s.person(r), func(ctx context.Context, tx *store.Tx) error {
		return inventory.EditBridge(ctx, tx, bridgeRef(r), e)
	})
	return s.editedBridge(w, r, err, func(b *bridgePage) { b.Edit.refuse(e, err) })
}

// editProject changes the project that the address names, or puts one on
// record.
func (s *Server) editProject(w http.ResponseWriter, r *http.Request) error {
	e, form := given(r, inventory.ProjectColumns()), "project"
	id, err := projectID(r)
	if err != nil {
		return err
	}
	if id != 0 {
		form = fmt.Sprintf("project-%d", id)
	}
	err = s.Store.Update(r.Context(), s.person(r), func(ctx context.Context, tx *store.Tx) error {
		if id == 0 {
			return inventory.AddProject(ctx, tx, bridgeRef(r), e)
		}
		return inventory.EditProject(ctx, tx, bridgeRef(r), id, e)
	})
	return s.editedBridge(w, r, err, func(b *bridgePage) { b.refusePlan(form, e, err) })
}

// withdrawProject keeps on record that a project will not come.
func (s *Server) withdrawProject(w http.ResponseWriter, r *http.Request) error {
	id, err := projectID(r)
	if err != nil {
		return err
	}
	e := given(r, []string{withdrawnWhy})
	err = s.Store.Update(r.Context(), s.person(r), func(ctx context.Context, tx *store.Tx) error {
		return inventory.WithdrawProject(ctx, tx, bridgeRef(r), id, s.today(), e.Values[withdrawnWhy], e.Seen)
	})
	return s.editedBridge(w, r, err, func(b *bridgePage) { b.refusePlan(fmt.Sprintf("withdraw-%d", id), e, err) })
}

// projectID is the project that an address names; 0: none.
func projectID(r *http.Request) (int64, error) {
	text := r.PathValue("project")
	if text == "" {
		return 0, nil
	}
	id, err := strconv.ParseInt(text, 10, 64)
	if err != nil || id == 0 {
		return 0, store.NotFound("", "there is no project %q", text)
	}
	return id, nil
}

func (b *bridgePage) refusePlan(form string, e inventory.Edit, err error) {
	for i := range b.Plans {
		if b.Plans[i].ID == form {
			b.Plans[i].refuse(e, err)
		}
	}
}

// editedBridge leads back to the bridge, or shows it with the form that was
// refused.
func (s *Server) editedBridge(w http.ResponseWriter, r *http.Request, err error, refuse func(*bridgePage)) error {
	return edited(w, r, err, bridgePath(r.PathValue("state"), r.PathValue("number")), func() error {
		b, failed := s.bridgeBody(r)
		if failed != nil {
			return failed
		}
		refuse(b)
		return s.showBridge(w, r, statusOf(err), b)
	})
}
