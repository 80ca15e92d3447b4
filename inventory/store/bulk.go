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
	head    string
	columns int
	rows    int // a full statement's
	stmt    *sql.Stmt
	args    []any
	count   int
}

// Bulk begins the insertion of rows with the given columns. Call Add for each
// row, and Close in the end.
func (tx *Tx) Bulk(ctx context.Context, table string, columns ...string) *Bulk {
	rows := max(1, bulkArgs/len(columns))
	return &Bulk{
		ctx: ctx, tx: tx, columns: len(columns), rows: rows,
		head: fmt.Sprintf("INSERT INTO %s (%s) VALUES ", table, strings.Join(columns, ", ")),
		args: make([]any, 0, rows*len(columns)),
	}
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
	if b.stmt == nil {
		var err error
		if b.stmt, err = b.tx.Tx.Tx.PrepareContext(b.ctx, b.sql(b.rows)); err != nil {
			return err
		}
	}
	_, err := b.stmt.ExecContext(b.ctx, b.args...)
	b.args = b.args[:0]
	return err
}

// Flush writes what is waiting.
func (b *Bulk) Flush() error {
	if len(b.args) == 0 {
		return nil
	}
	_, err := b.tx.Tx.Tx.ExecContext(b.ctx, b.sql(len(b.args)/b.columns), b.args...)
	b.args = b.args[:0]
	return err
}

// Close flushes and ends the insertion.
func (b *Bulk) Close() error {
	err := b.Flush()
	if b.stmt != nil {
		b.stmt.Close()
	}
	return err
}

// Count is the number of rows added.
func (b *Bulk) Count() int { return b.count }

func (b *Bulk) sql(rows int) string {
	one := "(" + strings.TrimSuffix(strings.Repeat("?,", b.columns), ",") + ")"
	return b.head + strings.TrimSuffix(strings.Repeat(one+",", rows), ",")
}
