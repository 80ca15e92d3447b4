package forecast_test

import (
	"context"
	"math"
	"testing"

	"reseal/forecast"
)

// The band holds the chance of which seals fail when, and how far the budgets of
// two life tables lie apart, one longer and one shorter by the setting; and the
// worlds leave the mean alone.
func TestBandHoldsTheErrorOfTheRates(t *testing.T) {
	ctx := context.Background()
	s := invented(t, 12)
	budget := func(lifeError, longer float64) *forecast.Budget {
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
		b, err := m.NewBudget(ctx, s.Read(), forecast.Options{AsOf: asOf}, 6, forecast.ByDistrict)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	const e, z = 0.3, 1.2815515655446004
	with, chance := budget(e, 1), budget(0, 1)
	longer, shorter := budget(0, math.Exp(e)), budget(0, math.Exp(-e))
	for y := range 6 {
		w, c := with.Network[y], chance.Network[y]
		if w.Nominal != c.Nominal {
			t.Errorf("%d: the mean moved from %v to %v", w.Year, c.Nominal, w.Nominal)
		}
		half := float64(c.High-c.Nominal) / z
		apart := float64(longer.Network[y].Nominal-shorter.Network[y].Nominal) / 2
		if got, want := float64(w.High-w.Nominal)/z, math.Hypot(half, apart); math.Abs(got-want) > 3 {
			t.Errorf("%d: half the band is %.0f cents, want %.0f of %.0f by chance and %.0f by the rates", w.Year, got, want, half, apart)
		}
		if apart == 0 {
			t.Errorf("%d: the rates move nothing", w.Year)
		}
	}
}
