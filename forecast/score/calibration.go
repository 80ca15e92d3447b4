package score

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// deciles is the number of equal steps of probability that cases are sorted
// into.
const deciles = 10

// Decile is the cases whose forecast lay in one tenth of the range from 0 to 1,
// the lower end included, 1 in the last.
type Decile struct {
	Low, High       float64
	Cases, Failures int
	MeanForecast    float64 // 0 where there are no cases
	Observed        float64 // share that failed; 0 where there are no cases
	// ObservedLow and ObservedHigh hold the true share with 90 % confidence,
	// taking the cases as independent; 0 and 1 where there are none. (Clopper &
	// Pearson 1934, Biometrika 26:404.)
	ObservedLow, ObservedHigh float64
}

// Fits is whether the mean forecast lies in the interval of the observed share.
func (d Decile) Fits() bool {
	return d.Cases == 0 || d.ObservedLow <= d.MeanForecast && d.MeanForecast <= d.ObservedHigh
}

// Calibration is ten rows, from the lowest forecasts to the highest: do as many
// fail as was said?
func Calibration(cases []Case, forecasts []float64) ([]Decile, error) {
	if err := validate(cases, forecasts); err != nil {
		return nil, err
	}
	rows := make([]Decile, deciles)
	for i, c := range cases {
		d := &rows[decileOf(forecasts[i])]
		d.Cases++
		d.MeanForecast += forecasts[i]
		if c.Failed {
			d.Failures++
		}
	}
	for k := range rows {
		d := &rows[k]
		d.Low, d.High = float64(k)/deciles, float64(k+1)/deciles
		d.ObservedHigh = 1
		if d.Cases > 0 {
			d.MeanForecast /= float64(d.Cases)
			d.Observed = float64(d.Failures) / float64(d.Cases)
			d.ObservedLow, d.ObservedHigh = binomialInterval(d.Failures, d.Cases, 0.90)
		}
	}
	return rows, nil
}

func decileOf(p float64) int { return min(int(p*deciles), deciles-1) }

// binomialInterval is Clopper and Pearson's: with a = (1 - confidence)/2, the
// shares at which x or more, and x or fewer, of n have probability a.
func binomialInterval(x, n int, confidence float64) (low, high float64) {
	a := (1 - confidence) / 2
	low, high = 0, 1
	if x > 0 {
		low = mathext.InvRegIncBeta(float64(x), float64(n-x+1), a)
	}
	if x < n {
		high = mathext.InvRegIncBeta(float64(x+1), float64(n-x), 1-a)
	}
	return low, high
}

// Parts is the Brier score taken apart by decile of the forecast:
//
//	Brier = Reliability - Resolution + Uncertainty + Within
//
// It holds exactly. Within is 0 where all forecasts of a decile are equal; the
// rest is then Murphy's. (Murphy 1973, J. Applied Meteorology 12:595; Within,
// the sum of their two further terms: Stephenson, Coelho & Jolliffe 2008,
// Weather and Forecasting 23:752.)
type Parts struct {
	Reliability float64 // how far forecasts are from what then happened; 0 is best
	Resolution  float64 // how far deciles' outcomes are apart; more is better
	Uncertainty float64 // what the cases themselves leave open
	Within      float64 // what deciles hide: spread less twice the covariance
}

// Decompose takes the Brier score apart.
func Decompose(cases []Case, forecasts []float64) (Parts, error) {
	rows, err := Calibration(cases, forecasts)
	if err != nil {
		return Parts{}, err
	}
	n := float64(len(cases))
	failures := 0
	for _, d := range rows {
		failures += d.Failures
	}
	overall := float64(failures) / n
	p := Parts{Uncertainty: overall * (1 - overall)}
	for _, d := range rows {
		share := float64(d.Cases) / n
		p.Reliability += share * math.Pow(d.MeanForecast-d.Observed, 2)
		p.Resolution += share * math.Pow(d.Observed-overall, 2)
	}
	for i, c := range cases {
		d := rows[decileOf(forecasts[i])]
		spread := forecasts[i] - d.MeanForecast
		p.Within += spread * (spread - 2*(c.outcome()-d.Observed)) / n
	}
	return p, nil
}
