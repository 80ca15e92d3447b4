package forecast_test

import (
	"math"
	"testing"

	"reseal/forecast"
	"reseal/forecast/forecasttest"
	"reseal/inventory/store"
)

// Where a fit knows the rates well a forecast leaves out the draws of its
// parameters: it must be what many draws say all the same.
func TestDrawsOnlyWhereTheyMatter(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	s := historyStore(t, forecasttest.Usual(60), 3)
	fit, tables := fitOf(t, s, forecast.FitOptions{With: []string{"seal", "deicing"}})
	tables.Fit = fit
	usual, err := forecast.NewModel(tables)
	if err != nil {
		t.Fatal(err)
	}
	many, err := forecast.NewModelOfDraws(tables, 200)
	if err != nil {
		t.Fatal(err)
	}
	got, want := forecastsOf(t, usual, s), forecastsOf(t, many, s)
	sure, unsure, worst := 0, 0, 0.0
	for i := range got {
		if !got[i].SurelyKnown() {
			unsure++
			continue
		}
		sure++
		for y := range got[i].Failed {
			worst = max(worst, math.Abs(got[i].Failed[y]-want[i].Failed[y]))
		}
	}
	t.Logf("%d joints without draws, %d with; probabilities differ by %.4f at most", sure, unsure, worst)
	if sure == 0 || unsure == 0 || len(got) != len(want) {
		t.Fatalf("%d joints without draws, %d with, of %d and %d", sure, unsure, len(got), len(want))
	}
	if worst > 0.003 || worst == 0 {
		t.Errorf("probabilities differ by %v", worst)
	}
}

func forecastsOf(t *testing.T, m *forecast.Model, s *store.Store) (out []*forecast.Forecast) {
	t.Helper()
	err := m.Each(t.Context(), s.Read(), forecast.Options{AsOf: asOf}, func(j forecast.Projected) error {
		if j.Forecast != nil {
			out = append(out, j.Forecast)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}
