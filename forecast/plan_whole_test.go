package forecast

import (
	"context"
	"testing"
)

// A quantity for a whole bridge takes part in a plan, and is told from the jobs.
func TestPlanTellsWholeBridges(t *testing.T) {
	m := testModel(t, testTables())
	joints := twoJoints(t, 4)
	joints[1].Quantity = true
	if err := (&projector{Model: m}).prospects(joints, &prospecting{firstYear: 2027, years: 5}); err != nil {
		t.Fatal(err)
	}
	o := PlanOptions{FirstYear: 2027, Years: 5}
	p := &Problem{FirstYear: 2027, PriceYear: 2026, NoForecast: map[Reason]int{}}
	p.Instance.Years, p.rises = o.Years, []float64{1, 1, 1, 1, 1}
	p.limits = newPlanLimits(&planTerms{}, m.tables, &p.Instance, o)
	if err := m.addToProblem(p, joints, o); err != nil {
		t.Fatal(err)
	}
	solved, err := p.Solve(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	// 100 x 60 + 1000 for the second, prices as they are
	if jobs, cost := solved.WholeBridges(); len(solved.Items) != 2 || jobs != 1 || cost != 7000_00 {
		t.Errorf("%d jobs, of which %d for %d cents are whole bridges; want 2, 1, 700000", len(solved.Items), jobs, cost)
	}
}
