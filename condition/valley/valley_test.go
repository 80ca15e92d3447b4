package valley_test

import (
	"math"
	"testing"

	"reseal/condition/valley"
)

// cosh(x − 1.3) is lowest at 1.3; a falling line at its end.
func TestLowest(t *testing.T) {
	if got := valley.Lowest(func(x float64) float64 { return math.Cosh(x - 1.3) }, -4, 9, 1e-6); math.Abs(got-1.3) > 1e-6 {
		t.Errorf("got %v, want 1.3", got)
	}
	if got := valley.Lowest(func(x float64) float64 { return -x }, 0, 2, 1e-3); got < 1.999 {
		t.Errorf("got %v, want 2", got)
	}
}
