package score

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func near(t interface {
	Helper()
	Errorf(string, ...any)
}, what string, got, want, tol float64,
) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.12g, want %.12g", what, got, want)
	}
}

// Brier 1950, Monthly Weather Review 78:1, table 1, from memory: ten forecasts
// of rain, rain on the second, third and fourth; his score, over both outcomes,
// is 0.19.
func TestBriersOwnExample(t *testing.T) {
	forecasts := []float64{0.7, 0.9, 0.8, 0.4, 0.2, 0, 0, 0, 0, 0.1}
	cases := make([]Case, 10)
	cases[1].Failed, cases[2].Failed, cases[3].Failed = true, true, true
	s, err := Summarize(cases, forecasts)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "twice the score", 2*s.Brier, 0.19, 1e-12)
}

func TestKnownScores(t *testing.T) {
	mixed := []Case{{Failed: true}, {}, {}, {Failed: true}, {}}
	for _, tt := range []struct {
		name              string
		forecasts         []float64
		wantBrier, wantLn float64
		wantFloored       int
		wantSharpness     float64
	}{
		{"perfect", []float64{1, 0, 0, 1, 0}, 0, -math.Log(1 - Floor), 5, 0.24},
		{"always wrong", []float64{0, 1, 1, 0, 1}, 1, -math.Log(Floor), 5, 0.24},
		{"even odds", []float64{0.5, 0.5, 0.5, 0.5, 0.5}, 0.25, math.Ln2, 0, 0},
		// The share that failed, said of all: its variance and its entropy.
		{"base rate", []float64{0.4, 0.4, 0.4, 0.4, 0.4}, 0.24, -0.4*math.Log(0.4) - 0.6*math.Log(0.6), 0, 0},
		{"one sure and wrong", []float64{1, 0, 0, 0, 0}, 0.2, -(math.Log(Floor) + 4*math.Log(1-Floor)) / 5, 5, 0.16},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s, err := Summarize(mixed, tt.forecasts)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "Brier", s.Brier, tt.wantBrier, 1e-12)
			near(t, "log", s.Log, tt.wantLn, 1e-12)
			near(t, "sharpness", s.Sharpness, tt.wantSharpness, 1e-12)
			if s.Floored != tt.wantFloored || s.Failures != 2 || s.Cases != 5 {
				t.Errorf("got %+v, want %d floored, 2 failures of 5", s, tt.wantFloored)
			}
		})
	}
}

// Whoever believes q does worst by stating anything else, in either rule.
func TestRulesAreProper(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := rapid.Float64Range(0, 1).Draw(t, "belief")
		p := rapid.Float64Range(0, 1).Draw(t, "stated")
		for _, r := range []Rule{Brier, Log} {
			expected := func(p float64) float64 { return q*r.of(p, true) + (1-q)*r.of(p, false) }
			if expected(p) < expected(q)-1e-12 {
				t.Errorf("%v: stating %g where %g is believed scores %g, the truth %g", r, p, q, expected(p), expected(q))
			}
		}
	})
}

// drawn is n cases on bridges of four joints, with forecasts and outcomes drawn
// from them: calibrated by construction.
func drawn(n int, seed uint64) (cases []Case, forecasts []float64) {
	rng := rand.New(rand.NewPCG(seed, 3))
	for i := range n {
		p := rng.Float64()
		cases = append(cases, Case{Bridge: int64(i / 4), Failed: rng.Float64() < p})
		forecasts = append(forecasts, p)
	}
	return cases, forecasts
}

func TestPartsSumToTheBrierScore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 60).Draw(t, "cases")
		steps := rapid.Bool().Draw(t, "one value a decile")
		cases, forecasts := make([]Case, n), make([]float64, n)
		for i := range cases {
			cases[i].Failed = rapid.Bool().Draw(t, "failed")
			if forecasts[i] = rapid.Float64Range(0, 1).Draw(t, "p"); steps {
				forecasts[i] = (float64(decileOf(forecasts[i])) + 0.5) / deciles
			}
		}
		s, errS := Summarize(cases, forecasts)
		p, errP := Decompose(cases, forecasts)
		if errS != nil || errP != nil {
			t.Fatal(errS, errP)
		}
		near(t, "sum of the parts", p.Reliability-p.Resolution+p.Uncertainty+p.Within, s.Brier, 1e-12)
		if steps {
			// Murphy 1973: three terms are enough.
			near(t, "within", p.Within, 0, 1e-12)
		}
		if min(p.Reliability, p.Resolution, p.Uncertainty) < 0 {
			t.Errorf("a part is negative: %+v", p)
		}
	})
}

// Clopper and Pearson's interval: R's binom.test, and closed forms at none and
// all.
func TestBinomialInterval(t *testing.T) {
	for _, tt := range []struct {
		name            string
		x, n            int
		confidence      float64
		wantLow, wantHi float64
	}{
		{"binom.test(7, 20)", 7, 20, 0.95, 0.1539092047, 0.5921885345},
		{"none of 10", 0, 10, 0.95, 0, 1 - math.Pow(0.025, 0.1)},
		{"all of 10", 10, 10, 0.90, math.Pow(0.05, 0.1), 1},
	} {
		t.Run(tt.name, func(t *testing.T) {
			low, high := binomialInterval(tt.x, tt.n, tt.confidence)
			near(t, "low", low, tt.wantLow, 1e-9)
			near(t, "high", high, tt.wantHi, 1e-9)
		})
	}
}

func TestCalibrationCountsEveryCase(t *testing.T) {
	cases, forecasts := drawn(4000, 1)
	forecasts[0], forecasts[1] = 0, 1
	rows, err := Calibration(cases, forecasts)
	if err != nil || len(rows) != 10 {
		t.Fatalf("got %d rows, %v; want 10", len(rows), err)
	}
	for k, d := range rows {
		n, failures, sum := 0, 0, 0.0
		for i, p := range forecasts {
			if p >= d.Low && (p < d.High || k == 9) {
				n, sum = n+1, sum+p
				if cases[i].Failed {
					failures++
				}
			}
		}
		if d.Cases != n || d.Failures != failures {
			t.Errorf("decile %d: got %d failures of %d, want %d of %d", k+1, d.Failures, d.Cases, failures, n)
		}
		near(t, "mean forecast", d.MeanForecast, sum/float64(n), 1e-12)
	}
}

// Of calibrated forecasts nine in ten deciles fit, or a few more, the interval
// being on the safe side; of forecasts pushed toward the ends few do.
func TestCalibrationTellsGoodFromOverconfident(t *testing.T) {
	fit := func(sharpen func(float64) float64) (share float64) {
		const runs = 100
		for seed := range uint64(runs) {
			cases, forecasts := drawn(1000, seed)
			for i := range forecasts {
				forecasts[i] = sharpen(forecasts[i])
			}
			rows, err := Calibration(cases, forecasts)
			if err != nil {
				t.Fatal(err)
			}
			for _, d := range rows {
				if d.Fits() {
					share += 1.0 / (deciles * runs)
				}
			}
		}
		return share
	}
	if got := fit(func(p float64) float64 { return p }); got < 0.88 || got > 0.96 {
		t.Errorf("deciles that fit: got %.3f of calibrated forecasts, want 0.88 to 0.96", got)
	}
	if got := fit(func(p float64) float64 { return p * p * (3 - 2*p) }); got > 0.8 {
		t.Errorf("deciles that fit: got %.3f of overconfident forecasts, want under 0.8", got)
	}
}

func TestCompareByDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 40).Draw(t, "cases")
		cases, model, rival := make([]Case, n), make([]float64, n), make([]float64, n)
		for i := range cases {
			cases[i] = Case{rapid.Int64Range(-3, 3).Draw(t, "bridge"), rapid.Bool().Draw(t, "failed")}
			model[i] = rapid.Float64Range(0, 1).Draw(t, "model")
			rival[i] = rapid.Float64Range(0, 1).Draw(t, "rival")
		}
		got, err := Compare(cases, model, rival, Brier)
		if err != nil {
			t.Fatal(err)
		}
		a, _ := Summarize(cases, rival)
		b, _ := Summarize(cases, model)
		near(t, "gain", got.Gain, a.Brier-b.Brier, 1e-12)
		sums, sq := map[int64]float64{}, 0.0
		for i, c := range cases {
			o := c.outcome()
			sums[c.Bridge] += (rival[i]-o)*(rival[i]-o) - (model[i]-o)*(model[i]-o) - got.Gain
		}
		for _, s := range sums {
			sq += s * s
		}
		if g := float64(len(sums)); g > 1 {
			near(t, "SE", got.SE, math.Sqrt(g/(g-1)*sq)/float64(n), 1e-12)
		}
		if got.Bridges != len(sums) {
			t.Errorf("got %d bridges, want %d", got.Bridges, len(sums))
		}
		back, err := Compare(cases, rival, model, Brier)
		if err != nil || math.Abs(back.Gain+got.Gain) > 1e-12 || math.Abs(back.SE-got.SE) > 1e-12 {
			t.Errorf("the other way round: got %+v, %v; want the gain of %+v reversed", back, err, got)
		}
	})
}

// Each joint on a bridge of its own: the standard error of a mean, as in any
// textbook, s/sqrt(n), here of 1, 2, 3, 4, ..., 12 hundredths.
func TestCompareOfIndependentCases(t *testing.T) {
	var cases []Case
	var model, rival []float64
	for i := range 12 {
		cases = append(cases, Case{Bridge: int64(i)})
		model = append(model, 0)
		rival = append(rival, math.Sqrt(float64(i+1)/100))
	}
	c, err := Compare(cases, model, rival, Brier)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "gain", c.Gain, 0.065, 1e-12)
	near(t, "SE", c.SE, math.Sqrt(13.0/12)/100, 1e-12) // variance of 1..12 is 13
	// Student's t at 97.5 % with 11 degrees of freedom is 2.201 in any table.
	near(t, "low", c.Low, 0.065-2.201*c.SE, 1e-5)
}

// The same joint counted four times on its bridge adds nothing to what is known.
func TestRepeatedCasesAddNothing(t *testing.T) {
	cases, model := drawn(80, 5)
	for i := range cases {
		cases[i].Bridge = int64(i)
	}
	rival := make([]float64, len(model))
	for i := range rival {
		rival[i] = 0.5
	}
	once, err := Compare(cases, model, rival, Log)
	if err != nil {
		t.Fatal(err)
	}
	var cases4 []Case
	var model4, rival4 []float64
	for range 4 {
		cases4, model4, rival4 = append(cases4, cases...), append(model4, model...), append(rival4, rival...)
	}
	four, err := Compare(cases4, model4, rival4, Log)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "gain", four.Gain, once.Gain, 1e-12)
	near(t, "SE", four.SE, once.SE, 1e-12)
}

// Two forecasters of equal worth, with outcomes shared by a bridge: at 95 %
// confidence one in twenty comparisons, and no more, picks a winner. 2,000
// networks: two standard errors are one point.
func TestVerdictIsRarelyWrong(t *testing.T) {
	const networks = 2000
	rng := rand.New(rand.NewPCG(9, 9))
	wrong := 0
	for range networks {
		var cases []Case
		var model, rival []float64
		for bridge := range int64(40) {
			failed, tilt := rng.IntN(2) == 0, 0.2*rng.Float64()-0.1
			for range 4 {
				cases = append(cases, Case{bridge, failed})
				model, rival = append(model, 0.5+tilt), append(rival, 0.5-tilt)
			}
		}
		c, err := Compare(cases, model, rival, Brier)
		if err != nil {
			t.Fatal(err)
		}
		if c.Verdict() != CannotTell {
			wrong++
		}
	}
	near(t, "share of wrong verdicts", float64(wrong)/networks, 0.05, 0.012)
}

func TestVerdictInWords(t *testing.T) {
	cases, good := drawn(400, 2)
	even := make([]float64, len(good))
	for i := range even {
		even[i] = 0.5
	}
	for _, tt := range []struct {
		name         string
		cases        []Case
		model, rival []float64
		want         Verdict
		words        string
	}{
		{"better", cases, good, even, ModelBetter, `better than "coin"`},
		{"worse", cases, even, good, RivalBetter, `worse than "coin": do not use it here`},
		{"equal", cases, good, good, CannotTell, `no difference between the model and "coin"`},
		{"few bridges", cases[:20], good[:20], even[:20], CannotTell, "too few bridges"},
		{"one bridge", cases[:1], good[:1], even[:1], CannotTell, "too few bridges"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c, err := Compare(tt.cases, tt.model, tt.rival, Brier)
			if err != nil || c.Verdict() != tt.want || !strings.Contains(c.Words("coin"), tt.words) {
				t.Errorf("got %v, %q, %v; want %v and %q", c.Verdict(), c.Words("coin"), err, tt.want, tt.words)
			}
		})
	}
}

func TestUnusableForecastsAreRefused(t *testing.T) {
	one := []Case{{}}
	for _, tt := range []struct {
		name      string
		cases     []Case
		forecasts []float64
	}{
		{"none", nil, nil},
		{"one too many", one, []float64{0.1, 0.2}},
		{"above 1", one, []float64{1.01}},
		{"below 0", one, []float64{-0.01}},
		{"not a number", one, []float64{math.NaN()}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, errS := Summarize(tt.cases, tt.forecasts)
			_, errC := Calibration(tt.cases, tt.forecasts)
			_, errD := Decompose(tt.cases, tt.forecasts)
			_, errM := Compare(tt.cases, tt.forecasts, tt.forecasts, Log)
			_, errR := Compare(one, []float64{0.5}, tt.forecasts, Log)
			if tt.cases == nil {
				errR = ErrInvalid // the rival's case is one that fits
			}
			for _, err := range []error{errS, errC, errD, errM, errR} {
				if !errors.Is(err, ErrInvalid) {
					t.Errorf("got %v, want ErrInvalid", err)
				}
			}
		})
	}
}

func BenchmarkCompare(b *testing.B) {
	for _, size := range []struct {
		name string
		n    int
	}{{"1k", 1_000}, {"10k", 10_000}, {"100k", 100_000}} {
		cases, model := drawn(size.n, 1)
		rival := make([]float64, len(model))
		b.Run(size.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Compare(cases, model, rival, Log); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(size.n)*float64(b.N)/b.Elapsed().Seconds(), "cases/s")
		})
	}
}
