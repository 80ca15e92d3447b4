package forecast_test

import (
	"math"
	"os"
	"testing"

	"reseal/forecast"
	"reseal/forecast/forecasttest"
)

// How far poor records take the answers from the truth: invented networks of
// 240 joints seen every two years, put on record in an inventory with one fault
// each, and fitted. The figures of RESEAL_LONG=1 are in testdata/degradation.
func TestPoorRecords(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	networks := 1
	if os.Getenv("RESEAL_LONG") == "1" {
		networks = 10
	}
	for _, test := range []struct {
		name   string
		fault  func(*forecasttest.History)
		errors bool    // fitted with rating errors
		most   float64 // largest mean error of a log rate, with that of chance on top
		share  float64 // site share that the fit goes by; below 0: the true one, and over 1: estimated
		worn   bool    // fitted with seals removed for wear taken to have failed
	}{
		{"all on record", func(*forecasttest.History) {}, false, 0.1, -1, false},
		{"half the installation dates unknown", func(h *forecasttest.History) { h.UnknownDate = 0.5 }, false, 0.1, -1, false},
		{"no installation date known", func(h *forecasttest.History) { h.UnknownDate = 1 }, false, 0.15, -1, false},
		{"one inspection in four not made", func(h *forecasttest.History) { h.Missed = 0.25 }, false, 0.15, -1, false},
		{"half the inspections late", func(h *forecasttest.History) { h.Late = 0.5 }, false, 0.1, -1, false},
		{"failed seals renewed, one in twenty a month, before an inspection finds them", func(h *forecasttest.History) { h.Unseen = 0.05 }, false, 0.45, -1, false},
		{"the same, with --worn-failed", func(h *forecasttest.History) { h.Unseen = 0.05 }, false, 0.15, -1, true},
		{"5 % of pieces rated one state off", func(h *forecasttest.History) { h.Misrated = 0.05 }, false, 0.25, -1, false},
		{"the same, with --rating-error", func(h *forecasttest.History) { h.Misrated = 0.05 }, true, 0.15, -1, false},
		{"new seals keep the pace of half the sites", func(h *forecasttest.History) { h.SiteShare = 0.5 }, false, 0.1, -1, false},
		{"new seals keep the pace of every site", func(h *forecasttest.History) { h.SiteShare = 1 }, false, 0.15, -1, false},
		{"of none, taken for half", func(*forecasttest.History) {}, false, 0.15, 0.5, false},
		{"of every site, taken for half", func(h *forecasttest.History) { h.SiteShare = 1 }, false, 0.3, 0.5, false},
		{"of every site, taken for none", func(h *forecasttest.History) { h.SiteShare = 1 }, false, 0.4, 0, false},
		{"of none, estimated", func(*forecasttest.History) {}, false, 0.15, 2, false},
		{"of half the sites, estimated", func(h *forecasttest.History) { h.SiteShare = 0.5 }, false, 0.15, 2, false},
		{"of every site, estimated", func(h *forecasttest.History) { h.SiteShare = 1 }, false, 0.2, 2, false},
	} {
		t.Run(test.name, func(t *testing.T) {
			h := forecasttest.Usual(60)
			h.HeavyFaster = 1
			truth := []float64{0.2, 0.15, 0.1, h.K}
			h.Rates = map[string][3]float64{"strip seal": {0.2, 0.15, 0.1}, "pourable seal": {0.2, 0.15, 0.1}}
			test.fault(&h)
			count := float64(networks)
			var off, se, covered [4]float64
			life, pieces, share := 0.0, 0.0, 0.0
			for seed := range networks {
				s := historyStore(t, h, uint64(100+seed))
				tables, err := forecast.LoadTables(t.Context(), s.Read())
				if err != nil {
					t.Fatal(err)
				}
				switch {
				case test.share < 0:
					tables.Settings.SiteShare = h.SiteShare
				case test.share <= 1:
					tables.Settings.SiteShare = test.share
				}
				f, err := forecast.NewFit(t.Context(), s.Read(), tables, forecast.FitOptions{With: []string{}, PriorSD: 3, RatingError: test.errors, WornFailed: test.worn, HoldSiteShare: test.share <= 1})
				if err != nil {
					t.Fatal(err)
				}
				if !f.Report.Converged {
					t.Error("did not converge")
				}
				for i, want := range truth {
					e := f.Report.Estimates[i]
					d := math.Log(e.Value / want)
					off[i] += d / count
					se[i] += e.SE / count
					if math.Abs(d) < 1.959964*e.SE {
						covered[i] += 1 / count
					}
				}
				years := 0.0
				for i := range 3 {
					years += 1 / f.Report.Estimates[i].Value
				}
				life += years / count
				pieces += f.Report.Pieces / count
				share += f.Settings.SiteShare / count
			}
			trueLife := 1/0.2 + 1/0.15 + 1/0.1
			t.Logf("site share %.2f | %s | %+.0f %% | %+.0f %% | %+.0f %% | %+.0f %% | %.0f / %.0f / %.0f %% | %+.0f %% | %.2f |", share, test.name,
				100*math.Expm1(off[0]), 100*math.Expm1(off[1]), 100*math.Expm1(off[2]), 100*math.Expm1(off[3]),
				100*covered[0], 100*covered[1], 100*covered[2], 100*(life/trueLife-1), pieces)
			for i := range 3 {
				if chance := 3 * se[i] / math.Sqrt(count); math.Abs(off[i]) > test.most+chance {
					t.Errorf("rate %d-%d is off by %.2f of its logarithm, of which chance may be %.2f", i+1, i+2, off[i], chance)
				}
			}
		})
	}
}
