package backtest

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"

	"reseal/forecast/score"
)

// Case is one subject at one later inspection. Subjects that had failed
// already when the forecast was made are no cases.
type Case struct {
	Cluster    int64   // cases of one cluster, such as a bridge, are not independent
	Kind       string  // seal kind, or another class that results are told apart by
	YearsAhead float64 // from the day of the forecast
	Failed     bool
	Unseen     bool // nobody can tell whether it had failed, for work was done before it was found so
	// Forecasts holds a probability of having failed for each forecaster; below
	// 0 where it has none, as a rule by age has none where no age is known.
	Forecasts []float64
}

// Model is the place of the model among the forecasters.
const Model = 0

// Result is how the forecasters did.
type Result struct {
	Forecasters []string `json:"forecasters"` // the model first
	Cases       int      `json:"cases"`
	Failures    int      `json:"failures"`
	Clusters    int      `json:"clusters"`
	Unseen      int      `json:"worked_on_unseen"` // later inspections at which nobody can tell; no cases
	Groups      []Group  `json:"groups"`           // all, then by kind and by years ahead
	Calibration []Decile `json:"calibration"`
	Words       []string `json:"words"`
}

// Group is how they did on some of the cases.
type Group struct {
	By    string `json:"by"` // empty for all
	Name  string `json:"name"`
	Cases int    `json:"cases"`
	Rows  []Row  `json:"rows"` // by forecaster
}

// Row is one forecaster in one group, on the cases for which it has a
// forecast.
type Row struct {
	Forecaster   string  `json:"forecaster"`
	Cases        int     `json:"cases"`
	Failures     int     `json:"failures"`
	MeanForecast float64 `json:"mean_forecast"`
	Log          float64 `json:"log_score"`
	Brier        float64 `json:"brier_score"`
	Sharpness    float64 `json:"sharpness"`
	// Against the model on the same cases; nil for the model itself.
	LogGain   *Gain `json:"log_gain,omitempty"`
	BrierGain *Gain `json:"brier_gain,omitempty"`
}

// Gain is by how much the model's score is lower than a rival's.
type Gain struct {
	Gain    float64 `json:"gain"`
	Lower   float64 `json:"lower_95"`
	Upper   float64 `json:"upper_95"`
	Verdict string  `json:"verdict"` // better, worse or cannot tell
	words   string
}

// Decile is the cases whose forecast by the model lay in one tenth of the
// range from 0 to 1. With some unseen the interval goes from that of none of them
// failed to that of all, and the mean forecast is of them too.
type Decile struct {
	Low      float64 `json:"from"`
	High     float64 `json:"to"`
	Cases    int     `json:"cases"`
	Failures int     `json:"failures"`
	Forecast float64 `json:"mean_forecast"`
	Observed float64 `json:"observed"` // of the cases
	Unseen   int     `json:"worked_on_unseen"`
	Lower    float64 `json:"observed_lower_90"`
	Upper    float64 `json:"observed_upper_90"`
	Fits     bool    `json:"fits"`
}

// Judge scores the forecasters, named with the model first; by names what
// Case.Kind tells apart.
func Judge(forecasters []string, by string, cases []Case) (Result, error) {
	r := Result{Forecasters: forecasters}
	cases, unseen := seenFirst(cases)
	r.Cases, r.Unseen = len(cases), len(unseen)
	if len(cases) == 0 {
		return r, fmt.Errorf("%w: there are no cases to judge", score.ErrInvalid)
	}
	clusters := map[int64]bool{}
	for i, c := range cases {
		if len(c.Forecasts) != len(forecasters) || !(c.Forecasts[Model] >= 0) {
			return r, fmt.Errorf("%w: case %d has %d forecasts, %d are needed and the model's always", score.ErrInvalid, i+1, len(c.Forecasts), len(forecasters))
		}
		clusters[c.Cluster] = true
		if c.Failed {
			r.Failures++
		}
	}
	r.Clusters = len(clusters)
	groups := []Group{{Name: "all"}}
	parts := [][]Case{cases}
	for _, split := range []struct {
		by string
		of func(Case) string
	}{{by, func(c Case) string { return c.Kind }}, {"ahead by", yearsAhead}} {
		names := map[string][]Case{}
		for _, c := range cases {
			names[split.of(c)] = append(names[split.of(c)], c)
		}
		for _, name := range slices.Sorted(maps.Keys(names)) {
			if len(names) > 1 {
				groups, parts = append(groups, Group{By: split.by, Name: name}), append(parts, names[name])
			}
		}
	}
	for i := range groups {
		if err := groups[i].judge(forecasters, parts[i]); err != nil {
			return r, err
		}
	}
	r.Groups = groups
	var err error
	if r.Calibration, err = calibrate(cases, unseen); err != nil {
		return r, err
	}
	r.Words = r.words()
	return r, nil
}

// seenFirst parts the cases at which somebody could tell from the others.
func seenFirst(cases []Case) (seen, unseen []Case) {
	for _, c := range cases {
		if c.Unseen {
			unseen = append(unseen, c)
		} else {
			seen = append(seen, c)
		}
	}
	return seen, unseen
}

// yearsAhead puts cases into classes of time ahead.
func yearsAhead(c Case) string {
	switch y := c.YearsAhead; {
	case y <= 1:
		return "0 to 1 years"
	case y <= 2:
		return "1 to 2 years"
	case y <= 4:
		return "2 to 4 years"
	case y <= 7:
		return "4 to 7 years"
	}
	return "over 7 years"
}

func (g *Group) judge(forecasters []string, cases []Case) error {
	g.Cases = len(cases)
	for f, name := range forecasters {
		var seen []score.Case
		var own, model []float64
		for _, c := range cases {
			if p := c.Forecasts[f]; p >= 0 {
				seen = append(seen, score.Case{Bridge: c.Cluster, Failed: c.Failed})
				own, model = append(own, p), append(model, c.Forecasts[Model])
			}
		}
		row := Row{Forecaster: name}
		if len(seen) > 0 {
			s, err := score.Summarize(seen, own)
			if err != nil {
				return fmt.Errorf("%s: %w", name, err)
			}
			row = Row{
				Forecaster: name, Cases: s.Cases, Failures: s.Failures, MeanForecast: s.MeanForecast,
				Log: s.Log, Brier: s.Brier, Sharpness: s.Sharpness,
			}
			if f != Model {
				if row.LogGain, err = gain(seen, model, own, score.Log, name); err != nil {
					return err
				}
				if row.BrierGain, err = gain(seen, model, own, score.Brier, name); err != nil {
					return err
				}
			}
		}
		g.Rows = append(g.Rows, row)
	}
	return nil
}

func gain(cases []score.Case, model, rival []float64, rule score.Rule, name string) (*Gain, error) {
	c, err := score.Compare(cases, model, rival, rule)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	verdict := map[score.Verdict]string{
		score.ModelBetter: "better", score.RivalBetter: "worse", score.CannotTell: "cannot tell",
	}[c.Verdict()]
	return &Gain{c.Gain, c.Low, c.High, verdict, c.Words(name)}, nil
}

// calibrate sets what the model said beside what was seen. What became of the unseen
// lies between none and all of them failed (bounds without an assumption: Manski 1990,
// American Economic Review 80:319, from memory).
func calibrate(cases, unseen []Case) ([]Decile, error) {
	rows := func(more []Case, failed bool) ([]score.Decile, error) {
		var seen []score.Case
		var model []float64
		for _, c := range cases {
			seen, model = append(seen, score.Case{Bridge: c.Cluster, Failed: c.Failed}), append(model, c.Forecasts[Model])
		}
		for _, c := range more {
			seen, model = append(seen, score.Case{Bridge: c.Cluster, Failed: failed}), append(model, c.Forecasts[Model])
		}
		return score.Calibration(seen, model)
	}
	seen, err := rows(nil, false)
	if err != nil {
		return nil, err
	}
	none, err := rows(unseen, false)
	if err != nil {
		return nil, err
	}
	all, err := rows(unseen, true)
	var out []Decile
	for i, d := range seen {
		row := Decile{
			Low: d.Low, High: d.High, Cases: d.Cases, Failures: d.Failures, Forecast: none[i].MeanForecast, Observed: d.Observed,
			Unseen: none[i].Cases - d.Cases, Lower: none[i].ObservedLow, Upper: all[i].ObservedHigh,
		}
		row.Fits = none[i].Cases == 0 || row.Lower <= row.Forecast && row.Forecast <= row.Upper
		out = append(out, row)
	}
	return out, err
}

// CutAge is the age that told best so far whether a subject had failed: with
// "failed" said of all that are that old it is wrong the least often. It is the
// rival "replace at a fixed age". The answer is +Inf where saying "not failed"
// of all is wrong the least often.
type CutAge struct{ seen []aged }

type aged struct {
	years  float64
	failed bool
}

// Add adds a subject seen at an age.
func (c *CutAge) Add(years float64, failed bool) { c.seen = append(c.seen, aged{years, failed}) }

// Age is the cut.
func (c *CutAge) Age() float64 {
	slices.SortFunc(c.seen, func(a, b aged) int { return cmp.Compare(a.years, b.years) })
	wrong, failures := 0, 0
	for _, s := range c.seen {
		if s.failed {
			failures++
		}
	}
	least, best := failures, math.Inf(1)
	// From the oldest down: each not failed becomes wrong, each failed right.
	wrong = failures
	for i := len(c.seen) - 1; i >= 0; i-- {
		if c.seen[i].failed {
			wrong--
		} else {
			wrong++
		}
		if (i == 0 || c.seen[i-1].years < c.seen[i].years) && wrong < least {
			least, best = wrong, c.seen[i].years
		}
	}
	return best
}
