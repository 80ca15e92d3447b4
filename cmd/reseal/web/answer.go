package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"net/http"
	"strings"

	"reseal/inventory/store"
)

// xlsxType is the media type of a workbook (IANA).
const xlsxType = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"

// handler answers a request, or says why not.
type handler func(http.ResponseWriter, *http.Request) error

// page serves HTML; an error becomes a page that says what to do.
func (s *Server) page(h handler) http.Handler { return s.limited(formBytes, h, s.errorPage) }

// upload is page for forms with files.
func (s *Server) upload(h handler) http.Handler { return s.limited(uploadBytes, h, s.errorPage) }

// api serves JSON; an error becomes problem details (RFC 9457).
func (s *Server) api(h handler) http.Handler { return s.limited(formBytes, h, s.problem) }

// apiUpload is api for bodies with files.
func (s *Server) apiUpload(h handler) http.Handler { return s.limited(uploadBytes, h, s.problem) }

func (s *Server) limited(bytes int64, h handler, refuse func(http.ResponseWriter, *http.Request, error)) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r.Body = http.MaxBytesReader(w, r.Body, bytes)
		err := readForm(r)
		if err == nil {
			err = h(w, r)
		}
		if err == nil || r.Context().Err() != nil { // nobody waits for the answer
			return
		}
		refuse(w, r, err)
	})
}

// readForm reads the values of a plain form whole, before anybody asks for
// one: a form that was cut short must not pass for one with blanks.
func readForm(r *http.Request) error {
	err := r.ParseForm()
	var large *http.MaxBytesError
	if err == nil || errors.As(err, &large) {
		return err
	}
	return store.Invalid("go back and send it again", "the form cannot be read: %v", err)
}

// statusOf is the HTTP status of an error.
func statusOf(err error) int {
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		return http.StatusRequestEntityTooLarge
	case errors.Is(err, store.ErrNotFound):
		return http.StatusNotFound
	case errors.Is(err, store.ErrInvalid):
		return http.StatusUnprocessableEntity
	case errors.Is(err, store.ErrConflict):
		return http.StatusConflict
	case errors.Is(err, store.ErrUnavailable):
		return http.StatusServiceUnavailable
	}
	return http.StatusInternalServerError
}

// titles are the words over an error; those of HTTP tell a person nothing.
var titles = map[int]string{
	http.StatusRequestEntityTooLarge: "That is too large",
	http.StatusNotFound:              "Not on record",
	http.StatusUnprocessableEntity:   "That cannot be done",
	http.StatusConflict:              "It was changed in the meantime",
	http.StatusServiceUnavailable:    "One moment",
	http.StatusInternalServerError:   "Something went wrong here",
}

// hint is the advice that an error carries, if it means something on a page: a
// command to type does not.
func hint(err error) string {
	text := store.Hint(err)
	if strings.Contains(text, "reseal ") || strings.Contains(text, "--") {
		return ""
	}
	return text
}

// wrong is what a person reads of an error.
type wrong struct {
	Status int    `json:"status"`
	Title  string `json:"title"`
	Detail string `json:"detail"`
	Hint   string `json:"hint,omitempty"` // what to do
}

func (s *Server) wrongOf(r *http.Request, err error) wrong {
	w := wrong{Status: statusOf(err), Detail: err.Error(), Hint: hint(err)}
	w.Title = titles[w.Status]
	if w.Status == http.StatusInternalServerError {
		s.log.Printf("%s %s: %v", r.Method, r.URL.Path, err)
	}
	return w
}

// retryAfter is how many seconds later to ask again for what is not there yet.
const retryAfter = "3"

func (s *Server) errorPage(w http.ResponseWriter, r *http.Request, err error) {
	wrong, name := s.wrongOf(r, err), "error.html"
	switch {
	case errors.Is(err, errMaking) && r.Method == http.MethodGet: // no failure: the page comes
		w.Header().Set("Refresh", retryAfter) // the browser asks again by itself, without script
		wrong.Status, name = http.StatusAccepted, "making.html"
	case wrong.Status == http.StatusServiceUnavailable:
		w.Header().Set("Retry-After", retryAfter)
	}
	if err := s.render(w, r, wrong.Status, name, Page{Title: wrong.Title, Style: []string{"data.css"}, Body: wrong}); err != nil {
		s.log.Printf("%s: %v", r.URL.Path, err)
		http.Error(w, wrong.Detail, wrong.Status)
	}
}

func (s *Server) problem(w http.ResponseWriter, r *http.Request, err error) {
	wrong := s.wrongOf(r, err)
	w.Header().Set("Content-Type", "application/problem+json")
	if wrong.Status == http.StatusServiceUnavailable {
		w.Header().Set("Retry-After", retryAfter)
	}
	w.WriteHeader(wrong.Status)
	json.NewEncoder(w).Encode(wrong) // the connection is all that can fail
}

// writeJSON answers with a value.
func writeJSON(w http.ResponseWriter, status int, v any) error {
	var b bytes.Buffer
	if err := json.NewEncoder(&b).Encode(v); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, err := b.WriteTo(w)
	return err
}

// readJSON reads a request's body into v and refuses what v does not know.
func readJSON(r *http.Request, v any) error {
	d := json.NewDecoder(r.Body)
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			return err
		}
		return store.Invalid("send the JSON that /api describes", "the request cannot be read: %v", err)
	}
	return nil
}
