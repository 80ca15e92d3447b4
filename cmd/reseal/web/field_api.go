package web

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"strconv"

	"github.com/paulmach/orb"

	"reseal/condition"
	"reseal/inventory"
	"reseal/inventory/store"
)

// nearCount is how many joints "nearest" names.
const nearCount = 5

// kept is the answer to an entry.
type kept struct {
	ID    int64    `json:"id"`
	UID   string   `json:"uid"`
	Again bool     `json:"again,omitempty"` // it was on record already
	Odd   []string `json:"odd,omitempty"`   // kept with these marks
}

// refused is a problem (RFC 9457) that the inspector can answer.
type refused struct {
	wrong
	Odd   []string               `json:"odd,omitempty"`   // look again; accept_odd keeps it
	Newer []condition.Inspection `json:"newer,omitempty"` // came in meanwhile; a newer seen_id keeps both
}

// answer says what became of an entry.
func (s *Server) answer(w http.ResponseWriter, r *http.Request, id int64, uid string, o condition.Outcome, err error) error {
	switch {
	case err == nil && o.Again:
		return writeJSON(w, http.StatusOK, kept{ID: id, UID: uid, Again: true})
	case err == nil:
		return writeJSON(w, http.StatusCreated, kept{ID: id, UID: uid, Odd: o.Odd})
	case len(o.Odd) == 0 && len(o.Newer) == 0:
		return err
	}
	answer := refused{wrong: s.wrongOf(r, err), Odd: o.Odd, Newer: o.Newer}
	if len(o.Odd) > 0 {
		answer.Hint = "look again; if it is right, keep it with a mark (accept_odd)"
	}
	b, err := json.Marshal(answer)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/problem+json")
	w.WriteHeader(answer.Status)
	_, err = w.Write(b)
	return err
}

func (s *Server) apiInspection(w http.ResponseWriter, r *http.Request) error {
	var e condition.Entry
	if err := readJSON(r, &e); err != nil {
		return err
	}
	if err := s.havePhotos(e.Photos); err != nil {
		return err
	}
	e.Inspector, e.Source, e.DateKnown = s.person(r), condition.FromInspection, condition.OnDay
	var o condition.Outcome
	err := s.Store.Update(r.Context(), e.Inspector, func(ctx context.Context, tx *store.Tx) (err error) {
		o, err = e.Log(ctx, tx, s.today())
		return err
	})
	return s.answer(w, r, e.ID, e.UID, o, err)
}

func (s *Server) apiReading(w http.ResponseWriter, r *http.Request) error {
	var e condition.ReadingEntry
	if err := readJSON(r, &e); err != nil {
		return err
	}
	var o condition.Outcome
	err := s.Store.Update(r.Context(), s.person(r), func(ctx context.Context, tx *store.Tx) (err error) {
		o, err = e.Log(ctx, tx, s.today())
		return err
	})
	return s.answer(w, r, e.ID, e.UID, o, err)
}

func (s *Server) apiFinding(w http.ResponseWriter, r *http.Request) error {
	var e inventory.FindingEntry
	if err := readJSON(r, &e); err != nil {
		return err
	}
	if err := s.havePhotos(e.Photos); err != nil {
		return err
	}
	e.ClosedOn, e.ClosedNote = inventory.Date{}, ""
	again, err := s.logFinding(r, &e)
	return s.answer(w, r, e.ID, e.UID, condition.Outcome{Again: again}, err)
}

func (s *Server) logFinding(r *http.Request, e *inventory.FindingEntry) (again bool, err error) {
	person := s.person(r)
	if e.Source == "" {
		e.Source = person
	}
	err = s.Store.Update(r.Context(), person, func(ctx context.Context, tx *store.Tx) error {
		again, err = e.Log(ctx, tx, s.today())
		return err
	})
	return again, err
}

func (s *Server) apiFindings(w http.ResponseWriter, r *http.Request) error {
	found, err := inventory.Findings(r.Context(), s.Store.Read(), findingFilter(r))
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, map[string]any{"findings": orEmpty(found)})
}

func (s *Server) apiCloseFinding(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Note     string         `json:"note"`
		ClosedOn inventory.Date `json:"closed_on"`
	}
	if err := readJSON(r, &in); err != nil {
		return err
	}
	if in.ClosedOn.IsZero() {
		in.ClosedOn = s.today()
	}
	f, err := s.endFinding(r, in.ClosedOn, in.Note)
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, f)
}

// endFinding closes the finding that the request names.
func (s *Server) endFinding(r *http.Request, on inventory.Date, note string) (f *inventory.Finding, err error) {
	id, err := strconv.ParseInt(r.PathValue("id"), 10, 64)
	if err != nil {
		return nil, store.NotFound("see the list of findings", "there is no finding %q", r.PathValue("id"))
	}
	err = s.Store.Update(r.Context(), s.person(r), func(ctx context.Context, tx *store.Tx) error {
		if f, err = inventory.FindFinding(ctx, tx, id); err != nil {
			return err
		}
		return inventory.CloseFinding(ctx, tx, f, on, note)
	})
	return f, err
}

func (s *Server) apiPhoto(w http.ResponseWriter, r *http.Request) error {
	name, err := s.keepPhoto(r.Body)
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusCreated, map[string]string{"name": name, "path": "/photos/" + name})
}

// form loads the form of the joint that the request names.
func (s *Server) form(r *http.Request) (*condition.Form, error) {
	a, _, err := s.agency.get(r.Context(), s)
	if err != nil {
		return nil, err
	}
	j, err := inventory.FindJoint(r.Context(), s.Store.Read(), r.PathValue("tag"))
	if err != nil {
		return nil, err
	}
	return condition.FormOf(r.Context(), s.Store.Read(), a.tables.Gaps, j, s.today())
}

func (s *Server) apiForm(w http.ResponseWriter, r *http.Request) error {
	f, err := s.form(r)
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, f)
}

// apiVerdict judges readings with what is on record, and changes nothing.
func (s *Server) apiVerdict(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		On       inventory.Date      `json:"on"`
		Readings []condition.Reading `json:"readings"`
	}
	if err := readJSON(r, &in); err != nil {
		return err
	}
	if in.On.IsZero() {
		in.On = s.today()
	}
	a, _, err := s.agency.get(r.Context(), s)
	if err != nil {
		return err
	}
	j, err := inventory.FindJoint(r.Context(), s.Store.Read(), r.PathValue("tag"))
	if err != nil {
		return err
	}
	g, err := condition.OneGap(r.Context(), s.Store.Read(), a.tables.Gaps, j.ID, in.On)
	if err != nil {
		return err
	}
	v, err := g.Verdict(a.tables.Gaps, in.Readings, in.On)
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, v)
}

func (s *Server) apiNearest(w http.ResponseWriter, r *http.Request) error {
	lon, err1 := strconv.ParseFloat(r.FormValue("lon"), 64)
	lat, err2 := strconv.ParseFloat(r.FormValue("lat"), 64)
	if errors.Join(err1, err2) != nil || !(lon >= -180 && lon <= 180 && lat >= -90 && lat <= 90) {
		return store.Invalid("give lon and lat in degrees, for example lon=-97.5&lat=41.2", "there is no such place")
	}
	near, err := inventory.Nearest(r.Context(), s.Store.Read(), orb.Point{lon, lat}, nearCount)
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, map[string]any{"joints": orEmpty(near)})
}

func (s *Server) apiDue(w http.ResponseWriter, r *http.Request) error {
	q, err := s.dueQuery(r)
	if err != nil {
		return err
	}
	list, _, err := s.due.get(r.Context(), s)
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, map[string]any{"due": orEmpty(list.choose(q).Due)})
}

// orEmpty makes no rows an empty list rather than null.
func orEmpty[T any](rows []T) []T {
	if rows == nil {
		return []T{}
	}
	return rows
}
