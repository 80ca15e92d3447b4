// Package valley finds where a function of one number is lowest.
package valley

import "math"

// Lowest returns where a function with one valley between low and high is lowest,
// to within the tolerance, by golden sections (Kiefer 1953, Proc. Am. Math. Soc.
// 4:502).
func Lowest(f func(float64) float64, low, high, tolerance float64) float64 {
	ratio := (math.Sqrt(5) - 1) / 2
	a, b := high-ratio*(high-low), low+ratio*(high-low)
	fa, fb := f(a), f(b)
	for high-low > tolerance {
		if fa < fb {
			high, b, fb = b, a, fa
			a = high - ratio*(high-low)
			fa = f(a)
		} else {
			low, a, fa = a, b, fb
			b = low + ratio*(high-low)
			fb = f(b)
		}
	}
	return (low + high) / 2
}
