package web

import (
	"bytes"
	"cmp"
	"embed"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"path"
	"strings"
	"time"

	"reseal/condition"
	"reseal/forecast/money"
	"reseal/inventory"
	"reseal/inventory/store"
)

//go:embed pages
var pageFiles embed.FS

// Page is what every page shows around its own part.
type Page struct {
	Title string
	Nav   string   // the place in the navigation that this page belongs to
	Wide  bool     // uses the whole width of the screen
	Style []string // further style sheets of static/
	Code  []string // further modules of static/
	Body  any      // the page's own

	Person string // whose name goes on record; empty: it is asked for
	Back   string // the page to come back to once it is given
	Notice string // words that go with everything of this inventory: that it is invented
	Today  inventory.Date
	Places []place
}

// place is an entry of the navigation.
type place struct{ Name, Path, Icon string }

var places = []place{
	{"Map", "/map", "map"},
	{"Work list", "/worklist", "list"},
	{"Inspect", "/inspect", "look"},
	{"Findings", "/findings", "flag"},
	{"Budget", "/budget", "bars"},
	{"Data", "/data", "data"},
}

// parsePages reads the templates: the layout and parts with each page.
func parsePages(a *assets) (map[string]*template.Template, error) {
	base, err := template.New("").Funcs(template.FuncMap{
		"asset": a.path,
		"dollars": func(v any) string {
			switch v := v.(type) {
			case money.Nominal:
				return dollars(v)
			case money.Present:
				return dollars(v)
			case money.Constant:
				return dollars(v)
			case int64:
				return dollars(v)
			case *int64:
				return dollars(*v)
			case float64: // computed dollars
				return dollars(int64(math.Round(100 * v)))
			}
			panic(fmt.Sprintf("dollars of a %T", v)) // a mistake in a template, which its test meets
		},
		"count":      count,
		"lines":      strings.Fields,
		"percent":    func(p float64) string { return fmt.Sprintf("%.0f", 100*p) },
		"clock":      func(t time.Time) string { return t.Format("15:04") },
		"amount":     money.FormatDollars, // of cents, as people write it
		"whole":      func(cents int64) int64 { return cents / 100 },
		"round":      func(v float64) string { return thousands(int(math.Round(v))) },
		"thousand":   func(v float64) float64 { return 1000 * v },
		"files":      func() []string { return []string{"years.xlsx", "years.csv", "levels.xlsx", "levels.csv"} },
		"dollarsOf":  func(cents float64) string { return dollars(int64(math.Round(cents))) },
		"number":     number,
		"state":      condition.StateWord,
		"less":       func(n, by int) int { return n - by },
		"states":     func() []int { return []int{1, 2, 3, 4} },
		"likely":     condition.Likely,
		"year":       yearWords,
		"last":       func(first, n int) int { return first + n - 1 },
		"decideForm": newDecideForm,
		"choose": func(name, now string, of []string) any {
			return struct {
				Name, Now string
				Of        []string
			}{name, now, of}
		},
		"words":   words,
		"day":     func(at string) string { return at[:min(len(at), 10)] },
		"instant": func(at string) string { return strings.Replace(at[:min(len(at), 16)], "T", " ", 1) },
		"value":   func(v any) string { return cmp.Or(valueWords(v), "–") }, "thousands": thousands,
		"yes":      func(b *bool) bool { return b != nil && *b },
		"bridge":   func(state, number string) template.URL { return template.URL(bridgePath(state, number)) },
		"bridgeOf": func(ref string) template.URL { return template.URL(bridgePath(inventory.SplitStructure(ref))) },
		"heading":  heading, "sentence": sentence,
	}).ParseFS(pageFiles, "pages/layout.html", "pages/part-*.html")
	if err != nil {
		return nil, fmt.Errorf("pages: %w", err)
	}
	files, err := pageFiles.ReadDir("pages")
	if err != nil {
		return nil, fmt.Errorf("pages: %w", err)
	}
	pages := map[string]*template.Template{}
	for _, f := range files {
		t, err := base.Clone()
		if err == nil {
			t, err = t.ParseFS(pageFiles, path.Join("pages", f.Name()))
		}
		if err != nil {
			return nil, fmt.Errorf("pages: %w", err)
		}
		pages[f.Name()] = t
	}
	return pages, nil
}

// render writes a page, whole or not at all.
func (s *Server) render(w http.ResponseWriter, r *http.Request, status int, name string, p Page) (err error) {
	p.Person, p.Back, p.Today, p.Places = s.person(r), back(r), s.today(), places
	if r.Method == http.MethodGet {
		p.Back = r.URL.RequestURI()
	}
	if p.Notice, err = store.Notice(r.Context(), s.Store.Read()); err != nil {
		return err
	}
	t, ok := s.pages[name]
	if !ok {
		return fmt.Errorf("there is no page %s", name)
	}
	var b bytes.Buffer
	if err := t.ExecuteTemplate(&b, "layout", p); err != nil {
		return fmt.Errorf("page %s: %w", name, err)
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, err = b.WriteTo(w)
	return err
}

// renderPart writes one part of a page, for a script that puts it there.
func (s *Server) renderPart(w http.ResponseWriter, page, part string, body any) error {
	var b bytes.Buffer
	if err := s.pages[page].ExecuteTemplate(&b, part, body); err != nil {
		return fmt.Errorf("page %s: %w", page, err)
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	_, err := b.WriteTo(w)
	return err
}

// thousands writes a whole number with its separators.
func thousands(n int) string { return money.FormatDollars(100 * int64(n)) }

// count says how many: "1 joint", "1,204 joints".
func count(n int, what string) string {
	if n != 1 {
		what += "s"
	}
	return thousands(n) + " " + what
}

// dollars writes money of any kind as whole dollars.
func dollars[C ~int64](cents C) string {
	if cents < 0 {
		return "−$" + money.FormatDollars(-int64(cents))
	}
	return "$" + money.FormatDollars(int64(cents))
}
