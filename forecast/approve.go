package forecast

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"

	"github.com/uptrace/bun"

	"reseal/inventory"
	"reseal/inventory/store"
)

// BudgetOf is the money of a fiscal year on record, of a district or, where it
// is blank, of the network, in nominal cents; 0 where none is.
func BudgetOf(ctx context.Context, db bun.IDB, year int, district string) (cents int64, err error) {
	err = db.NewRaw("SELECT amount_cents FROM budgets WHERE year = ? AND district = ? AND fund = ''", year, district).Scan(ctx, &cents)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, nil
	}
	return cents, err
}

// Approve keeps what stands above the line under a name. An approved list never
// changes, except for the progress of its items. A name that is taken is an
// error.
func (w *WorkList) Approve(ctx context.Context, tx *store.Tx, name string, asOf inventory.Date) error {
	if name == "" || w.Line == 0 {
		return store.Invalid("give a name, and money for one joint at least", "there is nothing to approve")
	}
	var taken int
	if err := tx.NewRaw("SELECT count(*) FROM work_lists WHERE name = ?", name).Scan(ctx, &taken); err != nil {
		return err
	}
	if taken > 0 {
		return store.Invalid("an approved list stays as it is: choose another name", "there is an approved list %q", name)
	}
	id, err := tx.NextID(ctx, "work_lists")
	if err != nil {
		return err
	}
	var budget any
	if w.BudgetCents > 0 {
		budget = w.BudgetCents
	}
	if _, err := tx.ExecContext(ctx, `INSERT INTO work_lists (id, uid, name, year, as_of, budget_cents, spent_cents, created_at, created_by)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`, id, tx.NewUID(), name, w.Year, asOf, budget, w.SpentCents, tx.At, tx.Actor); err != nil {
		return fmt.Errorf("approve %q: %w", name, err)
	}
	b := tx.Bulk(ctx, "work_list_items", "list_id", "joint_id", "rank", "treatment", "cost_cents", "wait_cents", "reason",
		"created_at", "created_by", "changed_at", "changed_by")
	for _, i := range w.Ranked[:w.Line] {
		if err := b.Add(id, i.jointID, i.Rank, i.Treatment, i.CostCents, int64(math.Round(100*i.WaitDollars)), i.Reason, tx.At, tx.Actor, tx.At, tx.Actor); err != nil {
			return err
		}
	}
	return b.Close()
}
