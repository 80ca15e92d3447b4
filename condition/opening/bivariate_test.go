package opening

import (
	"math"
	"testing"
)

func bothAbove(h, k, r float64) float64 {
	b := newBivariate(r)
	return b.above(h, k, phi(-h), phi(-k))
}

// Identities of the bivariate normal distribution that need no table:
// P(X > 0, Y > 0) = 1/4 + asin(r)/2π (Sheppard 1899); independence; full
// correlation; and the sum over the two signs of Y.
func TestBothAbove(t *testing.T) {
	near := func(what string, got, want float64) {
		t.Helper()
		if !(math.Abs(got-want) < 1e-12) {
			t.Errorf("%s: got %.15g, want %.15g", what, got, want)
		}
	}
	for _, r := range []float64{-1, -0.999, -0.95, -0.9, -0.5, -0.1, 0, 0.2, 0.6, 0.8, 0.92, 0.93, 0.99, 0.99999, 1} {
		near("quadrant", bothAbove(0, 0, r), 0.25+math.Asin(r)/(2*math.Pi))
		for _, h := range []float64{-3, -1, -0.2, 0, 0.7, 2} {
			for _, k := range []float64{-2.5, -0.7, 0.3, 1.5} {
				near("both signs", bothAbove(h, k, r)+bothAbove(h, -k, -r), phi(-h))
				if r == 0 {
					near("independent", bothAbove(h, k, r), phi(-h)*phi(-k))
				}
				if r == 1 {
					near("one and the same", bothAbove(h, k, r), phi(-max(h, k)))
				}
			}
		}
	}
}

func TestPhiRead(t *testing.T) {
	for z := -9.0; z <= 9; z += 0.00371 {
		if got, want := phiRead(z), phi(z); math.Abs(got-want) > 3e-10 {
			t.Errorf("phiRead(%g) = %.12g, want %.12g", z, got, want)
		}
	}
	if !math.IsNaN(phiRead(math.NaN())) {
		t.Error("not a number has a probability")
	}
}
