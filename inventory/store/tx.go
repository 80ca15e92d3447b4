package store

import (
	"bufio"
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/uptrace/bun"

	"reseal/geo/gpkg"
)

// Instant is a moment in UTC as GeoPackage writes a DATETIME,
// 2026-05-04T09:30:00.000Z; empty is none.
type Instant string

const instantLayout = "2006-01-02T15:04:05.000Z"

// InstantOf writes a moment down.
func InstantOf(t time.Time) Instant { return Instant(t.UTC().Format(instantLayout)) }

// Scan reads a DATETIME column. The driver gives a time, which must come back
// in the form that it was written in: a row that is saved again would
// otherwise no longer be valid GeoPackage.
func (i *Instant) Scan(src any) error {
	switch v := src.(type) {
	case nil:
		*i = ""
	case time.Time:
		*i = InstantOf(v)
	case string:
		*i = Instant(v)
	case []byte:
		*i = Instant(v)
	default:
		return fmt.Errorf("cannot read an instant from %T", src)
	}
	return nil
}

// Tx is one change to the inventory: all of it happens, or nothing.
type Tx struct {
	bun.Tx
	Actor string  // who acts
	At    Instant // when

	random *bufio.Reader
}

// errDryRun rolls a transaction back without being a failure.
var errDryRun = errors.New("dry run")

// Update runs fn in one transaction in the name of actor; without one it is
// ErrInvalid, for each change goes on record with who made it. If fn returns an
// error, or the process dies at any moment, nothing has changed.
func (s *Store) Update(ctx context.Context, actor string, fn func(context.Context, *Tx) error) error {
	if s.write == nil {
		return s.readOnly
	}
	if actor == "" {
		return Invalid("give your name first", "nothing was changed: nobody is named for it")
	}
	err := s.write.RunInTx(ctx, &sql.TxOptions{}, func(ctx context.Context, tx bun.Tx) error {
		return fn(ctx, &Tx{Tx: tx, Actor: actor, At: InstantOf(s.Now()), random: bufio.NewReaderSize(rand.Reader, 4096)})
	})
	if ctx.Err() != nil {
		return ctx.Err()
	}
	return translate(s.path, err)
}

// Try is Update that takes everything back in the end: what a dry run does.
func (s *Store) Try(ctx context.Context, actor string, fn func(context.Context, *Tx) error) error {
	err := s.Update(ctx, actor, func(ctx context.Context, tx *Tx) error {
		if err := fn(ctx, tx); err != nil {
			return err
		}
		return errDryRun
	})
	if errors.Is(err, errDryRun) {
		return nil
	}
	return err
}

// NewUID returns a UUIDv7 (RFC 9562): the same row in every copy of the
// inventory, in the order of its making.
func (tx *Tx) NewUID() string {
	id, err := uuid.NewV7FromReader(tx.random)
	if err != nil {
		panic("no randomness: " + err.Error()) // crypto/rand never fails on a working system
	}
	return id.String()
}

// NextID returns the id that the table's next row will get. Ids are never used
// twice, also not those of rows that were taken back.
func (tx *Tx) NextID(ctx context.Context, table string) (int64, error) {
	var last int64
	err := tx.NewRaw("SELECT coalesce((SELECT seq FROM sqlite_sequence WHERE name = ?), 0)", table).Scan(ctx, &last)
	return last + 1, err
}

// Stamp is embedded by every row that people make and change.
type Stamp struct {
	CreatedAt Instant `bun:"created_at,nullzero" json:"created_at,omitempty"`
	CreatedBy string  `bun:"created_by,nullzero" json:"created_by,omitempty"`
	ChangedAt Instant `bun:"changed_at,nullzero" json:"changed_at,omitempty"`
	ChangedBy string  `bun:"changed_by,nullzero" json:"changed_by,omitempty"`
}

// Created marks a new row.
func (tx *Tx) Created() Stamp {
	return Stamp{CreatedAt: tx.At, CreatedBy: tx.Actor, ChangedAt: tx.At, ChangedBy: tx.Actor}
}

// Changed marks a row that is about to be updated. Two updates of one row
// never share a mark: without a new one the database takes an update for an
// edit made outside.
func (tx *Tx) Changed(s *Stamp) {
	at := tx.At
	if s.ChangedAt >= at { // instants are ordered as text
		if was, err := time.Parse(instantLayout, string(s.ChangedAt)); err == nil {
			at = InstantOf(was.Add(time.Millisecond))
		}
	}
	s.ChangedAt, s.ChangedBy = at, tx.Actor
}

// DropIndex takes the spatial index of a layer away for the rest of a bulk
// load; CreateIndex fills it in one pass. Both within the one transaction.
func (tx *Tx) DropIndex(ctx context.Context, layer string) error {
	return tx.script(ctx, gpkg.Index{Table: layer, GeometryColumn: "geom", IDColumn: "id"}.DropSQL())
}

// CreateIndex makes the spatial index that DropIndex took away.
func (tx *Tx) CreateIndex(ctx context.Context, layer string) error {
	return tx.script(ctx, gpkg.Index{Table: layer, GeometryColumn: "geom", IDColumn: "id"}.CreateSQL())
}

func (tx *Tx) script(ctx context.Context, statements []string) error {
	for _, q := range statements {
		if _, err := tx.Tx.Tx.ExecContext(ctx, q); err != nil {
			return err
		}
	}
	return nil
}

// TakeUID returns the uid that a device gave its entry, in the usual form, or
// a new one where it gave none.
func (tx *Tx) TakeUID(given string) (string, error) {
	if given == "" {
		return tx.NewUID(), nil
	}
	id, err := uuid.Parse(given)
	if err != nil {
		return "", Invalid("give a UUID (RFC 9562), or none", "%q is not a uid", given)
	}
	return id.String(), nil
}

// IDOf is the id of the table's row with a uid, 0 where there is none: an
// entry that was sent again is known by it.
func (tx *Tx) IDOf(ctx context.Context, table, uid string) (int64, error) {
	uid, err := tx.TakeUID(uid)
	if err != nil {
		return 0, err
	}
	var ids []int64
	err = tx.NewRaw("SELECT id FROM ? WHERE uid = ?", bun.Ident(table), uid).Scan(ctx, &ids)
	if err != nil || len(ids) == 0 {
		return 0, err
	}
	return ids[0], nil
}
