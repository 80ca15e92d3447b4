package opening

import (
	"math"
	"testing"
)

// A curve is near its function where that is smooth, and says so where it is
// not.
func TestCurve(t *testing.T) {
	for _, test := range []struct {
		name string
		f    func(year float64) float64
		ok   bool
	}{
		{"constant", func(float64) float64 { return 0.25 }, true},
		{"steep at first", func(y float64) float64 { return 1 - math.Exp(-(y-2026)/4) }, true},
		{"normal", func(y float64) float64 { return phi((y - 2050) / 15) }, true},
		{"a step", func(y float64) float64 { return math.Round((y - 2026) / 60) }, false},
	} {
		c, ok := newCurve(test.f, 2026, 2086, 60)
		if ok != test.ok {
			t.Errorf("%s: good enough %v, want %v", test.name, ok, test.ok)
		}
		for y := 2026.0; ok && y <= 2086; y += 0.25 {
			if got, want := c.at(y), test.f(y); math.Abs(got-want) > 1e-5 {
				t.Errorf("%s: %g in %g, want %g", test.name, got, y, want)
			}
		}
	}
}
