package store_test

import (
	"context"
	"path/filepath"
	"testing"

	"reseal/inventory/store"
)

func TestWatchSeesEveryonesChanges(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.gpkg")
	s, err := store.Open(t.Context(), path, store.Options{Create: true})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	w, err := s.Watch(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	version := func() int64 {
		v, err := w.Version(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	notice := func(s *store.Store, words string) {
		err := s.Update(t.Context(), "test", func(ctx context.Context, tx *store.Tx) error { return store.SetNotice(ctx, tx, words) })
		if err != nil {
			t.Fatal(err)
		}
	}
	before := version()
	if again := version(); again != before {
		t.Errorf("got %d after %d with no change", again, before)
	}
	notice(s, "changed here")
	own := version()
	if own == before {
		t.Error("a change by the same store was not seen")
	}
	other, err := store.Open(t.Context(), path, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	notice(other, "changed elsewhere")
	if version() == own {
		t.Error("a change by another store was not seen")
	}
}
