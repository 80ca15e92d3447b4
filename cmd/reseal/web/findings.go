package web

import (
	"context"
	"errors"
	"io"
	"net/http"
	"strconv"
	"strings"

	"reseal/inventory"
	"reseal/inventory/store"
)

// findingsShown is how many findings a group shows before one asks for all.
const findingsShown = 100

// findingsPage is what the page of open findings shows.
type findingsPage struct {
	District  string
	Districts []string
	Groups    []findingGroup
	Open      int
	All       bool
	Today     inventory.Date
}

// findingGroup are findings that wait for the same person.
type findingGroup struct {
	Key, Title, Says string
	Findings         []findingCard
	Total            int
}

type findingCard struct {
	inventory.Finding
	Days int
}

func findingFilter(r *http.Request) inventory.FindingFilter {
	return inventory.FindingFilter{
		District: r.FormValue("district"), Urgency: r.FormValue("urgency"), Kind: r.FormValue("kind"), Closed: r.FormValue("closed") == "1",
	}
}

func (s *Server) findings(w http.ResponseWriter, r *http.Request) error {
	district := r.FormValue("district")
	found, err := s.foundIn(r.Context(), district)
	if err != nil {
		return err
	}
	choices, err := s.theChoices(r.Context())
	if err != nil {
		return err
	}
	p := findingsPage{District: district, Districts: choices.Districts, Open: len(found), All: r.FormValue("all") == "1", Today: s.today()}
	p.Groups = s.groupFindings(found, p.All)
	return s.render(w, r, http.StatusOK, "findings.html", Page{
		Title: "Findings", Nav: "Findings", Style: []string{"field.css"}, Code: []string{"finding-form.js"}, Body: p,
	})
}

// foundIn are the open findings of a district; empty: of the network.
func (s *Server) foundIn(ctx context.Context, district string) ([]inventory.Finding, error) {
	version, err := s.watch.Version(ctx)
	if err != nil {
		return nil, err
	}
	return s.openFindings.get(version, district, func() ([]inventory.Finding, error) {
		return inventory.Findings(ctx, s.Store.Read(), inventory.FindingFilter{District: district})
	})
}

// groupFindings puts the severe ones before the engineer, then the plates,
// which must not be forgotten, then the others; each in the order they come.
func (s *Server) groupFindings(found []inventory.Finding, all bool) (out []findingGroup) {
	groups := []findingGroup{
		{Key: "severe", Title: "For an engineer's review", Says: "Severe: a licensed engineer looks at these before anything else is decided."},
		{Key: "plate", Title: "Plates in place", Says: "A plate is no repair: each stays here, counted in days, until it is gone."},
		{Key: "soon", Title: "Soon"},
		{Key: "routine", Title: "Routine"},
	}
	for _, f := range found {
		i := 3
		switch {
		case f.Urgency == "severe":
			i = 0
		case f.Kind == inventory.PlatePlaced:
			i = 1
		case f.Urgency == "soon":
			i = 2
		}
		g := &groups[i]
		if g.Total++; all || g.Total <= findingsShown {
			g.Findings = append(g.Findings, findingCard{f, f.DaysOpen(s.today())})
		}
	}
	for _, g := range groups {
		if g.Total > 0 {
			out = append(out, g)
		}
	}
	return out
}

// findingForm is what the form of a new finding shows.
type findingForm struct {
	Joint     string
	Kinds     []string
	Urgencies []urgencyWord
	Today     inventory.Date
}

type urgencyWord struct{ Key, Word, Says string }

var urgencyWords = []urgencyWord{
	{"routine", "Routine", "at the next visit"},
	{"soon", "Soon", "within weeks"},
	{"severe", "Severe", "an engineer should look now"},
}

func (s *Server) newFinding(w http.ResponseWriter, r *http.Request) error {
	p := findingForm{Joint: r.FormValue("joint"), Kinds: inventory.FindingKinds, Urgencies: urgencyWords, Today: s.today()}
	return s.render(w, r, http.StatusOK, "finding-new.html", Page{
		Title: "Report a finding", Nav: "Findings", Style: []string{"field.css"}, Code: []string{"finding-form.js"}, Body: p,
	})
}

// addFinding takes the form where there is no script.
func (s *Server) addFinding(w http.ResponseWriter, r *http.Request) error {
	if err := r.ParseMultipartForm(formBytes); err != nil && !errors.Is(err, http.ErrNotMultipart) {
		return err
	}
	e := inventory.FindingEntry{Joint: r.PostFormValue("joint")}
	e.Kind, e.Urgency, e.Notes = r.PostFormValue("kind"), r.PostFormValue("urgency"), strings.TrimSpace(r.PostFormValue("notes"))
	var err error
	for name, at := range map[string]**float64{"from_ft": &e.FromFt, "to_ft": &e.ToFt} {
		if text := strings.TrimSpace(r.PostFormValue(name)); text != "" {
			v, err := strconv.ParseFloat(text, 64)
			if err != nil {
				return store.Invalid("give feet along the joint", "%q is no number", text)
			}
			*at = &v
		}
	}
	if e.Photos, err = s.keepFormPhotos(r); err != nil {
		return err
	}
	if _, err := s.logFinding(r, &e); err != nil {
		return err
	}
	http.Redirect(w, r, "/findings", http.StatusSeeOther)
	return nil
}

// keepFormPhotos stores the photos of a form and returns their names, one a
// line.
func (s *Server) keepFormPhotos(r *http.Request) (string, error) {
	if r.MultipartForm == nil {
		return "", nil
	}
	var names []string
	for _, h := range r.MultipartForm.File["photo"] {
		if h.Size == 0 {
			continue
		}
		f, err := h.Open()
		if err != nil {
			return "", err
		}
		name, err := s.keepPhoto(io.Reader(f))
		f.Close()
		if err != nil {
			return "", err
		}
		names = append(names, name)
	}
	return strings.Join(names, "\n"), nil
}

// closeFinding ends a finding with a note.
func (s *Server) closeFinding(w http.ResponseWriter, r *http.Request) error {
	note := strings.TrimSpace(r.PostFormValue("note"))
	if note == "" {
		return store.Invalid("say in a few words what was done about it", "a finding is closed with a note")
	}
	if _, err := s.endFinding(r, s.today(), note); err != nil {
		return err
	}
	http.Redirect(w, r, back(r), http.StatusSeeOther)
	return nil
}
