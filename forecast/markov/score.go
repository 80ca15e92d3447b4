package markov

import (
	"fmt"
	"math"
)

// Forecast is one yes-or-no forecast and what came of it, for a backtest: the
// probability given beforehand that a joint fails by a date, and whether it
// had.
type Forecast struct {
	Probability float64 // 0 to 1
	Failed      bool
}

// Score says how good a set of forecasts was.
type Score struct {
	Count     int
	Failed    int     // how many had failed
	Log       float64 // mean of −log of the probability given to what happened; 0 is perfect
	Brier     float64 // mean squared difference; 0 is perfect, 0.25 a coin's
	Sharpness float64 // variance of the probabilities; 0 says the same of every joint
	Deciles   []Decile
}

// Decile compares the forecasts with what happened, among a tenth of them in
// the order of their probability.
type Decile struct {
	Count    int
	Forecast float64 // mean probability
	Observed float64 // share that failed
}

// surest is the nearest that a forecast may come to 0 or 1 in the log score,
// so that one certain forecast that fails does not make it infinite.
const surest = 1e-4

// ScoreForecasts scores the forecasts, sorted by rising probability: the log
// score (Good 1952, J. R. Stat. Soc. B 14:107), the Brier score (Brier 1950,
// Mon. Weather Rev. 78:1) and calibration by decile. Forecasts nearer to 0 or 1
// than 1e-4 count as that in the log score. It is an error if they are not
// sorted or not probabilities. Without forecasts all is 0.
func ScoreForecasts(sorted []Forecast) (Score, error) {
	n := len(sorted)
	s := Score{Count: n}
	if n == 0 {
		return s, nil
	}
	mean, square, before := 0.0, 0.0, 0.0
	for i, f := range sorted {
		p := f.Probability
		if !(p >= before && p <= 1) {
			return Score{}, fmt.Errorf("%w forecast %d: probability %v after %v", ErrInvalid, i+1, p, before)
		}
		before = p
		mean += p / float64(n)
		square += p * p / float64(n)
		q := min(max(p, surest), 1-surest)
		if f.Failed {
			s.Failed++
			s.Log -= math.Log(q) / float64(n)
			s.Brier += (1 - p) * (1 - p) / float64(n)
		} else {
			s.Log -= math.Log1p(-q) / float64(n)
			s.Brier += p * p / float64(n)
		}
	}
	s.Sharpness = max(square-mean*mean, 0)
	for d := range 10 {
		if first, last := n*d/10, n*(d+1)/10; last > first {
			s.Deciles = append(s.Deciles, decile(sorted[first:last]))
		}
	}
	return s, nil
}

func decile(part []Forecast) Decile {
	d := Decile{Count: len(part)}
	for _, f := range part {
		d.Forecast += f.Probability / float64(len(part))
		if f.Failed {
			d.Observed += 1 / float64(len(part))
		}
	}
	return d
}

// Skill is how much of a rival's score the forecasts save: 1 is perfect, 0 no
// better, below 0 worse.
func Skill(score, rival float64) float64 {
	if rival <= 0 {
		return 0
	}
	return 1 - score/rival
}
