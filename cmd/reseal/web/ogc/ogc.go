package ogc

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"reseal/cmd/reseal/layer"
	"reseal/inventory"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

// Collection is one kind of feature.
type Collection struct {
	ID      string
	Title   string
	About   string
	Columns []table.Column
	Time    string // the column of dates that datetime asks for; empty: features have no time

	// Each hands the rows that a filter chooses to a sink, in the filter's
	// order. A collection without Count knows no filter: Each gives all rows.
	Each  func(context.Context, inventory.Filter, layer.Sink) error
	Count func(context.Context, inventory.Filter) (int, error)
	// Filters puts an equality into the filter and tells whether it could; nil:
	// none can be.
	Filters func(f *inventory.Filter, column, value string) bool
}

// Service answers under a path.
type Service struct {
	Path        string // such as /ogc, without a slash at the end
	Title       string
	About       func(context.Context) (string, error) // also that what is served is invented, where it is
	Collections []Collection
	Extent      func(context.Context) (box orb.Bound, ok bool, err error) // of all features
	Now         func() time.Time
	Secure      func(*http.Request) bool // the client came by TLS
	Log         func(r *http.Request, err error)
	Beside      Definition // what else the server answers, for the same document
}

// Media types.
const (
	typeJSON    = "application/json"
	typeGeoJSON = "application/geo+json"
	typeOpenAPI = "application/vnd.oai.openapi+json;version=3.0"

	crs84 = "http://www.opengis.net/def/crs/OGC/1.3/CRS84"
)

// conformsTo are the requirements classes (OGC 17-069r4, annex A).
var conformsTo = [...]string{
	"http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/core",
	"http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/oas30",
	"http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/geojson",
}

// link leads to another resource (RFC 8288).
type link struct {
	Href  string `json:"href"`
	Rel   string `json:"rel"`
	Type  string `json:"type,omitempty"`
	Title string `json:"title,omitempty"`
}

// exception is what goes wrong (OGC 17-069r4, 7.5.1, exception.yaml).
type exception struct {
	Status      int    `json:"-"`
	Code        string `json:"code"`
	Description string `json:"description"`
}

func (e *exception) Error() string { return e.Description }

func invalid(format string, args ...any) error {
	return &exception{http.StatusBadRequest, "InvalidParameterValue", fmt.Sprintf(format, args...)}
}

func notFound(format string, args ...any) error {
	return &exception{http.StatusNotFound, "NotFound", fmt.Sprintf(format, args...)}
}

// Register adds the service's addresses.
func (s *Service) Register(mux *http.ServeMux) {
	for path, h := range map[string]func(http.ResponseWriter, *http.Request) error{
		"":                                       s.landing,
		"/{$}":                                   s.landing,
		"/conformance":                           s.conformance,
		"/api":                                   s.api,
		"/collections":                           s.collections,
		"/collections/{collection}":              s.collection,
		"/collections/{collection}/items":        s.items,
		"/collections/{collection}/items/{item}": s.item,
	} {
		mux.HandleFunc("GET "+s.Path+path, func(w http.ResponseWriter, r *http.Request) {
			if err := h(w, r); err != nil && r.Context().Err() == nil {
				s.refuse(w, r, err)
			}
		})
	}
}

// refuse answers with an exception.
func (s *Service) refuse(w http.ResponseWriter, r *http.Request, err error) {
	e, ok := err.(*exception)
	switch {
	case ok:
	case errors.Is(err, store.ErrUnavailable): // it is being made
		w.Header().Set("Retry-After", "5")
		e = &exception{http.StatusServiceUnavailable, "ServiceUnavailable", err.Error()}
	default:
		s.Log(r, err)
		e = &exception{http.StatusInternalServerError, "ServerError", "something went wrong here; the log of the server tells what"}
	}
	w.Header().Set("Content-Type", typeJSON)
	w.WriteHeader(e.Status)
	json.NewEncoder(w).Encode(e) // the connection is all that can fail
}

func answer(w http.ResponseWriter, contentType string, v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", contentType)
	w.Write(append(b, '\n')) // the connection is all that can fail
	return nil
}

// base is the address of the service as the client knows it.
func (s *Service) base(r *http.Request) string {
	scheme := "http"
	if s.Secure(r) {
		scheme = "https"
	}
	return scheme + "://" + r.Host + s.Path
}

// known refuses parameters that an operation has not (7.14, requirement
// /req/core/query-param-unknown). f=json is understood everywhere.
func known(r *http.Request, names ...string) error {
	for name, values := range r.URL.Query() {
		switch {
		case name == "f":
			if !slices.Contains([]string{"json", "geojson"}, values[0]) {
				return invalid("there is no format %q, only json", values[0])
			}
		case !slices.Contains(names, name):
			return invalid("there is no parameter %q here", name)
		case len(values) > 1:
			return invalid("the parameter %q is given more than once", name)
		}
	}
	return nil
}

func (s *Service) landing(w http.ResponseWriter, r *http.Request) error {
	if err := known(r); err != nil {
		return err
	}
	base := s.base(r)
	about, err := s.About(r.Context())
	if err != nil {
		return err
	}
	return answer(w, typeJSON, map[string]any{
		"title": s.Title, "description": about,
		"links": []link{
			{base, "self", typeJSON, "This document"},
			{base + "/api", "service-desc", typeOpenAPI, "The API definition"},
			{base + "/conformance", "conformance", typeJSON, "Conformance classes"},
			{base + "/collections", "data", typeJSON, "The collections"},
		},
	})
}

func (s *Service) conformance(w http.ResponseWriter, r *http.Request) error {
	if err := known(r); err != nil {
		return err
	}
	return answer(w, typeJSON, map[string]any{"conformsTo": conformsTo})
}

func (s *Service) api(w http.ResponseWriter, r *http.Request) error {
	if err := known(r); err != nil {
		return err
	}
	about, err := s.About(r.Context())
	if err != nil {
		return err
	}
	return answer(w, typeOpenAPI, s.openAPI(s.base(r), about))
}

func (s *Service) collections(w http.ResponseWriter, r *http.Request) error {
	if err := known(r); err != nil {
		return err
	}
	var all []any
	for i := range s.Collections {
		d, err := s.describe(r, &s.Collections[i])
		if err != nil {
			return err
		}
		all = append(all, d)
	}
	return answer(w, typeJSON, map[string]any{"links": []link{{s.base(r) + "/collections", "self", typeJSON, "This document"}}, "collections": all})
}

func (s *Service) collection(w http.ResponseWriter, r *http.Request) error {
	c, err := s.find(r)
	if err != nil {
		return err
	}
	if err := known(r); err != nil {
		return err
	}
	d, err := s.describe(r, c)
	if err != nil {
		return err
	}
	return answer(w, typeJSON, d)
}

// find is the collection that the address names.
func (s *Service) find(r *http.Request) (*Collection, error) {
	var names []string
	for i := range s.Collections {
		if s.Collections[i].ID == r.PathValue("collection") {
			return &s.Collections[i], nil
		}
		names = append(names, s.Collections[i].ID)
	}
	return nil, notFound("there is no collection %q; there are %s", r.PathValue("collection"), strings.Join(names, ", "))
}

// describe is a collection's description (7.13, collection.yaml).
func (s *Service) describe(r *http.Request, c *Collection) (map[string]any, error) {
	at := s.base(r) + "/collections/" + c.ID
	d := map[string]any{
		"id": c.ID, "title": c.Title, "description": c.About, "itemType": "feature", "crs": []string{crs84},
		"links": []link{{at, "self", typeJSON, "This document"}, {at + "/items", "items", typeGeoJSON, c.Title}},
	}
	box, ok, err := s.Extent(r.Context())
	if err != nil {
		return nil, err
	}
	if ok {
		d["extent"] = map[string]any{"spatial": map[string]any{"crs": crs84, "bbox": [][4]float64{{box.Min[0], box.Min[1], box.Max[0], box.Max[1]}}}}
	}
	return d, nil
}
