package forecast_test

import (
	"math"
	"path/filepath"
	"testing"
	"time"

	"reseal/forecast"
	"reseal/forecast/forecasttest"
	"reseal/inventory/store"
)

func historyStore(t testing.TB, h forecasttest.History, seed uint64) *store.Store {
	t.Helper()
	now := func() time.Time { return time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC) }
	s, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "network.gpkg"), store.Options{Create: true, Now: now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	if err := h.FillHistory(t.Context(), s, seed); err != nil {
		t.Fatal(err)
	}
	return s
}

func fitOf(t testing.TB, s *store.Store, o forecast.FitOptions) (*forecast.Fit, *forecast.Tables) {
	t.Helper()
	tables, err := forecast.LoadTables(t.Context(), s.Read())
	if err != nil {
		t.Fatal(err)
	}
	f, err := forecast.NewFit(t.Context(), s.Read(), tables, o)
	if err != nil {
		t.Fatal(err)
	}
	return f, tables
}

// The truth is in the invented history: rates, the effect of deicing, pieces
// and k are to be found again, within three standard errors.
func TestFitFindsTheTruth(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	f, _ := fitOf(t, historyStore(t, forecasttest.Usual(100), 7), forecast.FitOptions{With: []string{"seal", "deicing"}, PriorSD: 3, EffectSD: 3})
	if !f.Report.Converged {
		t.Error("did not converge")
	}
	agrees(t, f, 3)
	if p := f.Report.Pieces; p < 2.5 || p > 3.6 {
		t.Errorf("got %.3g pieces, want 3", p)
	}
}

// agrees compares the estimates with what made the usual history.
func agrees(t *testing.T, f *forecast.Fit, within float64) {
	t.Helper()
	truth := map[string]float64{"deicing heavy": 1.4, "k": 4}
	for i, move := range []string{"1-2", "2-3", "3-4"} {
		strip, pourable := []float64{0.2, 0.15, 0.1}[i], []float64{0.4, 0.3, 0.2}[i]
		if f.Settings.Factors[0].Reference == "strip seal" {
			truth["rate "+move], truth["seal pourable seal "+move] = strip, 2
		} else {
			truth["rate "+move], truth["seal strip seal "+move] = pourable, 0.5
		}
	}
	found := 0
	for _, e := range f.Report.Estimates {
		want, ok := truth[e.Name]
		if !ok {
			continue
		}
		found++
		off := math.Log(e.Value/want) / e.SE
		t.Logf("%s: %.4g (%.4g to %.4g), want %.4g: %.1f standard errors off", e.Name, e.Value, e.Lower, e.Upper, want, off)
		if math.Abs(off) > within {
			t.Errorf("%s: %.1f standard errors off", e.Name, off)
		}
	}
	if found != len(truth) {
		t.Errorf("found %d of %d parameters: %+v", found, len(truth), f.Report.Estimates)
	}
}

// One piece in twenty rated one state off, by an agency that acts on what it
// sees: taken for what it is, the rates come out right. (Beside them the fit
// that leaves improvement out, for the eye.)
func TestFitWithRatingErrorsFindsTheTruth(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	h := forecasttest.Usual(100)
	h.Misrated = 0.05
	s := historyStore(t, h, 7)
	o := forecast.FitOptions{With: []string{"seal", "deicing"}, PriorSD: 3, EffectSD: 3}
	plain, _ := fitOf(t, s, o)
	for _, e := range plain.Report.Estimates {
		t.Logf("improvement left out: %s %.4g (%.4g to %.4g)", e.Name, e.Value, e.Lower, e.Upper)
	}
	o.RatingError = true
	f, _ := fitOf(t, s, o)
	if !f.Report.Converged {
		t.Error("did not converge")
	}
	agrees(t, f, 3)
	if f.Improved == 0 || f.LeftOut[forecast.NoWorkFound] >= plain.LeftOut[forecast.NoWorkFound] {
		t.Errorf("%d intervals taken as errors; left out %v, and %v without", f.Improved, f.LeftOut, plain.LeftOut)
	}
	if e := f.Report.Estimates[len(f.Theta)-1]; e.Name != "rating error" || e.Value < 0.02 || e.Value > 0.06 {
		t.Errorf("got %+v, want an error of some 4 in 100", e)
	}
}
