package panel

import (
	"fmt"
	"math"
	"strings"

	"reseal/forecast/markov"
)

// Report is what people read of a fit, ready for JSON. Rates are per year with
// all covariates at 0.
type Report struct {
	Moves        string     `json:"moves"`
	Estimates    []Estimate `json:"estimates"`
	Stays        []Stay     `json:"stays"`
	MinusTwoLogL float64    `json:"minus_2_log_l"`
	K            float64    `json:"k,omitempty"`     // 0: subjects do not differ
	Alike        bool       `json:"alike,omitempty"` // asked for, but no difference was found
	Pieces       float64    `json:"pieces"`
	Converged    bool       `json:"converged"`
	AtStart      bool       `json:"at_start,omitempty"` // evaluated at the start, not fitted
	Evaluations  int        `json:"evaluations"`

	Subjects     int            `json:"subjects,omitempty"` // in the file
	Observations int            `json:"observations,omitempty"`
	Repeated     int            `json:"repeated,omitempty"` // rows that said the same as another
	Lives        int            `json:"lives"`
	Clusters     int            `json:"clusters"`
	Intervals    int            `json:"intervals"`
	Years        float64        `json:"years"`
	Approximate  int            `json:"approximate,omitempty"`
	LeftOut      map[string]int `json:"left_out"` // intervals by reason
}

// Estimate is one parameter: a rate per year, a hazard ratio, a probability of
// a rating error, or k. SE is on the log scale (the logit for a probability).
// SE, Lower and Upper are 0 where the data were too few to tell, or where the
// estimate lies at the edge of its range, as a rate of next to 0 does.
type Estimate struct {
	Name  string  `json:"name"`
	Value float64 `json:"value"`
	SE    float64 `json:"log_se"`
	Lower float64 `json:"lower_95"`
	Upper float64 `json:"upper_95"`
}

// Stay is how long a subject stays in a state that it can leave.
type Stay struct {
	State       int     `json:"state"` // from 1
	MeanYears   float64 `json:"mean_years"`
	Lower       float64 `json:"lower_95"`
	Upper       float64 `json:"upper_95"`
	MedianYears float64 `json:"median_years"`
}

// Reasons for leaving an interval out.
const (
	Improved   = "improved, by moves that are not allowed"
	Impossible = "cannot come about by the moves"
	NoTime     = "no time in between"
	BadShares  = "shares do not add up"
)

// NewReport reads a fit.
func NewReport(f *markov.Fit) Report {
	c := f.Counts
	r := Report{
		Moves: f.Moves.String(), MinusTwoLogL: f.MinusTwoLogL, K: f.K, Pieces: f.Pieces, Converged: f.Converged,
		Evaluations: f.Evaluations, Lives: c.Lives, Clusters: c.Clusters, Intervals: c.Intervals, Years: c.Years,
		Approximate: c.Approximate, LeftOut: map[string]int{},
	}
	for reason, n := range map[string]int{Improved: c.Improved, Impossible: c.Impossible, NoTime: c.NoTime, BadShares: c.BadShares} {
		if n > 0 {
			r.LeftOut[reason] = n
		}
	}
	robust := f.Pieces != 1 || c.Clusters < c.Lives
	for i, e := range f.Estimates {
		se := e.LogSE
		if robust {
			se = e.RobustLogSE
		}
		if !(se < widest) {
			se, e.Lower, e.Upper = 0, 0, 0
		}
		r.Estimates = append(r.Estimates, Estimate{nameOf(f, i, e.Name), e.Value, se, e.Lower, e.Upper})
	}
	covariance := f.Covariance
	if robust {
		covariance = f.Sandwich
	}
	r.Stays = stays(f, covariance)
	return r
}

// widest is a standard error on the log scale beyond which nothing is known.
const widest = 20

// nameOf is the name of a parameter: the covariate's own where it has one
// effect on all moves.
func nameOf(f *markov.Fit, parameter int, name string) string {
	at := groups(f.Model.RateGroups, len(f.Moves))
	for c, covariate := range f.Model.Covariates {
		count := len(f.Moves)
		if f.Model.EffectGroups != nil {
			count = groups(f.Model.EffectGroups[c], len(f.Moves))
		}
		if parameter == at && count == 1 {
			return covariate
		}
		at += count
	}
	return name
}

// stays are the mean stays with 95 % intervals by the delta method on the
// logarithm: with q = Σ q_m over the moves that leave the state,
//
//	∂ log(1/q) / ∂ log q_m = −q_m / q
func stays(f *markov.Fit, covariance []float64) []Stay {
	n := len(f.Theta)
	var out []Stay
	for state := range f.Moves.States() {
		slope, total := make([]float64, n), 0.0
		for m, v := range f.Moves {
			at := m
			if f.Model.RateGroups != nil {
				at = f.Model.RateGroups[m]
			}
			if v.From == state {
				q := math.Exp(f.Theta[at])
				slope[at] += q
				total += q
			}
		}
		if total == 0 {
			continue
		}
		variance := 0.0
		for i, a := range slope {
			for j, b := range slope {
				if a != 0 && b != 0 && covariance != nil {
					variance += a * b / (total * total) * covariance[i*n+j]
				}
			}
		}
		s := Stay{State: state + 1, MeanYears: 1 / total, MedianYears: math.Ln2 / total}
		if covariance != nil && variance < widest*widest {
			wide := math.Exp(z95 * math.Sqrt(max(variance, 0)))
			s.Lower, s.Upper = s.MeanYears/wide, s.MeanYears*wide
		}
		out = append(out, s)
	}
	return out
}

// z95 is the 97.5 % point of the standard normal.
const z95 = 1.959963984540054

// HazardWords says a hazard ratio in plain words: "salted roads: 1.4 times as
// fast, 1.2-1.7".
func HazardWords(what string, e Estimate) string {
	words := fmt.Sprintf("%s: %s times as fast", what, short(e.Value))
	if e.SE == 0 {
		return words + ", too few data for an interval"
	}
	words += fmt.Sprintf(", %s–%s", short(e.Lower), short(e.Upper))
	if e.Lower < 1 && e.Upper > 1 {
		words += "; it may make no difference"
	}
	return words
}

// short writes a factor with as many digits as it is worth.
func short(v float64) string {
	switch {
	case v < 0.1:
		return fmt.Sprintf("%.2g", v)
	case v < 10:
		return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0")
	}
	return fmt.Sprintf("%.0f", v)
}
