package store

import (
	"context"
	"database/sql"
	"fmt"
	"sync"
)

// Watch tells whether an inventory has changed, whoever changed it: this
// process, another one, or a GIS. It holds a connection of its own; call
// Close. It may be used by many goroutines.
type Watch struct {
	mu   sync.Mutex
	conn *sql.Conn
}

// Watch begins to watch the inventory.
func (s *Store) Watch(ctx context.Context) (*Watch, error) {
	conn, err := s.read.DB.Conn(ctx)
	if err != nil {
		return nil, fmt.Errorf("watch %s: %w", s.path, err)
	}
	return &Watch{conn: conn}, nil
}

// Version is a number that differs from an earlier answer of the same Watch
// where the inventory has changed in between (SQLite, PRAGMA data_version).
func (w *Watch) Version(ctx context.Context) (version int64, err error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if err := w.conn.QueryRowContext(ctx, "PRAGMA data_version").Scan(&version); err != nil {
		return 0, fmt.Errorf("watch: %w", err)
	}
	return version, nil
}

// Close ends the watch.
func (w *Watch) Close() error { return w.conn.Close() }
