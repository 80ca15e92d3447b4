package store

import (
	"context"
	"fmt"
)

// CopyTo writes the inventory as it is at one moment to a file that must not
// exist or be empty, while others may go on reading and writing. It works on
// an inventory that can only be read too.
func (s *Store) CopyTo(ctx context.Context, path string) (err error) {
	conn, err := s.read.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	// query_only would refuse to write the copy.
	if _, err := conn.ExecContext(ctx, "PRAGMA query_only = 0"); err != nil {
		return err
	}
	defer func() {
		if _, back := conn.ExecContext(context.WithoutCancel(ctx), "PRAGMA query_only = 1"); err == nil {
			err = back
		}
	}()
	if _, err := conn.ExecContext(ctx, "VACUUM INTO ?", path); err != nil {
		return fmt.Errorf("copy %s: %w", s.path, translate(path, err))
	}
	return nil
}
