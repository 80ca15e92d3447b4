package web

import (
	"net/http"
	"net/url"
	"strings"
	"time"

	"reseal/inventory/store"
)

// personCookie keeps the name that a person gave in this browser.
const personCookie = "reseal-person"

// person is who acts in a request: the name that goes on record, or nothing where
// nobody has given one; the store then changes nothing. It is the one place that
// knows; sign-in will change it here.
func (s *Server) person(r *http.Request) string {
	if c, err := r.Cookie(personCookie); err == nil {
		if name, err := url.QueryUnescape(c.Value); err == nil && name != "" {
			return name
		}
	}
	return s.Person
}

// setPerson takes the name that goes on record from now on in this browser.
func (s *Server) setPerson(w http.ResponseWriter, r *http.Request) error {
	name := strings.TrimSpace(r.PostFormValue("name"))
	if name == "" || len(name) > 80 {
		return store.Invalid("give the name that goes on record", "a name has 1 to 80 characters")
	}
	http.SetCookie(w, &http.Cookie{
		Name: personCookie, Value: url.QueryEscape(name), Path: "/", Expires: time.Now().AddDate(1, 0, 0),
		HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: r.TLS != nil,
	})
	to := back(r)
	if u, err := url.Parse(r.PostFormValue("back")); err == nil && u.Scheme == "" && u.Host == "" && strings.HasPrefix(u.Path, "/") && !strings.HasPrefix(u.Path, "//") {
		to = u.RequestURI()
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}

// back is the page that a form was sent from.
func back(r *http.Request) string {
	if u, err := url.Parse(r.Referer()); err == nil && u.Host == r.Host {
		return u.RequestURI()
	}
	return "/"
}
