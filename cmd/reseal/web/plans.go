package web

import (
	"net/http"

	"reseal/forecast"
)

// plansPage is two kept plans side by side.
type plansPage struct {
	Names []string
	A, B  string
	Years []forecast.PlanPart
	Plans [2]*forecast.Plan
	Moves []forecast.Move
	More  int // moves not shown
}

func (s *Server) plans(w http.ResponseWriter, r *http.Request) error {
	b := plansPage{A: r.URL.Query().Get("a"), B: r.URL.Query().Get("b")}
	var err error
	if b.Names, err = forecast.PlanNames(r.Context(), s.Store.Read()); err != nil {
		return err
	}
	if b.A != "" && b.B != "" {
		for i, name := range []string{b.A, b.B} {
			if b.Plans[i], err = forecast.KeptPlan(r.Context(), s.Store.Read(), name); err != nil {
				return err
			}
		}
		b.Years = forecast.PlansByYear(b.Plans[0], b.Plans[1])
		b.Moves = forecast.Moves(b.Plans[0], b.Plans[1])
		if n := min(len(b.Moves), rowsShown); n < len(b.Moves) {
			b.Moves, b.More = b.Moves[:n], len(b.Moves)-n
		}
	}
	return s.render(w, r, http.StatusOK, "plans.html", Page{Title: "Plans", Nav: "Work list", Wide: true, Style: []string{"joint.css", "worklist.css"}, Body: b})
}
