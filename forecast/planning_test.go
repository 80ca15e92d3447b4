package forecast_test

import (
	"context"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"reseal/forecast"
	"reseal/forecast/plan"
	"reseal/inventory"
	"reseal/inventory/store"
)

func planOf(t testing.TB, s *store.Store, yearlyCents int64) (*forecast.Problem, *forecast.Plan) {
	t.Helper()
	ctx := context.Background()
	tables, err := forecast.LoadTables(ctx, s.Read())
	if err != nil {
		t.Fatal(err)
	}
	m, err := forecast.NewModel(tables)
	if err != nil {
		t.Fatal(err)
	}
	asOf, _ := inventory.ParseDate("2026-03-01")
	p, err := m.NewProblem(ctx, s.Read(), forecast.PlanOptions{Options: forecast.Options{AsOf: asOf}, FirstYear: 2027, Years: 8, YearlyCents: yearlyCents})
	if err != nil {
		t.Fatal(err)
	}
	solved, err := p.Solve(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return p, solved
}

// On an invented network: the money of every year is kept and its items are
// part of it, the bound is not beaten, and less money is never better.
func TestPlanOfANetwork(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	s := invented(t, 12)
	bound := math.Inf(-1)
	for _, yearly := range []int64{100_000_00, 15_000_00, 1_00} {
		_, p := planOf(t, s, yearly)
		spent := map[int]int64{}
		for _, i := range p.Items {
			spent[i.Year] += i.CostCents
		}
		for _, y := range p.Years {
			if y.SpentCents > yearly || y.LimitCents != yearly {
				t.Errorf("%d: used %d of %d, limit %d", y.Year, y.SpentCents, yearly, y.LimitCents)
			}
			if spent[y.Year] > y.SpentCents || y.SpentCents > 0 && spent[y.Year] == 0 {
				t.Errorf("%d: the items cost %d of the %d used", y.Year, spent[y.Year], y.SpentCents)
			}
		}
		if p.BoundDollars > p.CostDollars*(1+1e-9) || p.CostDollars > p.IdleDollars*(1+1e-9) {
			t.Errorf("bound %.2f, cost %.2f, doing nothing %.2f; want them to rise", p.BoundDollars, p.CostDollars, p.IdleDollars)
		}
		// A plan for less money is one for more money too, which cannot beat its bound.
		if p.CostDollars < bound*(1-1e-9) {
			t.Errorf("with %d a year the plan costs %.2f, under the bound of more money %.2f", yearly, p.CostDollars, bound)
		}
		bound = p.BoundDollars
		if yearly == 1_00 && len(p.Items) != 0 {
			t.Errorf("a dollar a year buys %d jobs", len(p.Items))
		}
	}
}

// What was renewed since 2024 is not planned again before 2030, and no joint is
// renewed twice within five years.
func TestPlanLeavesNewSealsAlone(t *testing.T) {
	s := invented(t, 30)
	_, p := planOf(t, s, 300_000_00)
	ctx := context.Background()
	var fresh []int64
	if err := s.Read().NewRaw(`SELECT t.joint_id FROM seals s JOIN stretches t ON t.id = s.stretch_id
		WHERE s.removed_on IS NULL AND s.installed_on >= '2024-01-01'
		AND NOT EXISTS (SELECT 1 FROM inspections i WHERE i.joint_id = t.joint_id AND i.inspected_on > s.installed_on)`).Scan(ctx, &fresh); err != nil {
		t.Fatal(err)
	}
	renewed := map[int64]int{}
	for _, i := range p.Items {
		if slices.Contains(fresh, i.JointID) && i.Year < 2030 {
			t.Errorf("%s: sealed since 2024, and %s in %d", i.Tag, i.Treatment, i.Year)
		}
		if i.Treatment == "spot repair" {
			continue
		}
		if last := renewed[i.JointID]; last != 0 && i.Year-last < 5 {
			t.Errorf("%s: renewed in %d and %d", i.Tag, last, i.Year)
		}
		renewed[i.JointID] = i.Year
	}
	if len(p.Items) < 20 {
		t.Fatalf("only %d jobs to look at", len(p.Items))
	}
}

// A pin that the money cannot pay is told, not passed over.
func TestPinBeyondTheMoney(t *testing.T) {
	s := invented(t, 5)
	_, free := planOf(t, s, 200_000_00)
	if len(free.Items) == 0 {
		t.Fatal("nothing is planned")
	}
	on, _ := inventory.ParseDate("2026-03-01")
	err := s.Update(context.Background(), "planner", func(ctx context.Context, tx *store.Tx) error {
		return forecast.Decide(ctx, tx, &forecast.Decision{JointID: free.Items[0].JointID, What: forecast.Pin, Year: 2028, Reason: "closure booked"}, on)
	})
	if err != nil {
		t.Fatal(err)
	}
	_, pinned := planOf(t, s, 200_000_00)
	if !slices.ContainsFunc(pinned.Items, func(i forecast.PlanItem) bool { return i.JointID == free.Items[0].JointID && i.Year == 2028 }) {
		t.Errorf("the pinned joint is not done in 2028: %+v", pinned.Items)
	}
	if pinned.CostDollars < free.CostDollars-1e-6 {
		t.Errorf("a pin saves: %.2f against %.2f", pinned.CostDollars, free.CostDollars)
	}
	p, _ := planOf(t, s, 200_000_00)
	for i := range p.Instance.Budgets {
		p.Instance.Budgets[i].Cents = slices.Repeat([]int64{100}, p.Instance.Years)
	}
	solved, err := p.Solve(context.Background())
	if !errors.Is(err, plan.ErrInfeasible) || solved == nil || solved.Shortfall == nil {
		t.Errorf("a pin without money: got %v, want ErrInfeasible with its shortfall", err)
	}
}

// Leaving a joint alone for a year cannot cost more than the year failed: a
// repair that will no longer do is weighed against the next best thing.
func TestWaitingCostsAtMostTheFailedYear(t *testing.T) {
	s := invented(t, 60)
	ctx := context.Background()
	tables, err := forecast.LoadTables(ctx, s.Read())
	if err != nil {
		t.Fatal(err)
	}
	m, err := forecast.NewModel(tables)
	if err != nil {
		t.Fatal(err)
	}
	asOf, _ := inventory.ParseDate("2026-03-01")
	w, err := m.NewWorkList(ctx, s.Read(), forecast.WorkListOptions{Options: forecast.Options{AsOf: asOf}, Year: 2027})
	if err != nil {
		t.Fatal(err)
	}
	for _, i := range w.Ranked {
		if i.WaitDollars > i.ConsequenceAYear || i.WaitDollars <= 0 {
			t.Errorf("%s, %s: waiting costs %.0f, a failed year %.0f", i.Tag, i.Treatment, i.WaitDollars, i.ConsequenceAYear)
		}
	}
	if len(w.Ranked) < 10 {
		t.Fatalf("only %d joints to look at", len(w.Ranked))
	}
}

// A search that is interrupted gives no plan to keep.
func TestInterruptedPlan(t *testing.T) {
	p := problemOf(t, invented(t, 12), forecast.PlanOptions{YearlyCents: 30_000_00})
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if solved, err := p.Solve(ctx); solved != nil || !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, %v, want no plan and context.Canceled", solved, err)
	}
	if plans, err := p.Levels(ctx, []float64{0.5, 1}); plans != nil || !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, %v, want no plans and context.Canceled", plans, err)
	}
}

// Money that is on record for some years only limits those, and a plan says which it
// does not.
func TestPlanSaysWhichYearsHaveNoLimit(t *testing.T) {
	s := invented(t, 4)
	if _, err := importTable(t, s, "budgets", "name,year,district,amount usd,source\n2027,2027,,40000,x\n2028,2028,,40000,x\n"); err != nil {
		t.Fatal(err)
	}
	p, err := model(t, s).NewProblem(t.Context(), s.Read(), forecast.PlanOptions{Options: forecast.Options{AsOf: asOf}, FirstYear: 2027, Years: 4})
	if err != nil {
		t.Fatal(err)
	}
	solved, err := p.Solve(t.Context())
	if err != nil || !slices.Equal(solved.OpenYears, []int{2029, 2030}) || !strings.Contains(solved.OpenWords(), "2029, 2030") {
		t.Errorf("no limit in %v: %q, %v", solved.OpenYears, solved.OpenWords(), err)
	}
	if _, all := planOf(t, s, 40_000_00); all.OpenWords() != "" {
		t.Errorf("with one sum for every year: %q", all.OpenWords())
	}
}
