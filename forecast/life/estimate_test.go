package life

import (
	"errors"
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// Probabilities, quantiles and moments against gonum's distributions.
func TestEstimatesAgainstGonum(t *testing.T) {
	type distribution interface {
		CDF(float64) float64
		Quantile(float64) float64
		Mean() float64
		StdDev() float64
	}
	for _, tt := range []struct {
		name string
		fit  Fit
		want distribution
	}{
		{"weibull", Fit{Family: Weibull, Mu: 2.3, Sigma: 0.45}, distuv.Weibull{K: 1 / 0.45, Lambda: math.Exp(2.3)}},
		{"lognormal", Fit{Family: Lognormal, Mu: 2.3, Sigma: 0.7}, distuv.LogNormal{Mu: 2.3, Sigma: 0.7}},
		{"exponential", Fit{Family: Exponential, Mu: 2.3, Sigma: 1}, distuv.Weibull{K: 1, Lambda: math.Exp(2.3)}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			check(t, []figure{
				{"mean", tt.fit.Mean(), tt.want.Mean(), 1e-9},
				{"sd", tt.fit.SD(), tt.want.StdDev(), 1e-9},
				{"failed before it was made", tt.fit.FailedBy(-1), 0, 0},
				{"failed in the end", tt.fit.FailedBy(math.Inf(1)), 1, 0},
			})
			for _, p := range []float64{0.001, 0.1, 0.5, 0.9, 0.999} {
				age := tt.want.Quantile(p)
				later, err := tt.fit.QuantileFrom(age, 0.5)
				if err != nil {
					t.Fatal(err)
				}
				check(t, []figure{
					{"quantile", quantile(tt.fit, p).Value / age, 1, 1e-9},
					{"failed by", tt.fit.FailedBy(age), p, 1e-12},
					// Half of those in service at age have failed by then.
					{"failed later", tt.want.CDF(later), p + (1-p)/2, 1e-9},
				})
			}
		})
	}
}

// Far beyond every life, where the survival itself is no longer a float64, half
// of the seals still in service fail in the time stated.
func TestQuantileFromFarAges(t *testing.T) {
	for _, f := range []Fit{{Family: Weibull, Mu: 2.3, Sigma: 0.2}, {Family: Lognormal, Mu: 2.3, Sigma: 0.05}} {
		for _, age := range []float64{10, 12, 14, 20, 40, 100} {
			later, err := f.QuantileFrom(age, 0.5)
			if err != nil {
				t.Fatal(err)
			}
			check(t, []figure{{"ln of the share left", f.logSurvival(later) - f.logSurvival(age), -math.Ln2, 1e-6}})
		}
	}
}

func TestEstimateRefusals(t *testing.T) {
	f := Fit{Mu: 2, Sigma: 1}
	for _, p := range []float64{0, 1, -1, math.NaN()} {
		if _, err := f.Quantile(p); !errors.Is(err, ErrInvalid) {
			t.Errorf("Quantile(%g): got %v, want ErrInvalid", p, err)
		}
		if _, err := f.QuantileFrom(3, p); !errors.Is(err, ErrInvalid) {
			t.Errorf("QuantileFrom(3, %g): got %v, want ErrInvalid", p, err)
		}
	}
	for _, age := range []float64{-1, math.NaN(), math.Inf(1)} {
		if _, err := f.QuantileFrom(age, 0.5); !errors.Is(err, ErrInvalid) {
			t.Errorf("QuantileFrom(%g, 0.5): got %v, want ErrInvalid", age, err)
		}
	}
	if low, high := (Years{10, 3}).Interval(2); low != 10 || high != 10 {
		t.Errorf("Interval(2): got %g to %g, want the value alone", low, high)
	}
}

// 1.959964 is the normal quantile of 97.5 %.
func TestIntervalIsSymmetricInTheLogarithm(t *testing.T) {
	low, high := (Years{10, 3}).Interval(0.95)
	check(t, []figure{
		{"low", low, 10 * math.Exp(-1.959964*0.3), 1e-5},
		{"high", high, 10 * math.Exp(1.959964*0.3), 1e-5},
	})
}
