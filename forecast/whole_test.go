package forecast

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Two seals that have failed, of 40 ft and of 60 ft, the second a quantity for a
// whole bridge: the need of the first year is 100 x 40 + 1000 and 100 x 60 + 1000
// with one visit of 5000, of which 60 ft and 7000 are the quantity. In the second
// year its next seal fails with m, at prices 3 % higher.
func TestBudgetTellsWholeBridges(t *testing.T) {
	m := testModel(t, testTables())
	joints := twoJoints(t, 4)
	joints[1].Quantity = true
	for i := range joints {
		joints[i].Forecast, _ = m.Project(joints[i].Record, day(t, "2026-01-01"), 2027)
	}
	b := &Budget{FirstYear: 2026, Years: 2, NoForecast: map[Reason]int{}}
	run := newRenewalRun(m, 2)
	jobs, err := run.jobs(b, joints, ByDistrict)
	if err != nil {
		t.Fatal(err)
	}
	run.add(jobs)
	if err := m.total(b, run); err != nil {
		t.Fatal(err)
	}
	first, second, all := b.Network[0], b.Network[1], b.Network[2]
	if first.Nominal != 17_000_00 || first.Whole != (WholeBridges{60, 7_000_00}) {
		t.Errorf("%d: %d cents, of which %+v; want 1700000, of which 60 ft and 700000", first.Year, first.Nominal, first.Whole)
	}
	chance := run.renewals(joints[1].Forecast)[1]
	if chance <= 0 || math.Abs(second.Whole.Feet-60*chance) > 1e-9 || math.Abs(float64(second.Whole.Cost)-7_000_00*1.03*chance) > 0.5 {
		t.Errorf("%d: %+v, want %.4f of 60 ft and of 721000 cents", second.Year, second.Whole, chance)
	}
	if all.Whole != (WholeBridges{60 + second.Whole.Feet, 7_000_00 + second.Whole.Cost}) || b.Groups[2].Whole != all.Whole {
		t.Errorf("all years: %+v and %+v", all.Whole, b.Groups[2].Whole)
	}

	// A plan that renews both in one visit, 2500 of it with each.
	reseal := &m.tables.Treatments[0]
	st := newStandingRun(m, ByDistrict, &Standings{FirstYear: 2026, Years: 2}, [][]Charge{{
		{JointID: 1, Year: 2027, Cents: 7_500_00, ownCents: 5_000_00, treatment: reseal},
		{JointID: 2, Year: 2027, Cents: 9_500_00, ownCents: 7_000_00, treatment: reseal},
	}})
	if err := st.addBridge(joints); err != nil {
		t.Fatal(err)
	}
	planned, err := st.rows(&st.courses[0])
	if err != nil {
		t.Fatal(err)
	}
	whole := WholeBridges{60, 7_000_00}
	if diff := cmp.Diff([]WholeRow{
		{Network: true, Year: 2026, Need: whole},
		{Network: true, Year: 2027, Need: second.Whole, Planned: whole},
		{Network: true, Need: all.Whole, Planned: whole},
	}, WholeRows(b.Network, planned)); diff != "" {
		t.Errorf("want (-), got (+):\n%s", diff)
	}
	for i := range b.Network {
		b.Network[i].Whole = WholeBridges{}
	}
	if got := WholeRows(b.Network, nil); got != nil {
		t.Errorf("where there are none: %+v", got)
	}
}
