package forecast_test

import (
	"context"
	"math"
	"testing"

	"reseal/forecast"
	"reseal/inventory"
	"reseal/inventory/store"
)

// The network's condition is that of its joints added up by feet. Renewing all
// of them in one year leaves the years before alone, and has each joint from
// then on as a new seal.
func TestNetworkAddsUpItsJoints(t *testing.T) {
	ctx, s := t.Context(), invented(t, 30)
	sql(t, s, "UPDATE projects SET certainty = 'possible'") // committed ones renew joints before the work
	m := model(t, s)
	o := forecast.Options{AsOf: inventory.Date{Year: 2026, Month: 3, Day: 1}, ThroughYear: 2036}
	idle, err := m.NewNetwork(ctx, s.Read(), o)
	if err != nil {
		t.Fatal(err)
	}
	var shares [4]float64
	feet, failed := 0.0, 0.0
	o.Planned = map[int64][]forecast.PlannedWork{}
	err = m.Each(ctx, s.Read(), o, func(j forecast.Projected) error {
		if j.Forecast == nil {
			return nil
		}
		feet += j.LengthFt
		failed += j.Failed[5]
		for k, v := range j.Shares[5] {
			shares[k] += v * j.LengthFt
		}
		o.Planned[j.ID] = []forecast.PlannedWork{{Year: 2030, Treatment: "reseal"}}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	y := idle.Years[5]
	if y.Year != 2031 || math.Abs(y.Failed-failed) > 1e-9 || idle.Feet != feet {
		t.Errorf("in %d %v failed of %v ft, want %v of %v", y.Year, y.Failed, idle.Feet, failed, feet)
	}
	for k, v := range shares {
		if math.Abs(y.Shares[k]-v/feet) > 1e-9 || !(y.Low[k] <= y.Shares[k] && y.Shares[k] <= y.High[k]) {
			t.Errorf("CS%d: %v (%v to %v), want %v", k+1, y.Shares[k], y.Low[k], y.High[k], v/feet)
		}
	}
	planned, err := m.NewNetwork(ctx, s.Read(), o)
	if err != nil {
		t.Fatal(err)
	}
	if planned.Planned != len(o.Planned) {
		t.Errorf("%d joints planned, want %d", planned.Planned, len(o.Planned))
	}
	for i, was := range idle.Years {
		switch now := planned.Years[i]; {
		case was.Year < 2030 && now != was:
			t.Errorf("%d, before the work: %+v, want %+v", was.Year, now, was)
		case was.Year == 2030 && (now.Shares[0] < 0.8 || now.Failed > 0.05*was.Failed):
			t.Errorf("half a year after the work: %+v", now)
		case was.Year > 2030 && now.Failed >= was.Failed:
			t.Errorf("%d: %v failed with the work, %v without", was.Year, now.Failed, was.Failed)
		}
	}
}

// The bands of a joint are ranges of shares, and its means lie no lower.
func TestBandsOfAJoint(t *testing.T) {
	s := invented(t, 5)
	m := model(t, s)
	joints := 0
	err := m.Each(context.Background(), s.Read(), forecast.Options{AsOf: inventory.Date{Year: 2026, Month: 3, Day: 1}, ThroughYear: 2030}, func(j forecast.Projected) error {
		if j.Forecast == nil {
			return nil
		}
		joints++
		bands, err := m.Bands(j.Record, j.Forecast)
		if err != nil {
			return err
		}
		for y, b := range bands {
			for k := range 4 {
				if low, high := b.Low[k], b.High[k]; !(0 <= low && low <= high && high <= 1) || j.Shares[y][k] < low-0.05 {
					t.Errorf("%s in %d: CS%d %v, band %v to %v", j.Tag, j.Years[y], k+1, j.Shares[y][k], low, high)
				}
			}
		}
		return nil
	})
	if err != nil || joints == 0 {
		t.Fatal(err, joints)
	}
}

func TestPlannedInRefuses(t *testing.T) {
	s := invented(t, 1)
	if _, err := forecast.PlannedIn(t.Context(), s.Read(), "none"); err == nil || store.Hint(err) == "" {
		t.Errorf("got %v, want a hint", err)
	}
}

// The forecast with a plan and the budget's years under it follow joints by the
// same rules through repairs and renewals: they say the same of the network.
func TestForecastAndBudgetFollowAPlanAlike(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	ctx, s := t.Context(), invented(t, 12)
	p, solved := planOf(t, s, 24_000_00)
	if err := s.Update(ctx, "test", func(ctx context.Context, tx *store.Tx) error { return solved.Keep(ctx, tx, "draft") }); err != nil {
		t.Fatal(err)
	}
	m := model(t, s)
	o := forecast.Options{AsOf: inventory.Date{Year: 2026, Month: 3, Day: 1}, ThroughYear: 2034}
	budget, err := m.NewStandings(ctx, s.Read(), o, 9, forecast.ByDistrict, p, solved)
	if err != nil {
		t.Fatal(err)
	}
	if o.Planned, err = forecast.PlannedIn(ctx, s.Read(), "draft"); err != nil {
		t.Fatal(err)
	}
	network, err := m.NewNetwork(ctx, s.Read(), o)
	if err != nil {
		t.Fatal(err)
	}
	repairs := 0
	for _, i := range solved.Items {
		if i.Treatment == "spot repair" {
			repairs++
		}
	}
	if repairs == 0 || repairs == len(solved.Items) {
		t.Fatalf("%d of %d jobs are repairs: nothing to compare", repairs, len(solved.Items))
	}
	for i, want := range forecast.NetworkYears(budget.Plans[0]) {
		got := network.Years[i]
		if got.Year != want.Year || math.Abs(got.Failed-want.Failed.Mean) > 1e-9*want.Failed.Mean {
			t.Errorf("%d: %v failed, the budget says %v in %d", got.Year, got.Failed, want.Failed.Mean, want.Year)
		}
		for k, share := range want.States {
			if math.Abs(got.Shares[k]-share.Mean) > 1e-9 {
				t.Errorf("%d: %v of the feet in CS%d, the budget says %v", got.Year, got.Shares[k], k+1, share.Mean)
			}
			// The forecast by the life table holds chance alone.
			if chance := got.High[k] - got.Low[k]; chance <= 0 || share.High-share.Low < chance {
				t.Errorf("%d: a band of %v for CS%d by chance, of %v in the budget", got.Year, chance, k+1, share.High-share.Low)
			}
		}
	}
}
