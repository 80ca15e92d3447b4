package money

import (
	"errors"
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Invented jobs. The quartiles of 0.9, 1.0, 1.2, 2.0 are R's quantile(): 0.975,
// 1.1, 1.4.
func TestReviewCosts(t *testing.T) {
	jobs := []Done{
		{"reseal", "north", 1000_00, 1200_00},
		{"reseal", "north", 1000_00, 900_00},
		{"reseal", "north", 2000_00, 2000_00},
		{"reseal", "north", 500_00, 1000_00},
		{"new gland", "south", 800_00, 0},
		{"reseal", "east", 100_00, 110_00},
	}
	want := []Review{
		{"new gland", "south", 1, 800_00, 0, 0, 0, 0, 0},
		{"reseal", "east", 1, 100_00, 110_00, 1.1, 1.1, 1.1, 1.1},
		{"reseal", "north", 4, 4500_00, 5100_00, 5100.0 / 4500, 1.1, 0.975, 1.4},
	}
	near := cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-12 })
	for range 2 {
		got, err := ReviewCosts(jobs)
		if diff := cmp.Diff(want, got, near); err != nil || diff != "" {
			t.Errorf("%v (-want +got):\n%s", err, diff)
		}
		slices.Reverse(jobs) // the order makes no difference
	}
	for name, bad := range map[string]Done{
		"nothing estimated": {Actual: 5}, "negative cost": {Estimated: 5, Actual: -1}, "beyond any amount": {Estimated: 5, Actual: math.MaxInt64},
	} {
		if _, err := ReviewCosts([]Done{bad}); !errors.Is(err, ErrInvalid) {
			t.Errorf("%s: got %v, want ErrInvalid", name, err)
		}
	}
}
