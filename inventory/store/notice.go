package store

import (
	"context"

	"github.com/uptrace/bun"
)

// noticeKey is the row of settings that holds the notice.
const noticeKey = "notice"

// SetNotice leaves words in the inventory that go with everything shown of
// it: that it is invented, for instance.
func SetNotice(ctx context.Context, tx *Tx, notice string) error {
	_, err := tx.NewRaw("INSERT INTO settings (key, value, changed_at, changed_by) VALUES (?, ?, ?, ?) ON CONFLICT (key) DO UPDATE SET value = excluded.value, changed_at = excluded.changed_at, changed_by = excluded.changed_by",
		noticeKey, notice, tx.At, tx.Actor).Exec(ctx)
	return err
}

// Notice returns the words left by SetNotice, or nothing.
func Notice(ctx context.Context, db bun.IDB) (string, error) {
	var found []string
	err := db.NewRaw("SELECT value FROM settings WHERE key = ?", noticeKey).Scan(ctx, &found)
	if err != nil || len(found) == 0 {
		return "", err
	}
	return found[0], nil
}
