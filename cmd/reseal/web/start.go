package web

import (
	"context"
	"fmt"
	"net/http"
	"time"

	"reseal/condition"
	"reseal/forecast/sample"
	"reseal/inventory"
	"reseal/inventory/store"
)

// standing is what the three people want to know first.
type standing struct {
	Bridges, Joints, Severe, Plates, Proposed int
	Overdue                                   int
	List                                      *listProgress // the last list approved; nil: none
}

// listProgress is how far an approved work list is.
type listProgress struct {
	Name  string
	Year  int
	Items int // without those dropped
	Done  int
	Under int // under contract, not done
}

// start is the first page: what each of the three people can do from here.
func (s *Server) start(w http.ResponseWriter, r *http.Request) error {
	n, at, err := s.standing.get(r.Context(), s)
	if err != nil {
		return err
	}
	name, title := "start.html", "Start"
	if n.Bridges == 0 && n.Joints == 0 {
		name, title = "first.html", "A new inventory"
	}
	return s.render(w, r, http.StatusOK, name, Page{Title: title, Style: []string{"data.css"}, Body: struct {
		standing
		At time.Time
	}{n, at}})
}

// stand counts where the inventory stands.
func (s *Server) stand(ctx context.Context) (n standing, err error) {
	db := s.Store.Read()
	err = db.NewRaw(`SELECT
		(SELECT count(*) FROM bridges WHERE status = 'in service') AS bridges,
		(SELECT count(*) FROM joints WHERE status = 'in service') AS joints,
		(SELECT count(*) FROM joints WHERE status = 'proposed') AS proposed,
		(SELECT count(*) FROM findings WHERE closed_on IS NULL AND urgency = 'severe') AS severe,
		(SELECT count(*) FROM findings WHERE closed_on IS NULL AND kind = ?) AS plates`, inventory.PlatePlaced).
		Scan(ctx, &n.Bridges, &n.Joints, &n.Proposed, &n.Severe, &n.Plates)
	if err != nil {
		return n, err
	}
	due, err := condition.DueBy(ctx, db, inventory.Filter{}, s.today(), condition.DueRules{})
	if err != nil {
		return n, err
	}
	n.Overdue = len(due)
	var lists []listProgress
	err = db.NewRaw(`SELECT l.name, l.year, count(*) FILTER (WHERE i.progress <> 'dropped') AS items,
		count(*) FILTER (WHERE i.progress IN ('completed', 'paid')) AS done,
		count(*) FILTER (WHERE i.progress IN ('programmed', 'obligated')) AS under
		FROM work_lists l JOIN work_list_items i ON i.list_id = l.id GROUP BY l.id ORDER BY l.id DESC LIMIT 1`).Scan(ctx, &lists)
	if err != nil {
		return n, fmt.Errorf("approved lists: %w", err)
	}
	if len(lists) > 0 {
		n.List = &lists[0]
	}
	return n, nil
}

// fillWithDemo puts the invented network into an empty inventory, and projects
// it.
func (s *Server) fillWithDemo(w http.ResponseWriter, r *http.Request) error {
	if !s.filling.CompareAndSwap(false, true) {
		return store.Invalid("wait a little, and go to the first page", "the invented network is being made already")
	}
	person := s.person(r)
	return s.follow(w, r, &job{What: "Inventing a network", Unit: "joints projected", next: "/"}, func(ctx context.Context, j *job) error {
		defer s.filling.Store(false)
		if _, err := sample.Fill(ctx, s.Store, person, sample.Options{Seed: 1, Today: s.today()}); err != nil {
			return err
		}
		return s.project(ctx, j, person)
	})
}

func notFound(_ http.ResponseWriter, r *http.Request) error {
	return store.NotFound("go on from the navigation above", "there is no page %s", r.URL.Path)
}
