package life

import (
	"math"
	"testing"
)

// The logarithm of the normal's upper tail to ten digits: standard normal tables
// to z = 10 (Abramowitz & Stegun 1964, table 26.1 and 26.2); beyond, R's
// pnorm(z, lower = FALSE, log = TRUE).
func TestNormalTail(t *testing.T) {
	for _, tt := range []struct{ z, want float64 }{
		{-10, -7.619853024160527e-24},
		{0, -math.Ln2},
		{1, -1.841021645009264},
		{10, -53.23128515051247},
		{24.999, -316.6143686342157},
		{25.001, -316.6644483802399},
		{40, -804.6084420137538},
		{1000, -500007.826694812},
	} {
		if got := logNormalSurvival(tt.z); math.Abs(got/tt.want-1) > 1e-8 {
			t.Errorf("ln S(%g): got %.12g, want %.12g", tt.z, got, tt.want)
		}
	}
}

// Each distribution's pieces fit together: an interval from nowhere is a
// failure, one to nowhere a survival, and a narrow one a density.
func TestPiecesFitTogether(t *testing.T) {
	for name, s := range map[string]standard{"smallest extreme value": smallestExtremeValue{}, "normal": normal{}} {
		for _, z := range []float64{-30, -8, -2, -0.1, 0, 0.1, 1, 2.5, 3.4} {
			close := func(what string, got, want, tol float64) {
				t.Helper()
				if !(math.Abs(got-want) <= tol*(1+math.Abs(want))) {
					t.Errorf("%s at %g, %s: got %.12g, want %.12g", name, z, what, got, want)
				}
			}
			failure, survival, density := s.failure(z), s.survival(z), s.density(z)
			close("F + S", math.Exp(failure.value)+math.Exp(survival.value), 1, 1e-14)
			from := s.between(z-80, z)
			close("failure", from.value, failure.value, 1e-9)
			close("its slope", from.d2, failure.d1, 1e-9)
			close("its curve", from.d22, failure.d11, 1e-9)
			to := s.between(z, z+80)
			close("survival", to.value, survival.value, 1e-9)
			close("its slope", to.d1, survival.d1, 1e-9)
			close("its curve", to.d11, survival.d11, 1e-9)
			const h = 1e-5
			narrow := s.between(z-h/2, z+h/2)
			close("density", narrow.value-math.Log(h), density.value, 1e-5)
			close("its slope", narrow.d1+narrow.d2, density.d1, 1e-4)
			close("quantile", s.quantile(survival.value), z, 1e-9)
		}
		for _, z := range []float64{-800, 800, 1e5} {
			for _, p := range []slopes{s.failure(z), s.failure(-z)} {
				if math.IsNaN(p.value + p.d1 + p.d11) {
					t.Errorf("%s at %g: %+v is not a number", name, z, p)
				}
			}
		}
	}
}

// Far below all lives the branch that takes over goes on where the other stops:
// the logarithm of an interval's probability falls in step with z, with the same
// slopes.
func TestIntervalsFarBelowAllLives(t *testing.T) {
	s := smallestExtremeValue{}
	near, far := s.between(-600, -599), s.between(-700, -699)
	check(t, []figure{
		{"value", far.value, near.value - 100, 1e-9},
		{"d1", far.d1, near.d1, 1e-12},
		{"d2", far.d2, near.d2, 1e-12},
		{"d11", far.d11, near.d11, 1e-12},
		{"d12", far.d12, near.d12, 1e-12},
		{"d22", far.d22, near.d22, 1e-12},
		{"failure", s.failure(-700).value, s.failure(-600).value - 100, 1e-9},
		{"its slope", s.failure(-700).d1, s.failure(-600).d1, 1e-12},
	})
}
