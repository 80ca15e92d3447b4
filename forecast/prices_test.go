package forecast_test

import (
	"math"
	"os"
	"strings"
	"testing"

	"reseal/forecast"
	"reseal/inventory"
)

// An estimate shows every factor on a line of its own, and the strategies are priced
// by the same sum. The index is FHWA's National Highway Construction Cost Index as
// quoted by the Eno Center for Transportation; the rates are of US OMB Circular A-94,
// Appendix C, January 2000; the other figures are invented.
func TestEstimatesByTheAgencysTables(t *testing.T) {
	ctx, s := t.Context(), invented(t, 2)
	nhcci, err := os.ReadFile("../testdata/money/nhcci.csv")
	if err != nil {
		t.Fatal(err)
	}
	index := "period,level,source\n" + strings.TrimPrefix(strings.ReplaceAll(strings.TrimSpace(string(nhcci)), "\n", ",NHCCI\n"), "quarter,level,NHCCI\n") + ",NHCCI\n"
	var joint struct {
		ID       int64
		LengthFt float64
		District string
	}
	if err := s.Read().NewRaw(`SELECT j.id, j.length_ft, b.district FROM joints j JOIN bridges b ON b.id = j.bridge_id JOIN stretches t ON t.joint_id = j.id JOIN seals s ON s.stretch_id = t.id
		WHERE j.length_ft > 0 AND s.kind = 'pourable seal' AND s.removed_on IS NULL LIMIT 1`).Scan(ctx, &joint); err != nil {
		t.Fatal(err)
	}
	for name, file := range map[string]string{
		"treatments":     "name,cost_per_ft_usd,fixed_usd,visit_usd,traffic_usd,price_year,source\nreseal,100,1000,2000,3000,2021,bids of 2021\n",
		"cost_factors":   "district,factor,source\n" + joint.District + ",1.25,bids\nelsewhere,3,bids\n",
		"cost_index":     index,
		"discount_rates": "years,rate,source\n30,0.042,A-94\n10,0.04,A-94\n",
	} {
		if _, err := importTable(t, s, name, file); err != nil {
			t.Fatal(name, err)
		}
	}
	for name, value := range map[string]string{"contingency_share": "0.1", "horizon_years": "20"} {
		if err := set(s, name, value); err != nil {
			t.Fatal(err)
		}
	}
	tables, err := forecast.LoadTables(ctx, s.Read())
	if err != nil {
		t.Fatal(err)
	}
	if got := tables.Settings.RealDiscountRate; math.Abs(got-0.041) > 1e-12 {
		t.Errorf("a real discount rate of %v, want 0.041 between 10 and 30 years", got)
	}
	if words := tables.PriceWords(); !strings.Contains(words, "cost_index to 2024") || !strings.Contains(words, "4.1 %") || !strings.Contains(words, "discount_rates, for 20 years") {
		t.Errorf("words: %s", words)
	}
	m := model(t, s)
	cost, err := m.CostOf(ctx, s.Read(), joint.ID, forecast.Options{AsOf: asOf}, 2027)
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range cost.Works {
		if w.Estimate.Treatment != "reseal" {
			continue
		}
		// Means of the quarters of 2021 and of the one of 2024, and 3 % a year from there.
		rise := 3.1908 / ((1.9112 + 2.0363 + 2.1075 + 2.1821) / 4) * math.Pow(1.03, 3)
		want := (100*joint.LengthFt + 1000 + 2000 + 3000) * 1.25 * 1.1 * rise
		if got := float64(w.Estimate.Nominal) / 100; math.Abs(got-want) > 0.5 { // unit costs are whole cents
			t.Errorf("reseal costs %.2f, want %.2f", got, want)
		}
		var labels []string
		for _, l := range w.Estimate.Lines {
			labels = append(labels, l.Label)
		}
		if got := strings.Join(labels, "; "); got != "reseal; fixed part; mobilisation; traffic control; regional factor; contingency; prices 2026 to 2027" {
			t.Errorf("lines: %s", got)
		}
		return
	}
	t.Error("the joint cannot be resealed")
}

func TestPriceIndexRefuses(t *testing.T) {
	s := invented(t, 1)
	_, err := importTable(t, s, "cost_index", "period,level,source\n2024Q1,3.2,x\nspring 2024,3.3,x\n2024Q5,3.3,x\n2025,-1,x\n")
	for _, want := range []string{"line 3, column period", "write 2026 or 2026Q1", "line 4, column period", "line 5, column level"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %q", err, want)
		}
	}
	// An index that begins after a price year says which year it lacks.
	if _, err := importTable(t, s, "cost_index", "period,level,source\n2030,3.2,x\n"); err != nil {
		t.Fatal(err)
	}
	var id int64
	if err := s.Read().NewRaw("SELECT id FROM joints WHERE length_ft > 0 LIMIT 1").Scan(t.Context(), &id); err != nil {
		t.Fatal(err)
	}
	_, err = model(t, s).CostOf(t.Context(), s.Read(), id, forecast.Options{AsOf: inventory.Date{Year: 2026, Month: 3, Day: 1}}, 2027)
	if err == nil || !strings.Contains(err.Error(), "no value for fiscal year 2026") {
		t.Errorf("got %v, want the year without a level", err)
	}
}
