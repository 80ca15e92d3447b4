package web

import (
	"net"
	"net/http"
	"slices"
)

// policyWith lets a page load from this server alone, and map tiles from the
// agency's own, if it named one. MapLibre draws with styles that it sets by
// script, and photos wait in the browser as blobs.
func policyWith(tiles string) string {
	if tiles != "" {
		tiles = " " + tiles
	}
	return "default-src 'self'; img-src 'self' data: blob:" + tiles + "; connect-src 'self'" + tiles + "; worker-src 'self'; style-src 'self'; " +
		"object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
}

// guard sets the headers of every answer and refuses what another site or
// another host name sends.
func (s *Server) guard(next http.Handler) http.Handler {
	csrf := http.NewCrossOriginProtection()
	return csrf.Handler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", s.policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Permissions-Policy", "geolocation=(self), camera=(self), microphone=()")
		if !s.BehindProxy && !local(r.Host) {
			http.Error(w, "this server answers on the local machine only", http.StatusMisdirectedRequest)
			return
		}
		next.ServeHTTP(w, r)
	}))
}

// local tells whether a Host header names this machine: a page of another site
// that had its name point here does not get in.
func local(host string) bool {
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	return slices.Contains([]string{"localhost", "127.0.0.1", "::1", "[::1]"}, host)
}

// LocalAddress tells whether an address to listen on can be reached from this
// machine alone.
func LocalAddress(address string) bool {
	host, _, err := net.SplitHostPort(address)
	return err == nil && local(host)
}
