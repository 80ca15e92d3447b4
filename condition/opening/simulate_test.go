package opening_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"reseal/condition/opening"
)

// truth is a simulated joint: what it really does.
type truth struct{ a, b, c, meanF, meanYear float64 }

func (w truth) gapIn(tempF, year float64) float64 {
	return w.a + w.b*(tempF-w.meanF) + w.c*(year-w.meanYear)
}

// visits draws n readings' dates, two years apart and some months either way,
// and deck temperatures (mean 62 °F, sd 17 °F: inspections by day, mostly
// outside winter; invented).
func visits(rng *rand.Rand, n int) []opening.Reading {
	readings := make([]opening.Reading, n)
	for i := range readings {
		readings[i].Year = 2026 - 2*float64(n-i) + 0.4*rng.NormFloat64()
		readings[i].DeckTempF = 62 + 17*rng.NormFloat64()
		readings[i].AirTemp = rng.IntN(4) == 0
	}
	return readings
}

// measure fills in the gaps: the truth, plus noise of the model.
func (w *truth) measure(rng *rand.Rand, j opening.Joint, readings []opening.Reading) {
	w.meanF, w.meanYear = 0, 0
	for _, r := range readings {
		w.meanF += r.DeckTempF / float64(len(readings))
		w.meanYear += r.Year / float64(len(readings))
	}
	for i := range readings {
		r := &readings[i]
		tau := 6.0
		if r.AirTemp {
			tau = 12
		}
		sigma := math.Hypot(1.0/16, j.SlopeInPerF()*tau)
		r.GapIn = w.gapIn(r.DeckTempF, r.Year) + sigma*rng.NormFloat64()
	}
}

// draw takes a joint's truth from the priors.
func draw(rng *rand.Rand, j opening.Joint, stuck, drifting bool) truth {
	b0 := j.SlopeInPerF()
	w := truth{a: 10 * rng.NormFloat64(), b: b0 * (1 + 0.25*rng.NormFloat64()), c: 0.01 * rng.NormFloat64()}
	if stuck {
		w.b = 0.1 * b0 * rng.NormFloat64()
	}
	if drifting {
		w.c = 0.1 * rng.NormFloat64()
	}
	return w
}

// TestCoverage simulates 10,000 joints with the truth drawn from the priors:
// the 80 % band of the coldest-day opening must hold it 78 to 82 % of the time,
// and the chance of being out of range by a later year must be calibrated.
func TestCoverage(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	const joints = 10000
	held := 0
	var outs, chances float64
	for range joints {
		j := opening.Joint{ExpansionLengthFt: 50 + 750*rng.Float64(), SkewDeg: 40 * rng.Float64(), Material: opening.Material(rng.IntN(2))}
		w := draw(rng, j, rng.Float64() < 0.03, rng.Float64() < 0.1)
		readings := visits(rng, 1+rng.IntN(8))
		w.measure(rng, j, readings)
		l := fit(t, j, readings...)
		r := j.TempRange()
		cold := l.Cold(2026.5)
		if gap := w.gapIn(r.MinF, 2026.5); cold.QuantileIn(0.1) <= gap && gap <= cold.QuantileIn(0.9) {
			held++
		}

		near := readings[0].GapIn
		m := opening.Limits{MinIn: near - 1.5, MaxIn: near + 1.5}
		chances += l.OutByYear(nil, m, 2026.5, []float64{2036.5})[0]
		for _, year := range []float64{2026.5, 2036.5} {
			if w.gapIn(r.MinF, year) > m.MaxIn || w.gapIn(r.MaxF, year) < m.MinIn {
				outs++
				break
			}
		}
	}
	share := float64(held) / joints
	t.Logf("the 80 %% band holds the truth for %.2f %% of joints", 100*share)
	if share < 0.78 || share > 0.82 {
		t.Errorf("coverage: got %.4f, want 0.78 to 0.82", share)
	}
	t.Logf("out of range by ten years: forecast %.2f %%, true %.2f %%", chances/joints*100, outs/joints*100)
	if math.Abs(outs-chances)/joints > 0.015 {
		t.Errorf("out by ten years: forecast %.4f, true %.4f", chances/joints, outs/joints)
	}
}

// TestDetection prints how often frozen, drifting and healthy joints are named
// after 3, 5 and 8 readings, by expansion length. Healthy joints must be called
// stuck or drifting less than 5 % of the time.
func TestDetection(t *testing.T) {
	const each = 2000
	rng := rand.New(rand.NewPCG(3, 4))
	t.Log("ft   readings | frozen: named  cannot tell | drifting: named, at 0.1 in/yr or more | healthy: false alarm  cannot tell")
	for _, length := range []float64{50, 100, 200, 400, 800} {
		j := opening.Joint{ExpansionLengthFt: length, Material: opening.Steel}
		for _, n := range []int{3, 5, 8} {
			run := func(stuck, drifting bool, strong float64) (named, falseAlarm, cannotTell float64) {
				for range each {
					w := draw(rng, j, stuck, drifting)
					for math.Abs(w.c) < strong {
						w = draw(rng, j, stuck, drifting)
					}
					readings := visits(rng, n)
					w.measure(rng, j, readings)
					l := fit(t, j, readings...)
					f := l.Judge(opening.Limits{}, 2026, opening.Settings{}).Findings
					if (stuck && f.Has(opening.DoesNotMove)) || (drifting && f.Has(opening.Drifting)) {
						named += 100.0 / each
					}
					if f.Has(opening.DoesNotMove) || f.Has(opening.Drifting) {
						falseAlarm += 100.0 / each
					}
					if f.Has(opening.CannotTell) {
						cannotTell += 100.0 / each
					}
				}
				return named, falseAlarm, cannotTell
			}
			frozen, _, frozenCannot := run(true, false, 0)
			drifting, _, _ := run(false, true, 0)
			strong, _, _ := run(false, true, 0.1)
			_, alarm, cannot := run(false, false, 0)
			t.Logf("%4.0f %8d | %13.1f %12.1f | %15.1f %22.1f | %20.1f %12.1f", length, n, frozen, frozenCannot, drifting, strong, alarm, cannot)
			if alarm >= 5 {
				t.Errorf("%g ft, %d readings: %.1f %% false alarms, want under 5 %%", length, n, alarm)
			}
		}
	}
}

// TestNoiseFactor simulates an agency whose readings are twice as noisy in
// standard deviation as the settings say: the factor on the variance is 4.
func TestNoiseFactor(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	const want = 4.0
	histories := make([]opening.History, 1500)
	for i := range histories {
		j := opening.Joint{ExpansionLengthFt: 50 + 400*rng.Float64()}
		w := draw(rng, j, rng.Float64() < 0.03, rng.Float64() < 0.1)
		readings := visits(rng, 5)
		clean := make([]float64, len(readings))
		w.measure(rng, j, readings)
		for k, r := range readings {
			clean[k] = w.gapIn(r.DeckTempF, r.Year)
			readings[k].GapIn = clean[k] + math.Sqrt(want)*(r.GapIn-clean[k])
		}
		histories[i] = opening.History{Joint: j, Readings: readings}
	}
	got := opening.EstimateNoiseFactor(histories, opening.Settings{})
	t.Logf("factor %.3f, standard error of its logarithm %.3f, from %d joints and %d readings", got.Factor, got.LogSE, got.Joints, got.Readings)
	if !got.Enough || math.Abs(math.Log(got.Factor/want)) > 4*got.LogSE || got.LogSE > 0.1 {
		t.Errorf("got %+v, want a factor of %g", got, want)
	}
	if few := opening.EstimateNoiseFactor(histories[:5], opening.Settings{}); few.Enough || few.Factor != 1 {
		t.Errorf("from five joints: got %+v, want factor 1 and not enough", few)
	}
}
