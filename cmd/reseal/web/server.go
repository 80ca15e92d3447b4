package web

import (
	"context"
	"errors"
	"fmt"
	"html/template"
	"io"
	"log"
	"net"
	"net/http"
	"sync/atomic"
	"time"

	"reseal/cmd/reseal/web/atlas"
	"reseal/forecast"
	"reseal/inventory"
	"reseal/inventory/store"
)

// Time-outs of a connection, and how much a request may send.
const (
	headerTimeout = 10 * time.Second
	readTimeout   = 5 * time.Minute  // a large file over a slow line
	writeTimeout  = 10 * time.Minute // from the request's header on: a large file both ways
	idleTimeout   = 2 * time.Minute
	stopTimeout   = 10 * time.Second

	headerBytes = 64 << 10
	formBytes   = 1 << 20
	uploadBytes = 256 << 20
)

// Options say what is served and to whom.
type Options struct {
	Store       *store.Store
	Person      string    // whose name goes on record where the browser has given none; empty: it must
	BehindProxy bool      // a proxy in front does sign-in and TLS: answer under any host name
	Background  string    // behind the map: a PMTiles file, or an address with {z}, {x} and {y}; empty: outlines alone
	Log         io.Writer // of failures that are nobody's mistake; nil: nowhere
}

// Server answers the browser.
type Server struct {
	Options
	pages  map[string]*template.Template
	assets *assets
	watch  *store.Watch
	log    *log.Logger
	policy string             // content security policy
	close  context.CancelFunc // ends work in the background
	ctx    context.Context

	agency  fresh[agency]
	choices fresh[inventory.Choices]
	places  fresh[*atlas.Atlas] // where the joints are, and their condition
	network fresh[*atlas.Atlas] // with their forecasts

	due      fresh[*dueList]
	jobs     jobs
	uploads  uploads
	standing fresh[standing]
	checks   fresh[checked]
	filling  atomic.Bool // the invented network is being made

	workLists   freshBy[int, *forecast.WorkList] // by fiscal year, of the whole network
	workParts   parts[*forecast.WorkList, workListQuery, *forecast.WorkList]
	projections freshBy[budgetQuery, *projection]
	planning    frugal // for projections

	// By the version of the inventory.
	jointCounts  parts[int64, inventory.Filter, int]
	openFindings parts[int64, string, []inventory.Finding] // by district
}

// New prepares a server. Call Close when it is no longer needed.
func New(ctx context.Context, o Options) (*Server, error) {
	if o.Log == nil {
		o.Log = io.Discard
	}
	s := &Server{Options: o, log: log.New(o.Log, "", log.LstdFlags)}
	origin, err := checkBackground(o.Background)
	if err != nil {
		return nil, err
	}
	s.policy = policyWith(origin)
	if s.assets, err = loadAssets(); err != nil {
		return nil, err
	}
	if s.pages, err = parsePages(s.assets); err != nil {
		return nil, err
	}
	if s.watch, err = o.Store.Watch(ctx); err != nil {
		return nil, err
	}
	s.due.make = s.loadDue
	s.agency.make, s.choices.make = s.makeAgency, s.makeChoices
	s.workLists.make, s.projections.make = s.makeWorkList, s.makeProjection
	s.ctx, s.close = context.WithCancel(context.WithoutCancel(ctx))
	s.places.make, s.network.make = s.makePlaces, s.makeNetwork
	s.standing.make, s.checks.make = s.stand, s.runCheck
	return s, nil
}

// Close ends what goes on in the background.
func (s *Server) Close() error {
	s.close()
	s.jobs.wait.Wait()
	return errors.Join(s.uploads.clear(), s.watch.Close())
}

// server has the limits of every connection.
func (s *Server) server() *http.Server {
	return &http.Server{
		Handler:           s.Handler(),
		ReadHeaderTimeout: headerTimeout,
		ReadTimeout:       readTimeout,
		WriteTimeout:      writeTimeout,
		IdleTimeout:       idleTimeout,
		MaxHeaderBytes:    headerBytes,
		ErrorLog:          s.log,
		BaseContext:       func(net.Listener) context.Context { return s.ctx },
	}
}

// Serve answers on the listener until ctx ends; then it lets requests finish.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	h := s.server()
	failed := make(chan error, 1)
	go func() { failed <- h.Serve(l) }()
	select {
	case err := <-failed:
		return fmt.Errorf("serve: %w", err)
	case <-ctx.Done():
	}
	stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopTimeout)
	defer cancel()
	if err := h.Shutdown(stop); err != nil && !errors.Is(err, context.DeadlineExceeded) {
		return fmt.Errorf("stop: %w", err)
	}
	return nil
}

// today is the day on the inventory's clock.
func (s *Server) today() inventory.Date { return inventory.DateOf(s.Store.Now()) }
