package forecast

import (
	"context"
	"database/sql"
	"fmt"
	"strings"

	"github.com/uptrace/bun"

	"reseal/forecast/money"
	"reseal/inventory"
)

// CostReview is how actual costs compare with the estimates.
type CostReview struct {
	Rows     []money.Review // by treatment and district
	All      money.Review   // of everything
	Approved int            // of the jobs, those estimated when their list was approved; the others by today's tables
	NoCost   int            // work left out: its cost is not on record
	NoTable  int            // its treatment is not in the table
	NoLength int            // its length is not on record
}

// pricedWork is work on record with what it cost.
type pricedWork struct {
	joint     string
	bridge    int64
	on        inventory.Date
	treatment string
	district  string
	fromFt    float64
	toFt      float64 // 0: not said
	lengthFt  float64 // of the joint; 0: not on record
	actual    sql.NullInt64
	approved  sql.NullInt64 // the estimate of the list that it was approved on
}

// feet is how much of the joint was treated; 0: not on record.
func (w *pricedWork) feet() float64 {
	if w.toFt > 0 {
		return w.toFt - w.fromFt
	}
	return w.lengthFt
}

// ReviewCosts compares what work done from one day through another cost with its
// estimate: that of the approved list, or where there is none that of the tables,
// at the prices of the fiscal year of the work, for the feet that were treated;
// the joints of a bridge treated on one day share one visit. An empty district
// takes all.
func (m *Model) ReviewCosts(ctx context.Context, db bun.IDB, from, through inventory.Date, district string) (*CostReview, error) {
	work, err := pricedWorks(ctx, db, from, through, district)
	if err != nil {
		return nil, err
	}
	r := &CostReview{}
	var done []money.Done
	for len(work) > 0 { // a visit at a time
		n := 1
		for n < len(work) && work[n].bridge == work[0].bridge && work[n].on == work[0].on {
			n++
		}
		if done, err = m.reviewVisit(r, done, work[:n]); err != nil {
			return nil, err
		}
		work = work[n:]
	}
	if r.Rows, err = money.ReviewCosts(done); err != nil || len(done) == 0 {
		return r, err
	}
	for i := range done {
		done[i].Treatment, done[i].District = "", ""
	}
	all, err := money.ReviewCosts(done)
	if err != nil {
		return nil, err
	}
	r.All = all[0]
	return r, nil
}

// reviewVisit adds the work of one visit to what is compared.
func (m *Model) reviewVisit(r *CostReview, done []money.Done, visit []pricedWork) ([]money.Done, error) {
	year := m.YearOf(visit[0].on)
	var jobs []money.Job
	var of []int // the work of each job
	for i := range visit {
		w := &visit[i]
		t, err := m.tables.Treatment(w.treatment)
		feet := w.feet()
		switch {
		case err != nil:
			if !w.approved.Valid {
				r.NoTable++
			}
			continue
		case feet <= 0:
			if !w.approved.Valid {
				r.NoLength++
			}
			continue
		}
		costs, err := m.tables.costs(&t, feet, w.district, year)
		if err != nil {
			return nil, fmt.Errorf("the cost of %s in %d: %w", t.Name, year, err)
		}
		jobs, of = append(jobs, money.Job{Joint: w.joint, LengthFt: feet, Costs: costs}), append(of, i)
	}
	prices, err := price(jobs, year)
	if err != nil {
		return nil, err
	}
	estimate := make([]int64, len(visit))
	for k, i := range of {
		estimate[i] = prices[k]
	}
	for i := range visit {
		w := &visit[i]
		if w.approved.Valid {
			estimate[i] = w.approved.Int64
		}
		switch {
		case !w.actual.Valid:
			r.NoCost++
		case estimate[i] > 0:
			if w.approved.Valid {
				r.Approved++
			}
			done = append(done, money.Done{Treatment: strings.ToLower(w.treatment), District: w.district, Estimated: money.Nominal(estimate[i]), Actual: money.Nominal(w.actual.Int64)})
		}
	}
	return done, nil
}

// pricedWorks reads the work that counts, by visit.
func pricedWorks(ctx context.Context, db bun.IDB, from, through inventory.Date, district string) ([]pricedWork, error) {
	rows, err := db.QueryContext(ctx, `SELECT j.tag, b.id, w.done_on, w.treatment, coalesce(b.district, ''), w.from_ft, coalesce(w.to_ft, 0), coalesce(j.length_ft, 0),
			coalesce(i.actual_cents, w.cost_cents), i.cost_cents
		FROM work w JOIN joints j ON j.id = w.joint_id JOIN bridges b ON b.id = j.bridge_id
		LEFT JOIN work_list_items i ON i.work_id = w.id
		WHERE w.done_on BETWEEN ? AND ? AND (? = '' OR b.district = ?) AND NOT EXISTS (SELECT 1 FROM work r WHERE r.replaces_id = w.id)
		ORDER BY b.id, w.done_on, w.id`, from, through, district, district)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []pricedWork
	for rows.Next() {
		var w pricedWork
		if err := rows.Scan(&w.joint, &w.bridge, &w.on, &w.treatment, &w.district, &w.fromFt, &w.toFt, &w.lengthFt, &w.actual, &w.approved); err != nil {
			return nil, err
		}
		out = append(out, w)
	}
	return out, rows.Err()
}
