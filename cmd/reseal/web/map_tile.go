package web

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"reseal/geo/mvt"
	"reseal/inventory/store"
)

// tile answers /tiles/SCALE/Z/X/Y.mvt. With the mark of the network that is
// shown in its address it may be kept for good.
func (s *Server) tile(w http.ResponseWriter, r *http.Request) error {
	a, _, err := s.theNetwork(r.Context())
	if err != nil {
		return err
	}
	scale, ok := a.Scale(r.PathValue("scale"))
	y, mvtName := strings.CutSuffix(r.PathValue("y"), ".mvt")
	var n [3]int
	for i, text := range []string{r.PathValue("z"), r.PathValue("x"), y} {
		var err error
		if n[i], err = strconv.Atoi(text); err != nil {
			ok = false
		}
	}
	t := mvt.Tile{Z: n[0], X: n[1], Y: n[2]}
	if !ok || !mvtName || !t.Valid() {
		return store.NotFound("tiles are at /tiles/condition/Z/X/Y.mvt, or urgency, year or fit", "there is no tile %s", r.URL.Path)
	}
	hidden, err := hiddenClasses(a, scale, r.URL.Query().Get("off"))
	if err != nil {
		return err
	}
	h := w.Header()
	// The map takes a tile of another address with the same tag for the same.
	tag := fmt.Sprintf(`"%s-%d-%x"`, a.Mark, scale, hidden)
	h.Set("ETag", tag)
	h.Set("Cache-Control", "private, no-cache")
	if r.URL.Query().Get("v") == a.Mark {
		h.Set("Cache-Control", "private, max-age=86400, immutable")
	}
	if r.Header.Get("If-None-Match") == tag {
		w.WriteHeader(http.StatusNotModified)
		return nil
	}
	b := a.Tile(scale, hidden, t)
	if len(b) == 0 {
		w.WriteHeader(http.StatusNoContent)
		return nil
	}
	h.Set("Content-Type", "application/vnd.mapbox-vector-tile")
	w.Write(b) // the connection is all that can fail
	return nil
}

// pmtilesMagic begins a PMTiles archive of version 3 (PMTiles specification,
// version 3, "Header").
var pmtilesMagic = []byte("PMTiles\x03")

// checkBackground refuses a background that no page could show. It returns
// the origin of an address, for the content security policy.
func checkBackground(background string) (origin string, err error) {
	if background == "" {
		return "", nil
	}
	if strings.Contains(background, "://") {
		u, err := url.Parse(background)
		for _, part := range []string{"{z}", "{x}", "{y}"} {
			if err == nil && !strings.Contains(background, part) {
				err = fmt.Errorf("it has no %s", part)
			}
		}
		if err != nil || u.Host == "" || u.Scheme != "https" && u.Scheme != "http" || strings.ContainsAny(u.Host, " *;,'{}") {
			return "", store.Invalid("give one like https://tiles.example.org/{z}/{x}/{y}.png", "%s is no address of map tiles", background)
		}
		return u.Scheme + "://" + u.Host, nil
	}
	f, err := os.Open(background)
	if err != nil {
		return "", store.NotFound("name a PMTiles file or an address with {z}, {x} and {y}", "the background cannot be read: %v", err)
	}
	defer f.Close()
	head := make([]byte, len(pmtilesMagic))
	if _, err := io.ReadFull(f, head); err != nil || !bytes.Equal(head, pmtilesMagic) {
		return "", store.Invalid("give a PMTiles archive of version 3", "%s is no PMTiles archive", background)
	}
	return "", nil
}

// backgroundAddress is where the script finds the background; empty: none.
func (s *Server) backgroundAddress() string {
	if s.Background == "" || strings.Contains(s.Background, "://") {
		return s.Background
	}
	return "/background.pmtiles"
}

// background serves the agency's archive, by parts as its reader asks.
func (s *Server) background(w http.ResponseWriter, r *http.Request) error {
	if s.backgroundAddress() != r.URL.Path {
		return notFound(w, r)
	}
	f, err := os.Open(s.Background)
	if err != nil {
		return fmt.Errorf("background: %w", err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return fmt.Errorf("background: %w", err)
	}
	w.Header().Set("Content-Type", "application/octet-stream")
	w.Header().Set("ETag", fmt.Sprintf(`"%x-%x"`, info.Size(), info.ModTime().UnixNano()))
	http.ServeContent(w, r, filepath.Base(s.Background), info.ModTime(), f)
	return nil
}
