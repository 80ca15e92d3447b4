package web

import (
	"context"
	"net/http/httptest"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"reseal/cmd/reseal/web/atlas"
	"reseal/forecast"
	"reseal/forecast/sample"
	"reseal/inventory"
	"reseal/inventory/store"
)

// today is the day on the clock of all tests here.
var today = time.Date(2026, 6, 15, 12, 0, 0, 0, time.UTC)

// sampleFile makes the invented network once, with its forecasts.
var sampleFile = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "reseal-web-")
	if err != nil {
		return "", err
	}
	path := filepath.Join(dir, "sample.gpkg")
	ctx := context.Background()
	s, err := store.Open(ctx, path, store.Options{Create: true, Now: func() time.Time { return today }})
	if err != nil {
		return "", err
	}
	err = s.Update(ctx, "demo", func(ctx context.Context, tx *store.Tx) error {
		if err := store.SetNotice(ctx, tx, sample.Notice); err != nil {
			return err
		}
		_, err := sample.Make(ctx, tx, sample.Options{Seed: 1, Today: inventory.DateOf(today)})
		return err
	})
	if err != nil {
		return "", err
	}
	tables, err := forecast.LoadTables(ctx, s.Read())
	if err != nil {
		return "", err
	}
	m, err := forecast.NewModel(tables)
	if err != nil {
		return "", err
	}
	o := forecast.Options{AsOf: inventory.DateOf(today)}
	if err := m.Save(ctx, s, "demo", o, func(forecast.Projected) {}); err != nil {
		return "", err
	}
	return path, s.Close()
})

func TestMain(m *testing.M) {
	code := m.Run()
	theBrowser.stop()
	if path, err := sampleFile(); err == nil {
		os.RemoveAll(filepath.Dir(path))
	}
	os.Exit(code)
}

// copyOfSample is the invented network in a file of the test's own.
func copyOfSample(t testing.TB) string {
	t.Helper()
	path, err := sampleFile()
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "network.gpkg")
	if err := os.WriteFile(file, b, 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

// serveSample serves a copy of the invented network and returns its address.
func serveSample(t testing.TB) (*Server, string) {
	t.Helper()
	s, address := serveFile(t, copyOfSample(t))
	s.workLists.make = share(t, s, &ofSample.workLists, s.workLists.make)
	s.projections.make = share(t, s, &ofSample.projections, s.projections.make)
	network := share(t, s, &ofSample.networks, func(ctx context.Context, _ string) (*atlas.Atlas, error) { return s.makeNetwork(ctx) })
	s.network.make = func(ctx context.Context) (*atlas.Atlas, error) { return network(ctx, "") }
	return s, address
}

// serveComplete is serveSample with the approved list FY27, and all that takes time
// made before.
func serveComplete(t testing.TB) (*Server, string) {
	t.Helper()
	s, address := serveSample(t)
	approveList(t, s, "FY27")
	ready(t, s)
	projected(t, s, "")
	waitForWorkList(t, s)
	return s, address
}

// ofSample is what the servers of these tests make of the invented network as it
// comes, which is the same for all of them and takes most of their time.
var ofSample struct {
	workLists   onceBy[int, *forecast.WorkList]
	projections onceBy[budgetQuery, *projection]
	networks    onceBy[string, *atlas.Atlas]
}

// onceBy is what was made once, by key.
type onceBy[K comparable, T any] struct {
	mu sync.Mutex
	of map[K]*once[T]
}

type once[T any] struct {
	sync.Mutex
	made  bool
	value T
}

// get returns the value; where it cannot be made, the next who asks tries again.
func (m *onceBy[K, T]) get(key K, make func() (T, error)) (value T, err error) {
	m.mu.Lock()
	if m.of == nil {
		m.of = map[K]*once[T]{}
	}
	one := m.of[key]
	if one == nil {
		one = new(once[T])
		m.of[key] = one
	}
	m.mu.Unlock()
	one.Lock()
	defer one.Unlock()
	if !one.made {
		if one.value, err = make(); err != nil {
			return value, err
		}
		one.made = true
	}
	return one.value, nil
}

// share takes a value from the others' making while the server's inventory is
// still as it came; once it has changed, the server makes its own.
func share[K comparable, T any](t testing.TB, s *Server, of *onceBy[K, T], make func(context.Context, K) (T, error)) func(context.Context, K) (T, error) {
	t.Helper()
	asItCame, err := s.watch.Version(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return func(ctx context.Context, key K) (T, error) {
		if now, err := s.watch.Version(ctx); err != nil || now != asItCame {
			return make(ctx, key)
		}
		return of.get(key, func() (T, error) { return make(ctx, key) })
	}
}

// serveFile serves the inventory in a file, which is made if it is not there.
func serveFile(t testing.TB, file string) (*Server, string) {
	t.Helper()
	st, err := store.Open(t.Context(), file, store.Options{Create: true, Now: func() time.Time { return today }})
	if err != nil {
		t.Fatal(err)
	}
	s, err := New(t.Context(), Options{Store: st, Person: "Test Person", Log: t.Output()})
	if err != nil {
		t.Fatal(err)
	}
	h := httptest.NewServer(s.Handler())
	t.Cleanup(func() {
		h.Close()
		s.Close()
		st.Close()
	})
	return s, h.URL
}
