package web

import (
	"net/http"

	"reseal/inventory/store"
)

// start is the first page: what each of the three people can do from here.
func (s *Server) start(w http.ResponseWriter, r *http.Request) error {
	var n struct {
		Bridges, Joints, Severe, Plates int
	}
	err := s.Store.Read().NewRaw(`SELECT
		(SELECT count(*) FROM bridges WHERE status = 'in service') AS bridges,
		(SELECT count(*) FROM joints WHERE status = 'in service') AS joints,
		(SELECT count(*) FROM findings WHERE closed_on IS NULL AND urgency = 'severe') AS severe,
		(SELECT count(*) FROM findings WHERE closed_on IS NULL AND kind = 'plate placed') AS plates`).Scan(r.Context(), &n)
	if err != nil {
		return err
	}
	return s.render(w, r, http.StatusOK, "start.html", Page{Title: "Start", Body: n})
}

func notFound(_ http.ResponseWriter, r *http.Request) error {
	return store.NotFound("go on from the navigation above", "there is no page %s", r.URL.Path)
}
