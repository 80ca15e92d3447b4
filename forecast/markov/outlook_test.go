package markov

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"testing"

	"pgregory.net/rapid"
)

// A joint of three pieces that wear at 0.2, 0.15 and 0.1 a year times a common
// pace of variance 0.25: by direct summation over paces and pieces the first
// quarter years with a failure probability of 10, 50 and 90 % are 4.5, 12 and
// 31. The Beta form gives 4.5, 11.75 and 30. (A trial of our own; no outside
// source.)
func TestReplacementYearOfThreePieces(t *testing.T) {
	c, _ := NewChain(Worsening(4), []float64{0.2, 0.15, 0.1})
	pace, _ := NewPace(4, 0)
	var years []float64
	for q := 1; q <= 200; q++ {
		years = append(years, float64(q)/4)
	}
	o, err := NewOutlook(c, pace, Failure{ShareLimit: 0.1, Pieces: 3}, 50)
	if err != nil {
		t.Fatal(err)
	}
	var got Projection
	o.Project(&got, []float64{1, 0, 0, 0}, pace.Prior, years)
	early, middle, late := ReplacementYear(years, got.Failed)
	for i, q := range []Quantile{early, middle, late} {
		if want := []float64{4.5, 11.75, 30}[i]; q.Years != want || !q.Reached {
			t.Errorf("quantile %d: %v, want %v", i, q, want)
		}
	}
	exact := make([]float64, len(years)) // any of the three pieces in the worst state
	for i, y := range years {
		for g, z := range pace.Z {
			exact[i] += pace.Prior[g] * (1 - math.Pow(1-c.P(make([]float64, 16), z*y)[3], 3))
		}
	}
	early, middle, late = ReplacementYear(years, exact)
	if early.Years != 4.5 || middle.Years != 12 || math.Abs(late.Years-31) > 0.25 {
		t.Errorf("true quantiles %v %v %v, want 4.5 12 31", early, middle, late)
	}
}

// The interpolated projection against the formulas at each pace and year.
func TestProjectAgainstDirectSum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, err := NewChain(Worsening(4), []float64{
			rapid.Float64Range(0.02, 1).Draw(t, "q1"),
			rapid.Float64Range(0.02, 1).Draw(t, "q2"),
			rapid.Float64Range(0.02, 1).Draw(t, "q3"),
		})
		if err != nil {
			t.Fatal(err)
		}
		pace, _ := NewPace(rapid.Float64Range(1, 50).Draw(t, "k"), 0)
		rule := Failure{ShareLimit: rapid.Float64Range(0.05, 0.5).Draw(t, "limit"), Pieces: rapid.Float64Range(1.5, 10).Draw(t, "pieces")}
		shares := drawShares(t)
		years := []float64{0.1, 1, 2.5, 5, 10, 20, 30}
		o, err := NewOutlook(c, pace, rule, 30)
		if err != nil {
			t.Fatal(err)
		}
		var got Projection
		o.Project(&got, shares, pace.Prior, years)
		var spread Spread
		o.Spread(&spread, pace.Prior, years)
		for y, alone := range o.Failures(nil, &spread, shares) {
			if math.Abs(alone-got.Failed[y]) > 1e-12 {
				t.Errorf("%v years: failed alone %v, with the shares %v", years[y], alone, got.Failed[y])
			}
		}
		lean := Projection{Lean: true}
		o.Project(&lean, shares, pace.Prior, years)
		if !slices.Equal(lean.Failed, got.Failed) || !slices.Equal(lean.Shares, got.Shares) {
			t.Errorf("without the variance %v and %v, with it %v and %v", lean.Failed, lean.Shares, got.Failed, got.Shares)
		}
		p, after := make([]float64, 16), make([]float64, 4)
		failed := 0.0
		for y, year := range years {
			before := failed
			failed = 0
			want := make([]float64, 4)
			for g, z := range pace.Z {
				ShareAfter(after, shares, c.P(p, z*year))
				for j := range want {
					want[j] += pace.Prior[g] * after[j]
				}
				failed += pace.Prior[g] * rule.Probability(shares, p)
			}
			failed = max(failed, before)
			if math.Abs(got.Failed[y]-failed) > 3e-3 {
				t.Errorf("%v years: failed %v, want %v", year, got.Failed[y], failed)
			}
			for j := range want {
				if math.Abs(got.Shares[y*4+j]-want[j]) > 3e-3 {
					t.Errorf("%v years: share %d is %v, want %v", year, j, got.Shares[y*4+j], want[j])
				}
			}
		}
	})
}

func drawShares(t *rapid.T) []float64 {
	shares, sum := make([]float64, 4), 0.0
	for i := range shares {
		shares[i] = rapid.Float64Range(0, 1).Draw(t, "share")
		if i == 3 {
			shares[i] *= 0.1
		}
		sum += shares[i]
	}
	if sum == 0 {
		return []float64{1, 0, 0, 0}
	}
	for i := range shares {
		shares[i] /= sum
	}
	return shares
}

func TestFailureProbability(t *testing.T) {
	p := []float64{0.7, 0.2, 0.1, 0, 0.6, 0.4, 0, 0, 1} // three states
	for _, test := range []struct {
		name   string
		rule   Failure
		shares []float64
		want   float64
	}{
		{"failed already", Failure{}, []float64{0.5, 0.3, 0.2}, 1},
		{"one piece is the mean", Failure{ShareLimit: 0.5, Pieces: 1}, []float64{1, 0, 0}, 0.1},
		// two equal pieces of probability 0.1: B ~ Beta(0.1, 0.9), R: 1 - pbeta(0.5, 0.1, 0.9)
		{"two pieces", Failure{ShareLimit: 0.5, Pieces: 2}, []float64{1, 0, 0}, 0.07726077508},
	} {
		if got := test.rule.Probability(test.shares, p); math.Abs(got-test.want) > 1e-6 {
			t.Errorf("%s: %v, want %v", test.name, got, test.want)
		}
	}
}

// Mean and variance of a share and its band, against pieces drawn one by one.
func TestSharesOfSimulatedJoints(t *testing.T) {
	c, _ := NewChain(Worsening(4), []float64{0.2, 0.15, 0.1})
	pace, _ := NewPace(4, 0)
	o, err := NewOutlook(c, pace, Failure{Pieces: 8}, 30)
	if err != nil {
		t.Fatal(err)
	}
	const years = 6.0
	var got Projection
	o.Project(&got, []float64{1, 0, 0, 0}, pace.Prior, []float64{years})
	n := network{joints: 40000, intervals: 1, rates: c.rates, k: 4, pieces: 8, years: func(*rand.Rand) float64 { return years }}
	var share []float64
	sum, square := 0.0, 0.0
	n.simulate(rand.New(rand.NewPCG(8, 8)), func(_ int, seen []Interval) {
		s := seen[0].After[1]
		share = append(share, s)
		sum += s / float64(n.joints)
		square += s * s / float64(n.joints)
	})
	if math.Abs(got.Shares[1]-sum) > 0.005 {
		t.Errorf("mean %v, simulated %v", got.Shares[1], sum)
	}
	if want := square - sum*sum; math.Abs(got.Variance[1]/want-1) > 0.03 {
		t.Errorf("variance %v, simulated %v", got.Variance[1], want)
	}
	sort.Float64s(share)
	for _, probability := range []float64{0.1, 0.9} {
		band, err := ShareBand([]*Outlook{o}, [][]float64{{1, 0, 0, 0}}, [][]float64{pace.Prior}, 1, years, probability)
		if err != nil {
			t.Fatal(err)
		}
		// shares come in eighths: the band must lie within one of them
		if want := share[int(probability*float64(len(share)))]; math.Abs(band-want) > 1.0/8 {
			t.Errorf("band at %v: %v, simulated %v", probability, band, want)
		}
	}
}

func TestQuickPosterior(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, err := NewChain(Worsening(4), []float64{
			rapid.Float64Range(0.02, 1).Draw(t, "q1"),
			rapid.Float64Range(0.02, 1).Draw(t, "q2"),
			rapid.Float64Range(0.02, 1).Draw(t, "q3"),
		})
		if err != nil {
			t.Fatal(err)
		}
		pace, _ := NewPace(rapid.Float64Range(1, 50).Draw(t, "k"), 0)
		life := []Interval{
			{Years: rapid.Float64Range(0.05, 10).Draw(t, "years"), Before: []float64{1, 0, 0, 0}, After: []float64{.6, .3, .1, 0}},
			{Years: rapid.Float64Range(0.05, 10).Draw(t, "years"), Before: []float64{.6, .3, .1, 0}, After: []float64{.4, .3, .1, .2}},
		}
		o, err := NewOutlook(c, pace, Failure{}, 30)
		if err != nil {
			t.Fatal(err)
		}
		got, want := make([]float64, len(pace.Z)), make([]float64, len(pace.Z))
		if err := o.Posterior(got, pace.Prior, life); err != nil {
			t.Fatal(err)
		}
		if err := pace.Posterior(want, pace.Prior, c, life, 3); err != nil {
			t.Fatal(err)
		}
		for g := range want {
			if math.Abs(got[g]-want[g]) > 1e-6 {
				t.Errorf("weight of pace %v: %v, want %v", pace.Z[g], got[g], want[g])
			}
		}
	})
}

func TestJoinOpening(t *testing.T) {
	failed := []float64{0, 0.5, 1}
	JoinOpening(failed, []float64{0.2, 0.2, 0.2})
	for i, want := range []float64{0.2, 0.6, 1} {
		if math.Abs(failed[i]-want) > 1e-15 {
			t.Errorf("year %d: %v, want %v", i, failed[i], want)
		}
	}
}

func TestReplacementYearBeyondHorizon(t *testing.T) {
	early, middle, late := ReplacementYear([]float64{1, 2}, []float64{0.1, 0.4})
	if early != (Quantile{1, true}) || middle != (Quantile{2, false}) || late != (Quantile{2, false}) {
		t.Errorf("got %v %v %v", early, middle, late)
	}
}

func Example() {
	// Half of the feet leave CS1 within 4 years, CS2 within 5, CS3 within 7.
	chain, _ := WorseningChain(4, 5, 7)
	pace, _ := NewPace(4, 0)
	// Two inspections of this seal, two years apart.
	life := []Interval{{Years: 2, Before: []float64{1, 0, 0, 0}, After: []float64{0.3, 0.5, 0.2, 0}}}
	weights := make([]float64, len(pace.Z))
	if err := pace.Posterior(weights, pace.Prior, chain, life, 3); err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("wears %.1f times as fast as its group\n", pace.Mean(weights))
	outlook, _ := NewOutlook(chain, pace, Failure{}, 30)
	years := []float64{1, 2, 3, 4, 5, 6, 8, 10, 15, 20, 30}
	var future Projection
	outlook.Project(&future, life[0].After, weights, years)
	early, middle, late := ReplacementYear(years, future.Failed)
	fmt.Printf("replace in %v years (%v to %v)\n", middle.Years, early.Years, late.Years)
	// Output:
	// wears 1.4 times as fast as its group
	// replace in 5 years (2 to 15)
}

// BenchmarkProject projects joints over 30 years on all processors: the update
// of each joint's pace by five inspections, its shares, its probability of
// failure and its replacement year.
func BenchmarkProject(b *testing.B) {
	c, _ := NewChain(Worsening(4), []float64{0.2, 0.15, 0.1})
	pace, _ := NewPace(4, 0)
	o, err := NewOutlook(c, pace, Failure{}, 34)
	if err != nil {
		b.Fatal(err)
	}
	var life []Interval
	network{joints: 1, intervals: 5, rates: []float64{.1, .05, .01}, pieces: 100, years: everyTwoYears}.simulate(
		rand.New(rand.NewPCG(1, 1)), func(_ int, seen []Interval) { life = seen })
	for _, joints := range []int{10_000, 100_000, 1_000_000} {
		b.Run(fmt.Sprint(joints), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				parallel(64, func(block int) {
					var out Projection
					years, weights := make([]float64, 30), make([]float64, len(pace.Z))
					for i := joints * block / 64; i < joints*(block+1)/64; i++ {
						if err := o.Posterior(weights, pace.Prior, life); err != nil {
							b.Error(err)
						}
						for y := range years { // each joint was last seen on its own date
							years[y] = float64(y) + 0.5 + float64(i%700)/365.25
						}
						s := float64(i%50) / 50
						o.Project(&out, []float64{1 - s, s * 0.7, s * 0.25, s * 0.05}, weights, years)
						if early, middle, _ := ReplacementYear(years, out.Failed); early.Years > middle.Years {
							b.Error("the band does not hold the year")
						}
					}
				})
			}
			b.ReportMetric(float64(joints)*float64(b.N)/b.Elapsed().Seconds(), "joints/s")
		})
	}
}
