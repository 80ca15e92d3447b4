package web

import "net/http"

// Handler answers everything.
func (s *Server) Handler() http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /static/", s.assets)
	mux.Handle("GET /{$}", s.page(s.start))
	mux.Handle("POST /person", s.page(s.setPerson))
	s.jointRoutes(mux)
	s.bridgeRoutes(mux)
	s.mapRoutes(mux)
	s.ogcRoutes(mux)
	s.workListRoutes(mux)
	s.fieldRoutes(mux)
	s.dataRoutes(mux)
	s.budgetRoutes(mux)
	mux.Handle("/", s.page(notFound))
	return s.guard(mux)
}
