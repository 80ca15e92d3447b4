package score

import (
	"errors"
	"fmt"
	"math"
)

// ErrInvalid is wrapped by every error about an argument that cannot be used.
var ErrInvalid = errors.New("invalid forecasts")

// Case is one joint at one later inspection.
type Case struct {
	Bridge int64 // joints of one bridge are not independent
	Failed bool
}

func (c Case) outcome() float64 {
	if c.Failed {
		return 1
	}
	return 0
}

// Rule is a proper scoring rule of one probability. Less is better in both.
type Rule int

// The rules. A forecaster gains nothing in either by stating anything but what
// it believes.
const (
	// Brier is (p - o)², o being 1 for a failure and 0 otherwise: half of Brier's
	// own sum over both outcomes. (Brier 1950, Monthly Weather Review 78:1.)
	Brier Rule = iota
	// Log is -ln of the probability given to what happened, with forecasts held
	// between [Floor] and 1 - Floor. (Good 1952, J. R. Stat. Soc. B 14:107.)
	Log
)

// Floor is the least probability that the logarithmic score takes, and 1 - Floor
// the greatest: one wrong "never" would otherwise be infinitely bad, and a rival
// that says only never and always could not be compared. It flatters such rivals.
// Held at both ends, the rule stays proper.
const Floor = 0.001

// String is the rule's name.
func (r Rule) String() string {
	if r == Log {
		return "log score"
	}
	return "Brier score"
}

func (r Rule) of(p float64, failed bool) float64 {
	if r == Log {
		p = min(max(p, Floor), 1-Floor)
	}
	if !failed {
		p = 1 - p // now the probability of what happened
	}
	if r == Log {
		return -math.Log(p)
	}
	return (1 - p) * (1 - p)
}

// Summary is how one forecaster did.
type Summary struct {
	Cases, Failures int
	Brier, Log      float64 // means over the cases; less is better
	Floored         int     // forecasts that the log score moved to Floor or 1 - Floor
	MeanForecast    float64 // to compare with Failures/Cases
	// Sharpness is the variance of the forecasts: 0 where every joint is given
	// the same probability. It says how much they tell joints apart, not whether
	// they are right. (Murphy & Winkler 1987, Monthly Weather Review 115:1330.)
	Sharpness float64
}

// Summarize scores forecasts, one probability of failure for each case. It
// needs one case at least and probabilities from 0 to 1.
func Summarize(cases []Case, forecasts []float64) (Summary, error) {
	if err := validate(cases, forecasts); err != nil {
		return Summary{}, err
	}
	s := Summary{Cases: len(cases)}
	n := float64(len(cases))
	for i, c := range cases {
		p := forecasts[i]
		s.Brier += Brier.of(p, c.Failed) / n
		s.Log += Log.of(p, c.Failed) / n
		s.MeanForecast += p / n
		if c.Failed {
			s.Failures++
		}
		if p < Floor || p > 1-Floor {
			s.Floored++
		}
	}
	for _, p := range forecasts {
		s.Sharpness += (p - s.MeanForecast) * (p - s.MeanForecast) / n
	}
	return s, nil
}

func validate(cases []Case, forecasts []float64) error {
	if len(cases) == 0 || len(cases) != len(forecasts) {
		return fmt.Errorf("%w: %d forecasts for %d cases; one is needed for each, and one case at least", ErrInvalid, len(forecasts), len(cases))
	}
	for i, p := range forecasts {
		if !(p >= 0 && p <= 1) {
			return fmt.Errorf("%w: case %d has a probability of %g", ErrInvalid, i+1, p)
		}
	}
	return nil
}
