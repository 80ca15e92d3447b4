package web

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"strings"

	"reseal/forecast"
	"reseal/inventory"
	"reseal/inventory/photo"
	"reseal/inventory/store"
)

//go:embed openapi.json
var openAPIFile string

// openAPI is the document, with the lists of words that it names filled in.
var openAPI = []byte(strings.NewReplacer(
	`"job states"`, quoted(forecast.JobStates()),
	`"urgencies"`, quoted(inventory.Urgencies),
	`"finding kinds"`, quoted(inventory.FindingKinds),
).Replace(openAPIFile))

// quoted is a list of words as JSON has it, without its brackets.
func quoted(words []string) string { return `"` + strings.Join(words, `", "`) + `"` }

// fieldRoutes are the pages and the API of the inspector on the road.
func (s *Server) fieldRoutes(mux *http.ServeMux) {
	mux.Handle("GET /inspect", s.page(s.inspectList))
	mux.Handle("GET /inspect/go", s.page(s.inspectGo))
	mux.Handle("GET /inspect/{tag}", s.page(s.inspectForm))
	mux.Handle("GET /findings", s.page(s.findings))
	mux.Handle("GET /findings/new", s.page(s.newFinding))
	mux.Handle("POST /findings", s.upload(s.addFinding))
	mux.Handle("POST /findings/{id}/close", s.page(s.closeFinding))
	mux.Handle("GET /photos/{name}", s.page(s.showPhoto))
	mux.Handle("GET /sw.js", s.page(s.serviceWorker))
	mux.Handle("GET /manifest.webmanifest", s.page(s.manifest))

	mux.Handle("GET /api/openapi.json", s.api(describe))
	mux.Handle("GET /api/due", s.api(s.apiDue))
	mux.Handle("GET /api/joints/nearest", s.api(s.apiNearest))
	mux.Handle("GET /api/joints/{tag}/form", s.api(s.apiForm))
	mux.Handle("POST /api/joints/{tag}/verdict", s.api(s.apiVerdict))
	mux.Handle("POST /api/inspections", s.api(s.apiInspection))
	mux.Handle("POST /api/readings", s.api(s.apiReading))
	mux.Handle("GET /api/findings", s.api(s.apiFindings))
	mux.Handle("POST /api/findings", s.api(s.apiFinding))
	mux.Handle("POST /api/findings/{id}/close", s.api(s.apiCloseFinding))
	mux.Handle("POST /api/photos", s.apiUpload(s.apiPhoto))
	mux.Handle("GET /api/worklist", s.api(s.exportWorkList))
	mux.Handle("GET /api/budget/{file}", s.api(s.exportBudget))
	mux.Handle("POST /api/joints/{tag}/decisions", s.api(s.apiDecide))
	mux.Handle("GET /api/approved", s.api(s.apiApproved))
	mux.Handle("GET /api/approved/{list}", s.api(s.apiJobs))
	mux.Handle("POST /api/approved/{list}/moves", s.api(s.apiMoveJobs))
}

// shell is what the field pages load, kept on the phone by the service worker.
var shell = []string{
	"base.css", "field.css", "icons.svg", "icon.svg", "inspect-list.js", "inspect-form.js", "finding-form.js",
	"field-store.js", "field-send.js", "field-judge.js", "field-photo.js", "field-near.js", "field-values.js",
}

// serviceWorker serves static/sw.js with the names of what it keeps. Its text
// changes with any of them, so that a phone takes the new ones.
func (s *Server) serviceWorker(w http.ResponseWriter, _ *http.Request) error {
	paths := make([]string, len(shell))
	for i, name := range shell {
		var err error
		if paths[i], err = s.assets.path(name); err != nil {
			return err
		}
	}
	list, err := json.Marshal(paths)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/javascript; charset=utf-8")
	w.Header().Set("Cache-Control", "no-cache")
	_, err = fmt.Fprintf(w, "const SHELL = %s;\n%s", list, s.assets.files["sw.js"].body)
	return err
}

// manifest makes the field pages a thing that a phone can install.
func (s *Server) manifest(w http.ResponseWriter, _ *http.Request) error {
	w.Header().Set("Content-Type", "application/manifest+json")
	_, err := w.Write(s.assets.files["manifest.webmanifest"].body)
	return err
}

// describe serves the OpenAPI document of what is here under /api.
func describe(w http.ResponseWriter, _ *http.Request) error {
	w.Header().Set("Content-Type", "application/vnd.oai.openapi+json;version=3.0")
	_, err := w.Write(openAPI)
	return err
}

// photos is the folder beside the inventory.
func (s *Server) photos() photo.Folder { return photo.Beside(s.Store.Path()) }

// showPhoto serves a photo; its name is of its content, so it may be kept.
func (s *Server) showPhoto(w http.ResponseWriter, r *http.Request) error {
	f, err := s.photos().Open(r.PathValue("name"))
	if err != nil {
		return err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	w.Header().Set("Cache-Control", "private, max-age=31536000, immutable")
	http.ServeContent(w, r, info.Name(), info.ModTime(), f)
	return nil
}

// onRecord refuses names of photos that were not sent first.
func (s *Server) havePhotos(names string) error {
	for name := range strings.SplitSeq(names, "\n") {
		if name == "" {
			continue
		}
		f, err := s.photos().Open(name)
		if err != nil {
			return store.Invalid("send the photos first, to /api/photos", "there is no photo %s", name)
		}
		f.Close()
	}
	return nil
}

// keepPhoto stores one photo of a request.
func (s *Server) keepPhoto(r io.Reader) (string, error) {
	name, err := s.photos().Keep(r)
	if err != nil && os.IsPermission(err) {
		return "", &store.Error{Kind: store.ErrUnavailable, Text: "the folder of photos cannot be written", Hint: "see who owns " + string(s.photos()), Err: err}
	}
	return name, err
}
