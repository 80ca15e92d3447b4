package life

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// drawn is records of every kind, as an agency would have them: lives drawn from
// a Weibull of the given shape and scale, some looked at only now and then, and
// some on record only because they had lasted until records began.
func drawn(n int, shape, scale float64, seed uint64) []Record {
	rng := rand.New(rand.NewPCG(seed, 1))
	records := make([]Record, 0, n)
	for len(records) < n {
		life := scale * math.Pow(rng.ExpFloat64(), 1/shape)
		end := 2 + 18*rng.Float64()
		entry := 0.0
		if rng.IntN(3) == 0 {
			entry = 6 * rng.Float64()
		}
		if life <= entry || end <= entry {
			continue
		}
		r := InService(end)
		if life < end {
			cycle := math.Floor(life / 2)
			switch rng.IntN(3) {
			case 0:
				r = Exact(life)
			case 1:
				r = Between(max(2*cycle, entry), 2*cycle+2)
			default:
				r = FailedBy(end)
			}
		}
		if r.Low < entry {
			r.Low = entry
		}
		r.Entry = entry
		records = append(records, r)
	}
	return records
}

// plainLogLik is the likelihood written with gonum's distributions, in the plain
// form that loses its digits in the tails.
func plainLogLik(records []Record, family Family, mu, logSigma float64) float64 {
	sigma := math.Exp(logSigma)
	var d interface {
		CDF(float64) float64
		Survival(float64) float64
		LogProb(float64) float64
	} = distuv.Weibull{K: 1 / sigma, Lambda: math.Exp(mu)}
	if family == Lognormal {
		d = distuv.LogNormal{Mu: mu, Sigma: sigma}
	}
	sum := 0.0
	for _, r := range records {
		v := 0.0
		switch {
		case r.Low == r.High:
			v = d.LogProb(r.Low)
		case math.IsInf(r.High, 1):
			v = math.Log(d.Survival(r.Low))
		default:
			v = math.Log(d.CDF(r.High) - d.CDF(r.Low))
		}
		if r.Entry > 0 {
			v -= math.Log(d.Survival(r.Entry))
		}
		sum += r.weight() * v
	}
	return sum
}

// plainEstimate climbs plainLogLik by steps along the axes, halved where none
// helps, down to a step of 1e-9. (Compass search; Kolda, Lewis & Torczon 2003,
// SIAM Review 45:385.)
func plainEstimate(records []Record, family Family) (mu, logSigma, logLik float64) {
	mu, logSigma = newLikelihood(records, family).start()
	logLik = plainLogLik(records, family, mu, logSigma)
	for step := 0.5; step > 1e-9; step /= 2 {
		for better := true; better; {
			better = false
			for _, d := range [][2]float64{{step, 0}, {-step, 0}, {0, step}, {0, -step}, {step, step}, {-step, -step}} {
				if v := plainLogLik(records, family, mu+d[0], logSigma+d[1]); v > logLik {
					mu, logSigma, logLik, better = mu+d[0], logSigma+d[1], v, true
				}
			}
		}
	}
	return mu, logSigma, logLik
}

func TestAgainstPlainSearch(t *testing.T) {
	for _, family := range []Family{Weibull, Lognormal} {
		for seed := range uint64(5) {
			records := drawn(200, 2.2, 11, seed)
			f := estimate(t, records, family)
			mu, logSigma, logLik := plainEstimate(records, family)
			// Where differences in log-likelihood are lost in its rounding the
			// search stops, some 1e-7 from the top.
			check(t, []figure{
				{family.String() + " mu", f.Mu, mu, 1e-5},
				{family.String() + " ln sigma", math.Log(f.Sigma), logSigma, 1e-5},
				{family.String() + " log-likelihood", f.LogLik, logLik, 1e-9},
			})
		}
	}
}

// With a constant hazard and left truncation the estimate is the exposure over
// the failures, exactly. (Meeker & Escobar 1998, sections 7.3 and 11.6.)
func TestExponentialIsExposureOverFailures(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var records []Record
		exposure, failures := 0.0, 0.0
		for range rapid.IntRange(3, 30).Draw(t, "failed") {
			r := Exact(rapid.Float64Range(1, 40).Draw(t, "life"))
			r.Entry = r.Low * rapid.Float64Range(0, 0.9).Draw(t, "entry")
			exposure, failures = exposure+r.Low-r.Entry, failures+1
			records = append(records, r)
		}
		for range rapid.IntRange(0, 30).Draw(t, "in service") {
			r := InService(rapid.Float64Range(0, 40).Draw(t, "age"))
			exposure += r.Low
			records = append(records, r)
		}
		f, err := Estimate(records, Options{Family: Exponential})
		if err != nil {
			t.Fatal(err)
		}
		if want := exposure / failures; math.Abs(f.Mean()/want-1) > 1e-9 {
			t.Errorf("mean life: got %.12g, want %.12g", f.Mean(), want)
		}
		if want := 1 / math.Sqrt(failures); math.Abs(f.MuSE/want-1) > 1e-6 {
			t.Errorf("standard error: got %g, want %g", f.MuSE, want)
		}
	})
}

func TestDerivativesAgainstDifferences(t *testing.T) {
	const h = 1e-4
	for _, family := range []Family{Weibull, Lognormal} {
		l := newLikelihood(drawn(200, 1.7, 9, 7), family)
		for _, at := range [][2]float64{{2, -0.5}, {2.4, 0.3}, {1.5, -1}, {3, 0.8}} {
			p := l.at(at[0], at[1])
			up, down := l.at(at[0]+h, at[1]), l.at(at[0]-h, at[1])
			wide, tight := l.at(at[0], at[1]+h), l.at(at[0], at[1]-h)
			for _, d := range []struct {
				name      string
				got, want float64
			}{
				{"d/dmu", p.gMu, (up.value - down.value) / (2 * h)},
				{"d/ds", p.gS, (wide.value - tight.value) / (2 * h)},
				{"d²/dmu²", p.hMuMu, (up.gMu - down.gMu) / (2 * h)},
				{"d²/dmu ds", p.hMuS, (wide.gMu - tight.gMu) / (2 * h)},
				{"d²/ds dmu", p.hMuS, (up.gS - down.gS) / (2 * h)},
				{"d²/ds²", p.hSS, (wide.gS - tight.gS) / (2 * h)},
			} {
				if math.Abs(d.got-d.want) > 1e-5*(1+math.Abs(d.want)) {
					t.Errorf("%v at %v, %s: got %g, want %g", family, at, d.name, d.got, d.want)
				}
			}
		}
	}
}

func TestFitIsTheSame(t *testing.T) {
	records := drawn(120, 2.5, 12, 3)
	base := estimate(t, records, Weibull)
	shuffled := append([]Record(nil), records...)
	rand.New(rand.NewPCG(5, 5)).Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
	halves := make([]Record, 0, 2*len(records))
	months := make([]Record, len(records))
	for i, r := range records {
		half, month := r, r
		half.Weight = 0.5
		halves = append(halves, half, half)
		month.Low, month.High, month.Entry = 12*r.Low, 12*r.High, 12*r.Entry
		months[i] = month
	}
	for _, tt := range []struct {
		name    string
		records []Record
		unit    float64
	}{
		{"in any order", shuffled, 1},
		{"split in halves", halves, 1},
		{"in months", months, 12},
		{"with seals never looked at", append([]Record{InService(0), InService(0)}, records...), 1},
	} {
		t.Run(tt.name, func(t *testing.T) {
			f := estimate(t, tt.records, Weibull)
			check(t, []figure{
				{"mu", f.Mu, base.Mu + math.Log(tt.unit), 1e-9},
				{"sigma", f.Sigma, base.Sigma, 1e-9},
				{"mu se", f.MuSE, base.MuSE, 1e-9},
				{"covariance", f.Covariance, base.Covariance, 1e-9},
			})
		})
	}
}

// With the truth known, 95 % intervals of eta and of the shape hold it 95 times
// in 100, with truncation and every kind of censoring. 400 networks of 150
// seals: two standard errors of the share are 2.2 points.
func TestIntervalsCoverTheTruth(t *testing.T) {
	const networks, shape, scale = 400, 2.0, 10.0
	scaleIn, shapeIn, meanLnScale := 0, 0, 0.0
	for seed := range uint64(networks) {
		f := estimate(t, drawn(150, shape, scale, 1000+seed), Weibull)
		if low, high := f.Scale().Interval(0.95); low <= scale && scale <= high {
			scaleIn++
		}
		if math.Abs(math.Log(f.Sigma*shape)) <= 1.959964*f.LogSigmaSE {
			shapeIn++
		}
		meanLnScale += f.Mu / networks
	}
	check(t, []figure{
		{"share of intervals that hold eta", float64(scaleIn) / networks, 0.95, 0.03},
		{"share of intervals that hold the shape", float64(shapeIn) / networks, 0.95, 0.03},
		{"mean ln eta", meanLnScale, math.Log(scale), 0.01},
	})
}

func TestNoFit(t *testing.T) {
	later := func(r Record, entry float64) Record { r.Entry = entry; return r }
	for _, tt := range []struct {
		name    string
		records []Record
		opt     Options
		want    error
	}{
		{"no records", nil, Options{}, ErrTooFew},
		{"none failed", []Record{InService(3), InService(4), InService(5)}, Options{}, ErrTooFew},
		{"two failed", []Record{Exact(3), FailedBy(4), InService(5)}, Options{}, ErrTooFew},
		{"fewer than asked for", []Record{Exact(3), Exact(4), Exact(5)}, Options{MinFailures: 5}, ErrTooFew},
		{"all of one age", []Record{Exact(5), Exact(5), Exact(5), InService(3)}, Options{}, ErrNoOptimum},
		{"all of one age, lognormal", []Record{Exact(5), Exact(5), Exact(5), InService(3)}, Options{Family: Lognormal}, ErrNoOptimum},
		{"failed all older than in service", []Record{FailedBy(10), FailedBy(10), FailedBy(11), InService(5), InService(6)}, Options{}, ErrNoOptimum},
		{"all found failed", []Record{FailedBy(10), FailedBy(9), FailedBy(8), FailedBy(1)}, Options{}, ErrNoOptimum},
		{"all found failed, exponential", []Record{FailedBy(10), FailedBy(9), FailedBy(8)}, Options{Family: Exponential}, ErrNoOptimum},
		{"life of 0", []Record{Exact(0)}, Options{}, ErrInvalid},
		{"backwards", []Record{Between(5, 4)}, Options{}, ErrInvalid},
		{"not a number", []Record{Exact(math.NaN())}, Options{}, ErrInvalid},
		{"endless", []Record{Exact(math.Inf(1))}, Options{}, ErrInvalid},
		{"negative", []Record{Between(-1, 4)}, Options{}, ErrInvalid},
		{"failed before it came on record", []Record{later(FailedBy(4), 3)}, Options{}, ErrInvalid},
		{"failed as it came on record", []Record{later(Exact(4), 4)}, Options{}, ErrInvalid},
		{"negative weight", []Record{{Low: 3, High: 3, Weight: -1}}, Options{}, ErrInvalid},
		{"weight not a number", []Record{{Low: 3, High: 3, Weight: math.NaN()}}, Options{}, ErrInvalid},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if f, err := Estimate(tt.records, tt.opt); !errors.Is(err, tt.want) || f != (Fit{}) {
				t.Errorf("got %+v, %v; want no fit and %v", f, err, tt.want)
			}
		})
	}
	if _, err := Compare([]Record{Exact(3)}, Options{}); !errors.Is(err, ErrTooFew) {
		t.Errorf("Compare of one failure: got %v, want ErrTooFew", err)
	}
}

func TestCompareOrdersByAIC(t *testing.T) {
	fits, err := Compare(readRecords(t, testdata+"/cracks.csv"), Options{})
	if err != nil || len(fits) != 3 {
		t.Fatalf("got %d fits, %v; want 3", len(fits), err)
	}
	for i, want := range []Family{Weibull, Lognormal, Exponential} {
		if fits[i].Family != want {
			t.Errorf("place %d: got %v, want %v", i+1, fits[i].Family, want)
		}
	}
}

// Whatever the records, a fit is finite and a better one is not to be had by a
// step in any direction.
func TestFitIsFiniteAndHighest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var records []Record
		for range rapid.IntRange(3, 20).Draw(t, "records") {
			a := rapid.Float64Range(0.01, 100).Draw(t, "a")
			b := rapid.Float64Range(0.01, 100).Draw(t, "b")
			r := []Record{Exact(a), InService(a), FailedBy(a), Between(min(a, b), max(a, b)+0.01)}[rapid.IntRange(0, 3).Draw(t, "kind")]
			r.Entry = r.Low * rapid.Float64Range(0, 0.99).Draw(t, "entry")
			records = append(records, r)
		}
		family := Family(rapid.IntRange(0, 2).Draw(t, "family"))
		f, err := Estimate(records, Options{Family: family})
		if err != nil {
			return
		}
		for _, v := range []float64{f.Mu, f.Sigma, f.MuSE, f.LogSigmaSE, f.Covariance, f.LogLik, f.AIC, f.Mean(), f.SD(), quantile(f, 0.001).SE, quantile(f, 0.999).SE} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("not finite: %+v", f)
			}
		}
		l := newLikelihood(records, family)
		for _, d := range [][2]float64{{1e-3, 0}, {-1e-3, 0}, {0, 1e-3}, {0, -1e-3}, {0.5, 0}, {-0.5, 0}, {0, 0.5}, {0, -0.5}} {
			if family == Exponential && d[1] != 0 {
				continue
			}
			if other := l.at(f.Mu+d[0], math.Log(f.Sigma)+d[1]).value; other > f.LogLik+1e-9 {
				t.Errorf("log-likelihood %.12g at the estimate, %.12g at %v from it", f.LogLik, other, d)
			}
		}
	})
}

func benchmarkSizes(b *testing.B, fit func(b *testing.B, records []Record)) {
	for _, size := range []struct {
		name string
		n    int
	}{{"1k", 1_000}, {"10k", 10_000}, {"100k", 100_000}} {
		records := drawn(size.n, 2.2, 11, 1)
		b.Run(size.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				fit(b, records)
			}
			b.ReportMetric(float64(size.n)*float64(b.N)/b.Elapsed().Seconds(), "seals/s")
		})
	}
}

func BenchmarkEstimate(b *testing.B) {
	benchmarkSizes(b, func(b *testing.B, records []Record) { estimate(b, records, Weibull) })
}
