package web

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"strings"
)

//go:embed static
var assetFiles embed.FS

// assets are the files that pages load, each with the mark of its content.
type assets struct {
	files map[string]asset // by path below static/
}

type asset struct {
	body []byte
	mark string
	kind string
}

// loadAssets reads the files and marks them.
func loadAssets() (*assets, error) {
	a := &assets{files: map[string]asset{}}
	err := fs.WalkDir(assetFiles, "static", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := assetFiles.ReadFile(name)
		if err != nil {
			return err
		}
		sum := sha256.Sum256(b)
		kind := mime.TypeByExtension(path.Ext(name))
		switch path.Ext(name) { // the machine's own table may lack these
		case ".js":
			kind = "text/javascript; charset=utf-8"
		case ".webmanifest":
			kind = "application/manifest+json"
		}
		a.files[strings.TrimPrefix(name, "static/")] = asset{b, hex.EncodeToString(sum[:8]), kind}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("assets: %w", err)
	}
	return a, nil
}

// path is the address of a file; it changes with the content, so that a
// browser may keep it for good.
func (a *assets) path(name string) (string, error) {
	f, ok := a.files[name]
	if !ok {
		return "", fmt.Errorf("there is no file static/%s", name)
	}
	return "/static/" + name + "?v=" + f.mark, nil
}

// ServeHTTP answers /static/NAME. What modules import among themselves has no
// mark in its address: the browser asks each time whether it changed.
func (a *assets) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	f, ok := a.files[strings.TrimPrefix(r.URL.Path, "/static/")]
	if !ok {
		http.NotFound(w, r)
		return
	}
	h := w.Header()
	h.Set("Content-Type", f.kind)
	h.Set("ETag", `"`+f.mark+`"`)
	h.Set("Cache-Control", "no-cache")
	if r.URL.Query().Get("v") == f.mark {
		h.Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	if r.Header.Get("If-None-Match") == `"`+f.mark+`"` {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	w.Write(f.body) // the connection is all that can fail
}
