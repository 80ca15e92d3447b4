package forecast

import (
	"math"
	"slices"
)

// surelyKnown is the uncertainty up to which a forecast by the estimates alone
// stands for the average over draws of the parameters. In trials the two then
// differed by some 0.003 at most in any year's probability of failure, which is what
// an Outlook is accurate to: the difference grows with the square of the
// uncertainty, and joints differ by far more from each other
// (TestDrawsOnlyWhereTheyMatter).
const surelyKnown = 0.1

// uncertainty is how badly a fit knows the rates of a row of covariates: of the
// states that a foot may be in, the largest standard deviation of the logarithm of
// its mean years from there to CS4, by the fit's covariance and the delta method.
func (f *Fit) uncertainty(x []float64) (float64, error) {
	const h = 1e-4
	n := len(f.Theta)
	slopes := make([][3]float64, n) // by parameter and state
	theta := slices.Clone(f.Theta)
	for i := range theta {
		for _, step := range []float64{h, -h} {
			theta[i] = f.Theta[i] + step
			c, err := f.chain(theta, x)
			if err != nil {
				return 0, err
			}
			stay, years := c.MeanYears(), 0.0
			for state := 2; state >= 0; state-- {
				years += stay[state]
				slopes[i][state] += math.Log(years) / (2 * step)
			}
		}
		theta[i] = f.Theta[i]
	}
	most := 0.0
	for state := range 3 {
		variance := 0.0
		for i := range n {
			for j := range n {
				variance += slopes[i][state] * slopes[j][state] * f.Covariance[i*n+j]
			}
		}
		most = max(most, variance)
	}
	return math.Sqrt(most), nil
}
