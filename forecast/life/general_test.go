package life

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/optimize"
)

// gonumEstimate is the maximum by a general method without derivatives.
func gonumEstimate(tb testing.TB, records []Record, family Family) (mu, logSigma, logLik float64) {
	problem := optimize.Problem{Func: func(x []float64) float64 {
		return -plainLogLik(records, family, x[0], x[1])
	}}
	mu, logSigma = newLikelihood(records, family).start()
	result, err := optimize.Minimize(problem, []float64{mu, logSigma}, nil, &optimize.NelderMead{})
	if err != nil {
		tb.Fatal(err)
	}
	return result.X[0], result.X[1], -result.F
}

func TestAgainstGeneralOptimiser(t *testing.T) {
	for _, family := range []Family{Weibull, Lognormal} {
		records := drawn(300, 2.2, 11, 1)
		f := estimate(t, records, family)
		mu, logSigma, logLik := gonumEstimate(t, records, family)
		check(t, []figure{
			{family.String() + " mu", f.Mu, mu, 1e-4},
			{family.String() + " ln sigma", math.Log(f.Sigma), logSigma, 1e-4},
			{family.String() + " log-likelihood", f.LogLik, logLik, 1e-6},
		})
	}
}

func BenchmarkEstimateByNelderMead(b *testing.B) {
	benchmarkSizes(b, func(b *testing.B, records []Record) { gonumEstimate(b, records, Weibull) })
}
