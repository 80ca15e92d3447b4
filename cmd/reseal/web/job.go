package web

import (
	"context"
	"crypto/rand"
	"net/http"
	"sync"
	"sync/atomic"
	"time"

	"reseal/inventory/store"
)

// job is work that can take longer than a person waits for a page: taking a
// large file in, projecting the network. It goes on when its page is closed.
type job struct {
	ID   string
	What string // what is being done, for people
	Unit string // what is counted; empty: nothing is
	next string // the page to go on to in the end

	total int64 // of what is counted; 0: not known
	count atomic.Int64
	bytes int64 // read of a file, by the job itself alone
	done  chan struct{}
	err   error // once done
}

// jobs are those of the last hour.
type jobs struct {
	mu   sync.Mutex
	byID map[string]*job
	wait sync.WaitGroup
}

// keepFor is how long a job, and a file that waits to be confirmed, is kept.
const keepFor = time.Hour

// begin starts a job in the background.
func (s *Server) begin(j *job, fn func(context.Context, *job) error) *job {
	j.ID, j.done = rand.Text(), make(chan struct{})
	s.jobs.mu.Lock()
	if s.jobs.byID == nil {
		s.jobs.byID = map[string]*job{}
	}
	s.jobs.byID[j.ID] = j
	s.jobs.mu.Unlock()
	s.jobs.wait.Go(func() {
		j.err = fn(s.ctx, j)
		close(j.done)
		time.AfterFunc(keepFor, func() {
			s.jobs.mu.Lock()
			defer s.jobs.mu.Unlock()
			delete(s.jobs.byID, j.ID)
		})
	})
	return j
}

func (s *Server) job(r *http.Request) (*job, error) {
	s.jobs.mu.Lock()
	defer s.jobs.mu.Unlock()
	if j := s.jobs.byID[r.PathValue("id")]; j != nil {
		return j, nil
	}
	return nil, store.NotFound("begin again from the page Data", "there is no such work, or it ended over an hour ago")
}

// ended reports whether the job is over.
func (j *job) ended() bool {
	select {
	case <-j.done:
		return true
	default:
		return false
	}
}

func (s *Server) jobRoutes(mux *http.ServeMux) {
	mux.Handle("GET /data/jobs/{id}", s.page(s.jobPage))
	mux.Handle("GET /data/jobs/{id}/progress", s.api(s.jobProgress))
}

// jobPage waits a little for the end of a job, and then leads on; otherwise it
// shows how far the job is.
func (s *Server) jobPage(w http.ResponseWriter, r *http.Request) error {
	j, err := s.job(r)
	if err != nil {
		return err
	}
	t := time.NewTimer(patience)
	defer t.Stop()
	select {
	case <-j.done:
		if j.err != nil {
			return j.err
		}
		http.Redirect(w, r, j.next, http.StatusSeeOther)
		return nil
	case <-r.Context().Done():
		return r.Context().Err()
	case <-t.C:
	}
	return s.render(w, r, http.StatusOK, "job.html", Page{
		Title: j.What, Nav: "Data", Code: []string{"job.js"}, Style: []string{"data.css"}, Body: map[string]any{"Job": j, "Progress": j.progress()},
	})
}

// progress is how far a job is.
type progress struct {
	Ended bool  `json:"ended"`
	Count int64 `json:"count"`
	Total int64 `json:"total"`
}

func (j *job) progress() progress { return progress{j.ended(), j.count.Load(), j.total} }

func (s *Server) jobProgress(w http.ResponseWriter, r *http.Request) error {
	j, err := s.job(r)
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, j.progress())
}
