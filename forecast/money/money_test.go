package money

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The factor and the annuity at 3 % over 10 years to six digits; the same to
// be had from any table of compound interest.
func TestDiscountIdentities(t *testing.T) {
	tests := []struct {
		name string
		got  func() (float64, error)
		want float64
	}{
		{"1.03^-10", func() (float64, error) { return DiscountFactor(0.03, 10) }, 0.744094},
		{"annuity of 10 years at 3 %", func() (float64, error) { return AnnuityFactor(0.03, 10) }, 8.530203},
		{"no interest", func() (float64, error) { return AnnuityFactor(0, 7) }, 7},
		{"tiny interest keeps its digits", func() (float64, error) { return AnnuityFactor(1e-13, 7) }, 7 * (1 - 4e-13)},
		{"no years", func() (float64, error) { return AnnuityFactor(0.03, 0) }, 0},
		{"today", func() (float64, error) { return DiscountFactor(0.03, 0) }, 1},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := tt.got()
			if err != nil || math.Abs(got-tt.want) > 5e-7 {
				t.Errorf("got %.7f, %v; want %.6f", got, err, tt.want)
			}
		})
	}
}

func TestAnnuityIsTheSumOfItsPayments(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rate := rapid.Float64Range(-0.2, 0.5).Draw(t, "rate")
		years := rapid.IntRange(0, 60).Draw(t, "years")
		want := 0.0
		for y := 1; y <= years; y++ {
			f, err := DiscountFactor(rate, float64(y))
			if err != nil {
				t.Fatal(err)
			}
			want += f
		}
		got, err := AnnuityFactor(rate, years)
		if err != nil || math.Abs(got-want) > 1e-9*(1+want) {
			t.Fatalf("AnnuityFactor(%g, %d) = %g, %v; want %g", rate, years, got, err, want)
		}
	})
}

// A nominal sum at the nominal rate and the same sum deflated at the real rate
// have one present value (US OMB Circular A-94, section 7).
func TestRealAndNominalDiscountingAgree(t *testing.T) {
	const inflation = 0.025
	prices := Prices{RatePerYear: inflation}
	nominalRate := NominalRate(0.0575)
	realRate, err := nominalRate.Real(inflation)
	if err != nil {
		t.Fatal(err)
	}
	paid := Nominal(123_456_789_00)
	constant, err := prices.ToConstant(paid, 2034, 2026)
	if err != nil {
		t.Fatal(err)
	}
	a, errA := paid.Present(nominalRate, 8)
	b, errB := constant.Present(realRate, 8)
	if errA != nil || errB != nil || a-b > 1 || b-a > 1 {
		t.Errorf("nominal %v, %v; real %v, %v; want the same to a cent", a, errA, b, errB)
	}
}

func TestUnusableInputIsRefused(t *testing.T) {
	tests := []struct {
		name string
		call func() error
	}{
		{"rate of -100 %", func() error { _, err := DiscountFactor(-1, 3); return err }},
		{"rate not a number", func() error { _, err := Constant(1).Present(RealRate(math.NaN()), 3); return err }},
		{"years not a number", func() error { _, err := Nominal(1).Present(0.03, math.NaN()); return err }},
		{"amount overflows", func() error { _, err := Constant(1<<52).Present(-0.5, 60); return err }},
		{"negative years of annuity", func() error { _, err := AnnuityFactor(0.03, -1); return err }},
		{"annuity overflows", func() error { _, err := AnnuityFactor(-0.9999, 100000); return err }},
		{"inflation of -100 %", func() error { _, err := NominalRate(0.03).Real(-1); return err }},
		{"share among nobody", func() error { _, err := Split(100, nil); return err }},
		{"negative weight", func() error { _, err := Split(100, []float64{1, -1}); return err }},
		{"weight not a number", func() error { _, err := Split(100, []float64{1, math.NaN()}); return err }},
		{"infinite weight", func() error { _, err := Split(100, []float64{1, math.Inf(1)}); return err }},
		{"amount too large to share", func() error { _, err := Split(math.MinInt64, []float64{1, 1}); return err }},
		{"price rise of -100 %", func() error { _, err := Prices{RatePerYear: -1}.Factor(2020, 2021); return err }},
		{"price rise beyond any amount", func() error { _, err := Prices{RatePerYear: 9}.Factor(0, 2021); return err }},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if err := tt.call(); !errors.Is(err, ErrInvalid) {
				t.Errorf("got %v, want ErrInvalid", err)
			}
		})
	}
}

func TestSplitSumsToTheCent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cents := rapid.Int64Range(-1e13, 1e13).Draw(t, "cents")
		weights := rapid.SliceOfN(rapid.Float64Range(0, 1e6), 1, 40).Draw(t, "weights")
		parts, err := Split(cents, weights)
		if err != nil {
			t.Fatal(err)
		}
		total, sum := 0.0, int64(0)
		for _, w := range weights {
			total += w
		}
		for i, p := range parts {
			sum += p
			if total == 0 {
				continue
			}
			exact := float64(cents) * weights[i] / total
			if math.Abs(float64(p)-exact) > 1+1e-9*math.Abs(exact) {
				t.Errorf("part %d is %d, want within a cent of %g", i, p, exact)
			}
		}
		if sum != cents {
			t.Errorf("parts sum to %d, want %d", sum, cents)
		}
	})
}

func TestSplitGivesOddCentsToLargestRemainders(t *testing.T) {
	tests := []struct {
		name    string
		cents   int64
		weights []float64
		want    []int64
	}{
		{"thirds", 100, []float64{1, 1, 1}, []int64{34, 33, 33}},
		{"largest remainder", 10, []float64{1, 6, 1}, []int64{1, 8, 1}},
		{"no weights", 5, []float64{0, 0}, []int64{3, 2}},
		{"a refund", -100, []float64{1, 1, 1}, []int64{-34, -33, -33}},
		{"zero weight bears nothing", 101, []float64{1, 0, 1}, []int64{51, 0, 50}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := Split(tt.cents, tt.weights)
			if err != nil {
				t.Fatal(err)
			}
			for i := range got {
				if got[i] != tt.want[i] {
					t.Fatalf("got %v, want %v", got, tt.want)
				}
			}
		})
	}
}
