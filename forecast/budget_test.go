package forecast

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"reseal/forecast/money"
)

// Every outcome of renewing each joint or not, weighed by its probability.
func TestBridgeYearAgainstEveryOutcome(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "joints")
		p, cost := make([]float64, n), make([]float64, n)
		for i := range p {
			p[i] = rapid.Float64Range(0, 1).Draw(t, "p")
			cost[i] = rapid.Float64Range(0, 5e4).Draw(t, "cost")
		}
		visit := rapid.Float64Range(0, 2e4).Draw(t, "visit")
		mean, square := 0.0, 0.0
		for outcome := range 1 << n {
			weight, sum := 1.0, 0.0
			for i := range p {
				if outcome>>i&1 == 1 {
					weight *= p[i]
					sum += cost[i]
				} else {
					weight *= 1 - p[i]
				}
			}
			if outcome > 0 {
				sum += visit
			}
			mean += weight * sum
			square += weight * sum * sum
		}
		gotMean, gotVariance := bridgeYear(p, cost, visit)
		if math.Abs(gotMean-mean) > 1e-9*(1+mean) || math.Abs(gotVariance-(square-mean*mean)) > 1e-7*(1+square) {
			t.Fatalf("got mean %v, variance %v; want %v, %v", gotMean, gotVariance, mean, square-mean*mean)
		}
	})
}

// Renewals in every order of first and later failures: with p the first
// failure's year and f that of each next seal, a renewal in year y is the sum
// over all chains of years that end in y.
func TestRenewalsAgainstEveryChain(t *testing.T) {
	m := testModel(t, testTables())
	r := &renewalRun{Model: m, years: 6}
	f, _ := m.Project(twoJoints(t, 3)[0].Record, day(t, "2026-01-01"), 2031)
	next := r.lifeOfNext(f)
	first := make([]float64, 6)
	for y := range first {
		first[y] = f.Failed[y]
		if y > 0 {
			first[y] -= f.Failed[y-1]
		}
	}
	var chains func(y int) float64
	chains = func(y int) float64 {
		sum := first[y]
		for before := range y {
			sum += chains(before) * next[y-before]
		}
		return sum
	}
	for y, got := range r.renewals(f) {
		if want := chains(y); math.Abs(got-want) > 1e-12 {
			t.Errorf("year %d: got %v, want %v", y, got, want)
		}
	}
}

// Two states by hand: all 40 ft in CS3 with a median of 4 years, so that the
// first year brings a renewal with p = 1 - 0.5^(365/365.25/4) = 0.1590, to the
// 2e-3 of the outlook. It costs 100 × 40 + 1000 + 5000 = 10,000; the band of
// one joint is p ± 1.2816 sqrt(p (1 - p) + (0.15 p)²) of that, cut at 0.
// In 2027 the prices are 3 % higher; the present value is at 2 % from the
// middle of each year. The next seal fails within the horizon with under 0.2 %.
func TestBudgetByHand(t *testing.T) {
	tables := testTables()
	tables.Lives[1] = Life{Kind: "other", CS1Years: 500, CS2Years: 500, CS3Years: 4}
	m := testModel(t, tables)
	r := twoJoints(t, 3)[0].Record
	r.Bridge.District = "3"
	f, _ := m.Project(r, day(t, "2026-01-01"), 2027)
	b := &Budget{FirstYear: 2026, Years: 2, NoForecast: map[Reason]int{}}
	run := newRenewalRun(m, 2)
	jobs, err := run.jobs(b, []Projected{{Record: r, Forecast: f}}, ByDistrict)
	if err != nil {
		t.Fatal(err)
	}
	run.add(jobs)
	if err := m.total(b, run); err != nil {
		t.Fatal(err)
	}
	p1 := 1 - math.Pow(0.5, 365/365.25/4)
	p2 := math.Pow(0.5, 365/365.25/4) - math.Pow(0.5, 730/365.25/4)
	const worth = 10_000_00.0
	near := func(name string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 3e-3*worth {
			t.Errorf("%s: got %.0f, want %.0f cents", name, got, want)
		}
	}
	for i, want := range []float64{p1, p2 * 1.03} {
		near("nominal", float64(b.Network[i].Nominal), want*worth)
	}
	near("low", float64(b.Network[0].Low), 0)
	near("high", float64(b.Network[0].High), (p1+1.2816*math.Hypot(math.Sqrt(p1*(1-p1)), 0.15*p1))*worth)
	near("present", float64(b.Network[1].Present), p2*worth/math.Pow(1.02, 1.5))
	all := b.Network[2]
	if all.Year != 0 || all.Nominal != b.Network[0].Nominal+b.Network[1].Nominal || all.Present != b.Network[0].Present+b.Network[1].Present {
		t.Errorf("all years: got %+v", all)
	}
	if b.Groups[0].Group != "3" || b.Groups[0].Nominal != b.Network[0].Nominal || b.Groups[0].Low != money.Nominal(0) {
		t.Errorf("district: got %+v", b.Groups[0])
	}
}

// What is certain to have failed is renewed once in the first year.
func TestBudgetOfWhatHasFailed(t *testing.T) {
	m := testModel(t, testTables())
	r := twoJoints(t, 3)[0].Record
	r.Looks = []Look{look(t, "2026-01-01", 0, 0, 0, 40)}
	f, _ := m.Project(r, day(t, "2026-01-01"), 2028)
	run := &renewalRun{Model: m, years: 3}
	got := run.renewals(f)
	if got[0] != 1 || got[1] > 0.2 {
		t.Errorf("renewals: got %v, want 1 in the first year and few after", got)
	}
}
