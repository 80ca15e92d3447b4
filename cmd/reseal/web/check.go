package web

import (
	"context"
	"errors"
	"net/http"
	"strconv"
	"strings"

	"reseal/condition"
	"reseal/inventory/store"
)

// casesPerPage is how many cases of a rule a page shows.
const casesPerPage = 200

// checked is what a check of the whole inventory found.
type checked struct {
	Groups []checkGroup // those with cases, worst first
	Total  int
	Urgent int // cases to look at now
}

type checkGroup struct {
	Weight string
	Rules  []ruleCases
}

// ruleCases are the cases of a rule.
type ruleCases struct {
	*condition.Rule
	Count int
	First caseView
}

func (s *Server) checkRoutes(mux *http.ServeMux) {
	mux.Handle("GET /data/check", s.page(s.check))
}

// runCheck counts the cases of every rule.
func (s *Server) runCheck(ctx context.Context) (c checked, err error) {
	err = condition.Check(ctx, s.Store.Read(), s.today(), func(b condition.Broken) error {
		if n := len(c.Groups); n == 0 || c.Groups[n-1].Weight != b.Rule.Weight {
			c.Groups = append(c.Groups, checkGroup{Weight: b.Rule.Weight})
		}
		g := &c.Groups[len(c.Groups)-1]
		if n := len(g.Rules); n == 0 || g.Rules[n-1].Rule != b.Rule {
			g.Rules = append(g.Rules, ruleCases{Rule: b.Rule, First: viewOf(b)})
		}
		g.Rules[len(g.Rules)-1].Count++
		c.Total++
		if b.Rule.Weight == condition.WeightSafety {
			c.Urgent++
		}
		return nil
	})
	return c, err
}

func (s *Server) check(w http.ResponseWriter, r *http.Request) error {
	if name := r.FormValue("rule"); name != "" {
		return s.checkRule(w, r, name)
	}
	found, at, err := s.checks.get(r.Context(), s)
	if err != nil {
		return err
	}
	return s.render(w, r, http.StatusOK, "check.html", Page{
		Title: "What is missing or contradictory", Nav: "Data", Style: []string{"data.css"},
		Body: map[string]any{"Checked": found, "At": at},
	})
}

// caseView is a case as a page shows it.
type caseView struct {
	condition.Broken
	Joint bool // it is about a joint, which has a page; otherwise about a bridge, STATE/NUMBER
}

func viewOf(b condition.Broken) caseView { return caseView{b, !strings.Contains(b.Ref, "/")} }

// errEnough ends a check that has filled its page.
var errEnough = errors.New("enough")

// checkRule lists the cases of one rule.
func (s *Server) checkRule(w http.ResponseWriter, r *http.Request, name string) error {
	var rule *condition.Rule
	for i := range condition.Rules {
		if condition.Rules[i].Name == name {
			rule = &condition.Rules[i]
		}
	}
	if rule == nil {
		return store.NotFound("see the page Check", "there is no rule %q", name)
	}
	from, _ := strconv.Atoi(r.FormValue("from"))
	from = max(from, 0)
	var cases []caseView
	n := 0
	err := condition.Check(r.Context(), s.Store.Read(), s.today(), func(b condition.Broken) error {
		if n++; n > from+casesPerPage {
			return errEnough
		}
		if n > from {
			cases = append(cases, viewOf(b))
		}
		return nil
	}, name)
	if err != nil && !errors.Is(err, errEnough) {
		return err
	}
	next := 0
	if n > from+casesPerPage {
		next = from + casesPerPage
	}
	return s.render(w, r, http.StatusOK, "check-rule.html", Page{
		Title: sentence(name), Nav: "Data", Style: []string{"data.css"},
		Body: map[string]any{"Rule": rule, "Cases": cases, "From": from, "Next": next},
	})
}
