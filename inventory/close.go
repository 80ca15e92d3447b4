package inventory

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/uptrace/bun"

	"reseal/inventory/store"
)

// Close is a fiscal year that was closed: data, tables, settings and fits as they
// stood then, in a copy of the whole inventory beside it.
type Close struct {
	bun.BaseModel `bun:"table:closes" json:"-"`

	ID        int64         `bun:"id,pk,autoincrement" json:"-"`
	UID       string        `bun:"uid,nullzero" json:"uid"`
	Year      int           `bun:"year" json:"year"` // fiscal
	MadeOn    Date          `bun:"made_on" json:"made_on"`
	File      string        `bun:"file" json:"file"` // name of the copy, beside the inventory
	SHA256    string        `bun:"sha256" json:"sha256"`
	Bytes     int64         `bun:"bytes" json:"bytes"`
	CreatedAt store.Instant `bun:"created_at,nullzero" json:"created_at"`
	CreatedBy string        `bun:"created_by,nullzero" json:"created_by"`
}

// CloseYear copies the inventory as it is beside itself and puts the copy with its
// checksum on record as the close of a fiscal year. A year is closed once.
func CloseYear(ctx context.Context, s *store.Store, actor string, year int, on Date) (k *Close, err error) {
	k = &Close{Year: year, MadeOn: on, File: fmt.Sprintf("%s.closed-%d.gpkg", strings.TrimSuffix(filepath.Base(s.Path()), ".gpkg"), year)}
	path := k.path(s)
	part := path + ".part" // so that a copy that was cut short is not taken for one
	placed := false
	err = s.Update(ctx, actor, func(ctx context.Context, tx *store.Tx) error {
		taken, err := tx.NewSelect().Model((*Close)(nil)).Where("year = ?", year).Exists(ctx)
		if err != nil {
			return err
		}
		if taken {
			return store.Invalid("see them with: reseal close", "%d is closed already", year)
		}
		if _, err := os.Stat(path); err == nil {
			return store.Invalid("move it elsewhere first", "%s: the file of the close is there already", path)
		}
		if err := os.Remove(part); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		// Nobody else can write while tx lives, so the copy is what tx sees.
		if err := s.CopyTo(ctx, part); err != nil {
			return err
		}
		if k.SHA256, k.Bytes, err = checksum(part); err != nil {
			return err
		}
		k.UID, k.CreatedAt, k.CreatedBy = tx.NewUID(), tx.At, tx.Actor
		if _, err := tx.NewInsert().Model(k).Exec(ctx); err != nil {
			return err
		}
		err = errors.Join(os.Chmod(part, 0o444), os.Rename(part, path))
		placed = err == nil
		return err
	})
	if err != nil {
		os.Remove(part)
		if placed {
			os.Remove(path)
		}
		return nil, err
	}
	return k, nil
}

// Closes lists the closed years, the latest first.
func Closes(ctx context.Context, db bun.IDB) ([]Close, error) {
	var out []Close
	err := db.NewSelect().Model(&out).Order("year DESC").Scan(ctx)
	return out, err
}

// CloseFor is the close that shows best how things stood on a day: the first made
// on it or after it, which holds all that had been entered by then and no later
// correction. It is nil where none was made since.
func CloseFor(ctx context.Context, db bun.IDB, day Date) (*Close, error) {
	var found []Close
	err := db.NewSelect().Model(&found).Where("made_on >= ?", day).Order("made_on", "year").Limit(1).Scan(ctx)
	if err != nil || len(found) == 0 {
		return nil, err
	}
	return &found[0], nil
}

func (k *Close) path(s *store.Store) string { return filepath.Join(filepath.Dir(s.Path()), k.File) }

// Open opens what was closed, for reading alone. It works on a copy in a
// temporary folder, brought to this version's schema, which done removes; the
// close itself is never touched. A copy that is missing or not as it was made is
// an error.
func (k *Close) Open(ctx context.Context, beside *store.Store) (s *store.Store, done func(), err error) {
	path := k.path(beside)
	sum, _, err := checksum(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, nil, store.NotFound("put the file back beside the inventory", "%s: the copy of the close of %d is missing", path, k.Year)
	case err != nil:
		return nil, nil, err
	case sum != k.SHA256:
		return nil, nil, store.Invalid("put the file back from a backup", "%s: the copy of the close of %d is not as it was made", path, k.Year)
	}
	dir, err := os.MkdirTemp("", "reseal-close-")
	if err != nil {
		return nil, nil, err
	}
	remove := func() { os.RemoveAll(dir) }
	work := filepath.Join(dir, k.File)
	if err = copyFile(path, work); err == nil {
		err = bringUp(ctx, work)
	}
	if err == nil {
		s, err = store.Open(ctx, work, store.Options{Frozen: true, Now: beside.Now})
	}
	if err != nil {
		remove()
		return nil, nil, fmt.Errorf("open the close of %d: %w", k.Year, err)
	}
	return s, func() { s.Close(); remove() }, nil
}

// bringUp brings a file to this version's schema.
func bringUp(ctx context.Context, path string) error {
	s, err := store.Open(ctx, path, store.Options{})
	if err != nil {
		return err
	}
	return s.Close()
}

func copyFile(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Close())
}

func checksum(path string) (sum string, bytes int64, err error) {
	f, err := os.Open(path)
	if err != nil {
		return "", 0, err
	}
	defer f.Close()
	h := sha256.New()
	n, err := io.Copy(h, f)
	return hex.EncodeToString(h.Sum(nil)), n, err
}
