package forecast_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"reseal/forecast"
)

func TestLevelAgainst(t *testing.T) {
	base := forecast.Level{Share: 1, Plan: &forecast.Plan{FailedEnd: 20, CostDollars: 1_000_000}}
	for name, c := range map[string]struct {
		level forecast.Level
		want  string
	}{
		"less":      {forecast.Level{Share: 0.8, Plan: &forecast.Plan{FailedEnd: 24.2, CostDollars: 1_250_000}}, "20 % less money leaves 4 more joints failed by the end of 2032 and costs $250,000 more in the end."},
		"more":      {forecast.Level{Share: 1.1, Plan: &forecast.Plan{FailedEnd: 18.9, CostDollars: 990_000}}, "10 % more money leaves 1 fewer joint failed by the end of 2032 and saves $10,000 in the end."},
		"no limit":  {forecast.Level{NoLimit: true, Plan: &forecast.Plan{FailedEnd: 20.3, CostDollars: 1_000_000}}, "No limit of money leaves as many joints failed by the end of 2032 and costs the same in the end."},
		"many more": {forecast.Level{Share: 0, Plan: &forecast.Plan{FailedEnd: 1254, CostDollars: 2_000_000}}, "100 % less money leaves 1,234 more joints failed by the end of 2032 and costs $1,000,000 more in the end."},
	} {
		if got := c.level.Against(&base, 2032); got != c.want {
			t.Errorf("%s: got %q, want %q", name, got, c.want)
		}
	}
}

func TestSideBySide(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	s := invented(t, 40)
	m := model(t, s)
	p, err := m.NewProblem(t.Context(), s.Read(), forecast.PlanOptions{Options: forecast.Options{AsOf: asOf}, FirstYear: asOf.Year + 1, Years: 4})
	if err != nil {
		t.Fatal(err)
	}
	need, err := p.Solve(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	p.GiveYearly(need.EvenCents())
	given, err := m.NewProblem(t.Context(), s.Read(), forecast.PlanOptions{
		Options: forecast.Options{AsOf: asOf}, FirstYear: asOf.Year + 1, Years: 4, YearlyCents: need.EvenCents(),
	})
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(given.Instance, p.Instance); diff != "" {
		t.Errorf("money given later makes another problem than money given first (-first, +later):\n%s", diff)
	}
	levels, err := p.SideBySide(t.Context(), need, []float64{1, 0.5, 1, 0.8})
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for i := range levels {
		l := &levels[i]
		names = append(names, l.Name())
		if l.OverNeed < -1e-6 || i > 0 && l.CostDollars > levels[i-1].CostDollars*(1+1e-3) {
			t.Errorf("%s: costs %.0f, %.0f over the need, beside %.0f of less money", l.Name(), l.CostDollars, l.OverNeed, levels[max(i-1, 0)].CostDollars)
		}
	}
	if got := strings.Join(names, ", "); got != "50 %, 80 %, 100 %, no limit" {
		t.Errorf("got the levels %s", got)
	}
}
