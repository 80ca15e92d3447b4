package forecast_test

import (
	"context"
	"math"
	"testing"

	"reseal/forecast"
	"reseal/inventory"
)

// The plan's money and its failed joints at the end are the same by the solver and
// followed joint by joint; groups add up to the network; money helps.
func TestStandingsAgreeWithThePlan(t *testing.T) {
	ctx := context.Background()
	bridges, groupings := 12, []forecast.Grouping{forecast.ByDistrict, forecast.ByRoute, forecast.ByKind}
	if testing.Short() {
		bridges, groupings = 3, groupings[:1]
	}
	s := invented(t, bridges)
	p, solved := planOf(t, s, 15_000_00)
	m := model(t, s)
	asOf, _ := inventory.ParseDate("2026-03-01")
	for _, by := range groupings {
		out, err := m.NewStandings(ctx, s.Read(), forecast.Options{AsOf: asOf}, 9, by, p, solved)
		if err != nil {
			t.Fatal(err)
		}
		network := forecast.NetworkYears(out.Plans[0])
		idle := forecast.NetworkYears(out.Idle)
		spent, feet, inState := 0.0, 0.0, [4]float64{}
		for _, y := range network {
			spent += y.Spent.Mean
		}
		if got, want := spent, float64(solved.SpentCents()); got != want {
			t.Errorf("%s: spent %.0f, want the plan's %.0f cents", by, got, want)
		}
		end := network[len(network)-1]
		if math.Abs(end.Failed.Mean-solved.FailedEnd) > 0.02*solved.FailedEnd {
			t.Errorf("%s: %.3f failed at the end, the plan says %.3f", by, end.Failed.Mean, solved.FailedEnd)
		}
		if end.Failed.Mean >= idle[8].Failed.Mean || end.Backlog.Mean >= idle[8].Backlog.Mean || end.Severe().Mean >= idle[8].Severe().Mean {
			t.Errorf("%s: the plan helps nothing: %+v, idle %+v", by, end, idle[8])
		}
		sum := forecast.Standing{}
		for _, g := range out.Plans[0] {
			if !g.Network && g.Year == end.Year {
				sum.Failed.Mean += g.Failed.Mean
				sum.Backlog.Mean += g.Backlog.Mean
				sum.BacklogFeet.Mean += g.BacklogFeet.Mean
				feet += g.LengthFt
				for k := range inState {
					inState[k] += g.LengthFt * g.States[k].Mean
				}
			}
		}
		tolerance := 1e-6 * end.Backlog.Mean
		if by == forecast.ByKind { // the dearest visit of a bridge is not that of each kind
			tolerance = 0.1 * end.Backlog.Mean
		}
		if math.Abs(sum.Failed.Mean-end.Failed.Mean) > 1e-6 || math.Abs(sum.BacklogFeet.Mean-end.BacklogFeet.Mean) > 1e-6 || math.Abs(sum.Backlog.Mean-end.Backlog.Mean) > tolerance {
			t.Errorf("%s: groups %+v, network %+v", by, sum, end)
		}
		if math.Abs(end.LengthFt-feet) > 1e-6 || feet == 0 {
			t.Errorf("%s: %.1f ft in groups, %.1f in the network", by, feet, end.LengthFt)
		}
		for k, ft := range inState {
			if b := end.States[k]; math.Abs(ft-feet*b.Mean) > 1e-6 || !(b.Low < b.Mean && b.Mean < b.High) {
				t.Errorf("%s: %.1f ft of CS%d in groups, %+v of the network's length", by, ft, k+1, b)
			}
		}
	}
}

// What failed in the last years is no backlog where the setting gives it time.
func TestBacklogAfterYears(t *testing.T) {
	ctx := context.Background()
	s := invented(t, 12)
	tables, err := forecast.LoadTables(ctx, s.Read())
	if err != nil {
		t.Fatal(err)
	}
	asOf, _ := inventory.ParseDate("2026-03-01")
	var before []forecast.Standing
	for _, years := range []float64{0, 2} {
		tables.Settings.BacklogAfterYears = years
		m, err := forecast.NewModel(tables)
		if err != nil {
			t.Fatal(err)
		}
		out, err := m.NewStandings(ctx, s.Read(), forecast.Options{AsOf: asOf}, 6, forecast.ByDistrict, nil)
		if err != nil {
			t.Fatal(err)
		}
		idle := forecast.NetworkYears(out.Idle)
		if years == 0 {
			before = idle
			continue
		}
		for y := 2; y < 6; y++ { // failed two years ago, by a network where nothing is done
			if got, want := idle[y].BacklogFeet.Mean, before[y-2].BacklogFeet.Mean; math.Abs(got-want) > 0.35*want {
				t.Errorf("%d: %.1f ft, want about the %.1f of two years before", idle[y].Year, got, want)
			}
			if idle[y].BacklogFeet.Mean >= before[y].BacklogFeet.Mean {
				t.Errorf("%d: a time of grace leaves %.1f of %.1f ft", idle[y].Year, idle[y].BacklogFeet.Mean, before[y].BacklogFeet.Mean)
			}
		}
	}
}
