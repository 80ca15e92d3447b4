package inventory_test

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"reseal/inventory/store"
)

var ctx = context.Background()

func ptr[T any](v T) *T { return &v }

// create opens an empty inventory whose clock stands still.
func create(t testing.TB) *store.Store {
	t.Helper()
	s, err := store.Open(ctx, filepath.Join(t.TempDir(), "network.gpkg"), store.Options{
		Create: true, Now: func() time.Time { return time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC) },
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func update(t testing.TB, s *store.Store, fn func(tx *store.Tx) error) {
	t.Helper()
	if err := s.Update(ctx, "ana", func(_ context.Context, tx *store.Tx) error { return fn(tx) }); err != nil {
		t.Fatal(err)
	}
}
