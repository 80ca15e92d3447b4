package web

import (
	"bytes"
	"context"
	"mime"
	"net/http"
	"strings"
	"time"

	"reseal/condition/intake"
	"reseal/forecast"
	"reseal/inventory"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

func (s *Server) dataRoutes(mux *http.ServeMux) {
	mux.Handle("GET /data", s.page(s.data))
	mux.Handle("POST /data/demo", s.page(s.fillWithDemo))
	mux.Handle("POST /data/propose", s.page(s.propose))
	mux.Handle("POST /data/confirm", s.page(s.confirmProposed))
	mux.Handle("POST /data/forecast", s.page(s.renewForecasts))
	s.jobRoutes(mux)
	s.intakeRoutes(mux)
	s.checkRoutes(mux)
	s.settingsRoutes(mux)
}

// data is the page from which data come in, are checked and are set.
func (s *Server) data(w http.ResponseWriter, r *http.Request) error {
	v := struct {
		Kinds   []intake.Kind
		Steps   []fillStep
		Checked checked
		At      time.Time
		Settled bool // all steps are done
	}{Kinds: intake.Kinds(), Settled: true}
	var err error
	if v.Steps, err = s.steps(r.Context()); err != nil {
		return err
	}
	for _, step := range v.Steps {
		v.Settled = v.Settled && step.Done
	}
	if v.Checked, v.At, err = s.checks.get(r.Context(), s); err != nil {
		return err
	}
	return s.render(w, r, http.StatusOK, "data.html", Page{Title: "Data", Nav: "Data", Style: []string{"data.css"}, Code: []string{"data.js"}, Body: v})
}

// fillStep is one of those that fill a new inventory.
type fillStep struct {
	Name  string
	Words string // where it stands
	Done  bool
	Next  bool // the first that is not done

	Count     int      // of what waits
	Districts []string // to choose from
}

// steps tells how far the inventory is filled.
func (s *Server) steps(ctx context.Context) ([]fillStep, error) {
	db := s.Store.Read()
	var n struct {
		Bridges, Joints, Proposed, Quantities, Forecasts, Inspections int
	}
	err := db.NewRaw(`SELECT
		(SELECT count(*) FROM bridges WHERE status = 'in service') AS bridges,
		(SELECT count(*) FROM joints WHERE status = 'in service' AND scope = 'joint') AS joints,
		(SELECT count(*) FROM joints WHERE status = 'in service' AND scope <> 'joint') AS quantities,
		(SELECT count(*) FROM joints WHERE status = 'proposed') AS proposed,
		(SELECT count(*) FROM inspections) AS inspections,
		(SELECT count(*) FROM forecasts) AS forecasts`).Scan(ctx, &n)
	if err != nil {
		return nil, err
	}
	var districts []string
	if n.Proposed > 0 {
		err := db.NewRaw("SELECT DISTINCT b.district FROM joints j JOIN bridges b ON b.id = j.bridge_id WHERE j.status = 'proposed' AND b.district IS NOT NULL ORDER BY 1").Scan(ctx, &districts)
		if err != nil {
			return nil, err
		}
	}
	known := count(n.Joints, "joint")
	if n.Quantities > 0 {
		known += ", and " + count(n.Quantities, "quantity of a whole bridge")
		known = strings.ReplaceAll(known, "quantity of a whole bridges", "quantities of whole bridges")
	}
	steps := []fillStep{
		{Name: "bridges", Done: n.Bridges > 0, Words: count(n.Bridges, "bridge"), Count: n.Bridges},
		{Name: "joints", Done: n.Joints+n.Quantities+n.Proposed > 0, Words: known, Count: n.Joints + n.Quantities},
		{Name: "confirm", Done: n.Joints > 0 && n.Proposed == 0, Words: count(n.Proposed, "proposed joint"), Count: n.Proposed, Districts: districts},
		{Name: "condition", Done: n.Inspections > 0, Words: count(n.Inspections, "inspection"), Count: n.Inspections},
		{Name: "forecast", Done: n.Forecasts > 0, Words: count(n.Forecasts, "forecast"), Count: n.Forecasts},
	}
	for i := range steps {
		if !steps[i].Done {
			steps[i].Next = true
			break
		}
	}
	return steps, nil
}

// propose derives likely joints of the bridges that have none.
func (s *Server) propose(w http.ResponseWriter, r *http.Request) error {
	person := s.person(r)
	return s.follow(w, r, &job{What: "Proposing joints", next: "/data#steps"}, func(ctx context.Context, _ *job) error {
		return s.Store.Update(ctx, person, func(ctx context.Context, tx *store.Tx) error {
			_, _, err := inventory.ProposeAll(ctx, tx, inventory.Filter{})
			return err
		})
	})
}

// confirmProposed confirms the proposed joints of a district, or with * all.
func (s *Server) confirmProposed(w http.ResponseWriter, r *http.Request) error {
	person, f := s.person(r), inventory.Filter{District: r.PostFormValue("district")}
	if f.District == "" {
		return store.Invalid("choose the district that somebody has looked at", "nothing says which proposed joints are confirmed")
	}
	if f.District == "*" {
		f.District = ""
	}
	return s.follow(w, r, &job{What: "Confirming proposed joints", next: "/data#steps"}, func(ctx context.Context, _ *job) error {
		return s.Store.Update(ctx, person, func(ctx context.Context, tx *store.Tx) error {
			_, err := inventory.DecideAll(ctx, tx, f, true, s.today())
			return err
		})
	})
}

// renewForecasts stores the forecasts of the network as of today.
func (s *Server) renewForecasts(w http.ResponseWriter, r *http.Request) error {
	person := s.person(r)
	return s.follow(w, r, &job{What: "Projecting every joint", Unit: "joints", next: "/"}, func(ctx context.Context, j *job) error {
		return s.project(ctx, j, person)
	})
}

func (s *Server) project(ctx context.Context, j *job, person string) error {
	_, err := forecast.Renew(ctx, s.Store, person, forecast.Options{
		AsOf: s.today(), Counted: func(n int) { j.count.Add(int64(n)) },
	})
	return err
}

// follow begins a job and leads to its page.
func (s *Server) follow(w http.ResponseWriter, r *http.Request, j *job, fn func(context.Context, *job) error) error {
	s.begin(j, fn)
	http.Redirect(w, r, "/data/jobs/"+j.ID, http.StatusSeeOther)
	return nil
}

// attach makes an answer a file to keep.
func attach(w http.ResponseWriter, kind, name string) {
	h := w.Header()
	h.Set("Content-Type", kind)
	h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": name}))
	h.Set("Cache-Control", "no-store")
}

// tableFile answers with a small table as CSV or XLSX.
func (s *Server) tableFile(w http.ResponseWriter, form, name string, columns []table.Column, fill func(*table.Writer) error) error {
	var b bytes.Buffer
	kind := "text/csv; charset=utf-8"
	out, err := table.NewCSV(&b, columns)
	if form == "xlsx" {
		kind = xlsxType
		out, err = table.NewXLSX(&b, name, columns)
	}
	if err != nil {
		return err
	}
	if err := fill(out); err != nil {
		return err
	}
	if err := out.Close(); err != nil {
		return err
	}
	attach(w, kind, name+"."+form)
	_, err = b.WriteTo(w)
	return err
}

// heading is the name of a table's column for people.
func heading(name string) string {
	for short, long := range map[string]string{"_usd": " ($)", "_pct": " (%)"} {
		if name, ok := strings.CutSuffix(name, short); ok {
			return sentence(words(name) + long)
		}
	}
	return sentence(columnWords(name))
}

// words makes a plain phrase of a name in code: life_table is life table.
func words(name string) string { return strings.ReplaceAll(name, "_", " ") }
