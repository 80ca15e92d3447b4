package forecast

import (
	"context"
	"database/sql"
	"errors"

	"github.com/uptrace/bun"

	"reseal/inventory/store"
)

// Keep puts the plan on record under a name, in place of the one that had it.
func (p *Plan) Keep(ctx context.Context, tx *store.Tx, name string) error {
	if _, err := tx.ExecContext(ctx, "DELETE FROM plans WHERE name = ?", name); err != nil {
		return err
	}
	id, err := tx.NextID(ctx, "plans")
	if err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, `INSERT INTO plans (id, uid, name, as_of, first_year, years, cost, bound, idle_cost, created_at, created_by)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`, id, tx.NewUID(), name, p.AsOf, p.FirstYear, p.horizon(), p.CostDollars, p.BoundDollars, p.IdleDollars, tx.At, tx.Actor); err != nil {
		return err
	}
	items := tx.Bulk(ctx, "plan_items", "plan_id", "joint_id", "year", "treatment", "cost_cents", "fund", "done_by", "paid_year")
	for _, i := range p.Items {
		if err := items.Add(id, i.JointID, i.Year, i.Treatment, i.CostCents, i.Fund, i.DoneBy, i.PaidYear); err != nil {
			return err
		}
	}
	if err := items.Close(); err != nil {
		return err
	}
	years := tx.Bulk(ctx, "plan_years", "plan_id", "budget", "year", "limit_cents", "spent_cents", "price", "part")
	for _, y := range p.Years {
		var limit any
		if y.LimitCents >= 0 {
			limit = y.LimitCents
		}
		if err := years.Add(id, y.Budget, y.Year, limit, y.SpentCents, y.Price, y.Part); err != nil {
			return err
		}
	}
	return years.Close()
}

// KeptBefore tells when and by whom the plan of a name was kept; empty: there is none.
func KeptBefore(ctx context.Context, db bun.IDB, name string) (words string, err error) {
	err = db.NewRaw("SELECT substr(created_at, 1, 10) || ' by ' || created_by FROM plans WHERE name = ?", name).Scan(ctx, &words)
	if errors.Is(err, sql.ErrNoRows) {
		return "", nil
	}
	return words, err
}

func (p *Plan) horizon() int {
	n := 0
	for _, y := range p.Years {
		if y.Budget == NetworkBudget {
			n++
		}
	}
	return n
}

// KeptPlan reads a plan by its name: what is done, the money and the cost.
func KeptPlan(ctx context.Context, db bun.IDB, name string) (*Plan, error) {
	p := &Plan{}
	var id int64
	err := db.NewRaw("SELECT id, as_of, first_year, cost, bound, idle_cost FROM plans WHERE name = ?", name).
		Scan(ctx, &id, &p.AsOf, &p.FirstYear, &p.CostDollars, &p.BoundDollars, &p.IdleDollars)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, store.NotFound("keep one with: reseal plan --name NAME", "there is no plan %q", name)
	}
	if err != nil {
		return nil, err
	}
	var rows []struct {
		PlanJoint `bun:",extend"`
		JobKind   `bun:",extend"`
		Year      int
		PaidYear  int
		CostCents int64
	}
	if err := db.NewRaw(`SELECT i.joint_id, j.tag, b.structure_number, coalesce(b.route, '') AS route, coalesce(b.district, '') AS district, i.year, i.treatment, i.cost_cents, i.fund, i.done_by, coalesce(i.paid_year, i.year) AS paid_year
		FROM plan_items i JOIN joints j ON j.id = i.joint_id JOIN bridges b ON b.id = j.bridge_id
		WHERE i.plan_id = ? ORDER BY i.year, j.tag`, id).Scan(ctx, &rows); err != nil {
		return nil, err
	}
	kinds := jobKinds{}
	for i := range rows {
		r := &rows[i]
		p.Items = append(p.Items, PlanItem{&r.PlanJoint, kinds.of(r.JobKind), r.Year, r.PaidYear, 0, r.CostCents})
	}
	return p, db.NewRaw(`SELECT budget, year, coalesce(limit_cents, -1) AS limit_cents, spent_cents, price, part FROM plan_years
		WHERE plan_id = ? ORDER BY id`, id).Scan(ctx, &p.Years)
}
