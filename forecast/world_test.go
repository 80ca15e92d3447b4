package forecast_test

import (
	"context"
	"math"
	"testing"

	"reseal/forecast"
)

// The band holds the chance of which seals fail when, and how far the answers of
// two life tables lie apart, one longer and one shorter by the setting; and the
// worlds leave the mean alone.
func TestBandHoldsTheErrorOfTheRates(t *testing.T) {
	ctx := context.Background()
	s := invented(t, 12)
	with := func(lifeError, longer float64) *forecast.Model {
		t.Helper()
		tables, err := forecast.LoadTables(ctx, s.Read())
		if err != nil {
			t.Fatal(err)
		}
		tables.Settings.LifeError, tables.Settings.CostError = lifeError, 0
		for i := range tables.Lives {
			l := &tables.Lives[i]
			l.CS1Years, l.CS2Years, l.CS3Years = l.CS1Years*longer, l.CS2Years*longer, l.CS3Years*longer
		}
		m, err := forecast.NewModel(tables)
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
	o := forecast.Options{AsOf: asOf}
	needs := func(m *forecast.Model) (out [6]forecast.Band) {
		b, err := m.NewBudget(ctx, s.Read(), o, len(out), forecast.ByDistrict)
		if err != nil {
			t.Fatal(err)
		}
		for y, row := range b.Network[:len(out)] {
			out[y] = forecast.Band{Mean: float64(row.Nominal), Low: float64(row.Low), High: float64(row.High)}
		}
		return out
	}
	severe := func(m *forecast.Model) (out [6]forecast.Band) {
		st, err := m.NewStandings(ctx, s.Read(), o, len(out), forecast.ByDistrict, nil)
		if err != nil {
			t.Fatal(err)
		}
		for y, row := range forecast.NetworkYears(st.Idle) {
			out[y] = row.Severe()
		}
		return out
	}
	const e, z = 0.3, 1.2815515655446004
	for _, figure := range []struct {
		name   string
		of     func(*forecast.Model) [6]forecast.Band
		within float64
	}{{"need, cents", needs, 3}, {"share in CS4", severe, 1e-9}} {
		all, chance := figure.of(with(e, 1)), figure.of(with(0, 1))
		longer, shorter := figure.of(with(0, math.Exp(e))), figure.of(with(0, math.Exp(-e)))
		for y := range all {
			w, c := all[y], chance[y]
			if w.Mean != c.Mean {
				t.Errorf("%s of year %d: the mean moved from %v to %v", figure.name, y, c.Mean, w.Mean)
			}
			half := (c.High - c.Mean) / z
			apart := (longer[y].Mean - shorter[y].Mean) / 2
			if got, want := (w.High-w.Mean)/z, math.Hypot(half, apart); math.Abs(got-want) > figure.within {
				t.Errorf("%s of year %d: half the band is %v, want %v of %v by chance and %v by the rates", figure.name, y, got, want, half, apart)
			}
			if apart == 0 || half <= 0 {
				t.Errorf("%s of year %d: moved %v by the rates and %v by chance", figure.name, y, apart, half)
			}
		}
	}
}
