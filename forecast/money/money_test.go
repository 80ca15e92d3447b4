package money

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The factor at 3 % over 10 years to six digits, as in any table of compound
// interest.
func TestDiscountFactor(t *testing.T) {
	tests := []struct {
		name string
		got  func() (float64, error)
		want float64
	}{
		{"1.03^-10", func() (float64, error) { return DiscountFactor(0.03, 10) }, 0.744094},
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

func TestUnusableInputIsRefused(t *testing.T) {
	tests := []struct {
		name string
		call func() error
	}{
		{"rate of -100 %", func() error { _, err := DiscountFactor(-1, 3); return err }},
		{"rate not a number", func() error { _, err := DiscountFactor(math.NaN(), 3); return err }},
		{"years not a number", func() error { _, err := DiscountFactor(0.03, math.NaN()); return err }},
		{"amount overflows", func() error { _, err := scale(1<<52, 60); return err }},
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
