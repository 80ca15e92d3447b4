package store

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
)

// bulkArgs bounds the arguments of one statement: past a few hundred, more
// rows a statement gain nothing.
const bulkArgs = 400

// Bulk inserts many rows of one table: a prepared statement of many rows on
// plain database/sql. BenchmarkBulk sets it beside bun's row and slice
// inserts.
type Bulk struct {
	ctx     context.Context
	tx      *Tx
	table   string
	head    string
	tail    string
	columns int
	rows    int // a full statement's
	after   []*Bulk
	stmts   map[int]*sql.Stmt // by number of rows
	args    []any
	count   int
	touched int64
}

// Bulk begins the insertion of rows with the given columns. Call Add for each
// row, and Close in the end.
func (tx *Tx) Bulk(ctx context.Context, table string, columns ...string) *Bulk {
	rows := max(1, bulkArgs/len(columns))
	return &Bulk{
		ctx: ctx, tx: tx, table: table, columns: len(columns), rows: rows,
		head: fmt.Sprintf("INSERT INTO %s (%s) VALUES ", table, strings.Join(columns, ", ")),
		args: make([]any, 0, rows*len(columns)), stmts: map[int]*sql.Stmt{},
	}
}

// After names the bulks whose rows these rows refer to: what waits there is
// written before any row here is.
func (b *Bulk) After(parents ...*Bulk) *Bulk {
	b.after = append(b.after, parents...)
	return b
}

// OnConflict makes the insertion bring rows up to date that are there already,
// known by the key: those keep what the new row leaves NULL, and are touched
// only where one of the columns brings something else. A table that keeps
// history has changed_at and changed_by among the columns inserted.
func (b *Bulk) OnConflict(key string, columns ...string) *Bulk {
	var set, differs []string
	for _, c := range columns {
		set = append(set, fmt.Sprintf("%[1]s = coalesce(excluded.%[1]s, %[2]s.%[1]s)", c, b.table))
		differs = append(differs, fmt.Sprintf("(excluded.%[1]s IS NOT NULL AND excluded.%[1]s IS NOT %[2]s.%[1]s)", c, b.table))
	}
	if strings.Contains(b.head, "changed_by") {
		set = append(set, "changed_at = excluded.changed_at", "changed_by = excluded.changed_by")
	}
	b.tail = fmt.Sprintf(" ON CONFLICT (%s) DO UPDATE SET %s WHERE %s", key, strings.Join(set, ", "), strings.Join(differs, " OR "))
	return b
}

// Add adds a row; it is written with the next full statement, or by Close.
func (b *Bulk) Add(values ...any) error {
	if len(values) != b.columns {
		return fmt.Errorf("bulk insert: got %d values, want %d", len(values), b.columns)
	}
	b.args = append(b.args, values...)
	b.count++
	if len(b.args) < b.rows*b.columns {
		return nil
	}
	return b.Flush()
}

func (b *Bulk) executed(res sql.Result, err error) error {
	b.args = b.args[:0]
	if err != nil {
		return err
	}
	n, err := res.RowsAffected()
	b.touched += n
	return err
}

// Flush writes what is waiting, and what it refers to before it.
func (b *Bulk) Flush() error {
	if len(b.args) == 0 {
		return nil
	}
	for _, parent := range b.after {
		if err := parent.Flush(); err != nil {
			return err
		}
	}
	rows := len(b.args) / b.columns
	stmt := b.stmts[rows]
	if stmt == nil {
		var err error
		if stmt, err = b.tx.Tx.Tx.PrepareContext(b.ctx, b.sql(rows)); err != nil {
			return err
		}
		b.stmts[rows] = stmt
	}
	return b.executed(stmt.ExecContext(b.ctx, b.args...))
}

// Close flushes and ends the insertion.
func (b *Bulk) Close() error {
	err := b.Flush()
	for _, stmt := range b.stmts {
		stmt.Close()
	}
	return err
}

// Count is the number of rows added.
func (b *Bulk) Count() int { return b.count }

// Touched is the number of rows inserted or changed so far.
func (b *Bulk) Touched() int { return int(b.touched) }

func (b *Bulk) sql(rows int) string {
	one := "(" + strings.TrimSuffix(strings.Repeat("?,", b.columns), ",") + ")"
	return b.head + strings.TrimSuffix(strings.Repeat(one+",", rows), ",") + b.tail
}
