package web

import (
	"context"
	"net/http"

	"reseal/forecast"
	"reseal/inventory"
	"reseal/inventory/store"
)

func (s *Server) apiApproved(w http.ResponseWriter, r *http.Request) error {
	lists, err := forecast.ApprovedLists(r.Context(), s.Store.Read())
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, map[string]any{"lists": orEmpty(lists)})
}

// apiJobs are the jobs of an approved list, in all states or in one.
func (s *Server) apiJobs(w http.ResponseWriter, r *http.Request) error {
	jobs, err := forecast.Jobs(r.Context(), s.Store.Read(), forecast.JobFilter{List: r.PathValue("list"), Progress: r.URL.Query().Get("state")})
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, map[string]any{"jobs": orEmpty(jobs)})
}

// jobsMove is what a program asks of a list's jobs: those of the joints named,
// each with its changed_at as it was read, or all that can take the step.
type jobsMove struct {
	Joints map[string]store.Instant `json:"joints"`
	All    bool                     `json:"all"`
	To     string                   `json:"to"`
	Undo   bool                     `json:"undo"`

	On          inventory.Date `json:"on"`
	Contract    string         `json:"contract"`
	ActualCents *int64         `json:"actual_cents"`
	Reason      string         `json:"reason"`
	Seal        string         `json:"seal"`
	Notes       string         `json:"notes"`
	AsRecorded  bool           `json:"as_recorded"`
	AcceptOdd   bool           `json:"accept_odd"`
}

// apiMoveJobs moves jobs as the page of the list does, all or none.
func (s *Server) apiMoveJobs(w http.ResponseWriter, r *http.Request) error {
	var in jobsMove
	if err := readJSON(r, &in); err != nil {
		return err
	}
	n, list := 0, r.PathValue("list")
	err := s.Store.Update(r.Context(), s.person(r), func(ctx context.Context, tx *store.Tx) error {
		jobs, err := forecast.Jobs(ctx, tx, forecast.JobFilter{List: list})
		if err != nil {
			return err
		}
		m, err := in.of(list, jobs)
		if err != nil {
			return err
		}
		n, err = m.Move(ctx, tx, s.today())
		return err
	})
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, map[string]any{"list": list, "moved": n})
}

// of is the move of the jobs of a list.
func (in *jobsMove) of(list string, jobs []forecast.Job) (m forecast.JobsMove, err error) {
	switch {
	case (in.To == "") != in.Undo:
		return m, store.Invalid(`give "to" with a state, or "undo": true`, "a move needs one step")
	case in.ActualCents != nil && *in.ActualCents < 0:
		return m, store.Invalid("give cents of 0 or more", "%d is no cost", *in.ActualCents)
	}
	m = forecast.JobsMove{List: list, All: in.All, Seen: map[int64]store.Instant{}, Step: forecast.Step{
		To: in.To, On: in.On, Contract: in.Contract, ActualCents: in.ActualCents, Reason: in.Reason,
		Seal: in.Seal, Notes: in.Notes, AsRecorded: in.AsRecorded, AcceptOdd: in.AcceptOdd,
	}}
	of := map[string]int64{}
	for i := range jobs {
		of[jobs[i].Tag] = jobs[i].ID
	}
	for tag, seen := range in.Joints {
		id, ok := of[tag]
		if !ok {
			return m, store.NotFound("read the list's jobs again", "joint %s has no job on the list %q", tag, list)
		}
		m.Seen[id] = seen
	}
	return m, nil
}
