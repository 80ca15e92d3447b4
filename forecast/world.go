package forecast

import (
	"fmt"
	"math"
	"slices"

	"reseal/inventory"
)

// world is another set of rates that may be the true one: bands are as wide as the
// answers of several worlds lie apart.
type world struct {
	*projector
	asOf    inventory.Date
	through int
}

// worlds are the draws of the fit's parameters, or of the life table one in which
// all seals last longer and one in which they last less, by the setting
// life_error; none where that is 0.
func (m *Model) worlds(asOf inventory.Date, through int) ([]world, error) {
	models := m.draws
	if e := m.tables.Settings.LifeError; m.fitted == nil && e > 0 {
		for _, longer := range []float64{math.Exp(e), math.Exp(-e)} {
			t := *m.tables
			t.Lives = slices.Clone(t.Lives)
			for i := range t.Lives {
				l := &t.Lives[i]
				l.CS1Years, l.CS2Years, l.CS3Years = l.CS1Years*longer, l.CS2Years*longer, l.CS3Years*longer
			}
			other, err := NewModel(&t)
			if err != nil {
				return nil, fmt.Errorf("the life table with an error of %g (setting life_error): %w", e, err)
			}
			models = append(models, other)
		}
	}
	var out []world
	for _, other := range models {
		out = append(out, world{&projector{Model: other}, asOf, through})
	}
	return out, nil
}

// see projects joints by the world's rates.
func (w *world) see(joints []Projected) []Projected {
	out := make([]Projected, len(joints))
	for i := range joints {
		out[i].Record = joints[i].Record
		out[i].Forecast, out[i].Reason = w.project(joints[i].Record, w.asOf, w.through)
	}
	return out
}

// spread is the variance of what the worlds answer; 0 of none.
func spread[T any](worlds []T, answer func(T) float64) float64 {
	if len(worlds) == 0 {
		return 0
	}
	mean, squares := 0.0, 0.0
	for _, w := range worlds {
		mean += answer(w) / float64(len(worlds))
	}
	for _, w := range worlds {
		d := answer(w) - mean
		squares += d * d / float64(len(worlds))
	}
	return squares
}

// BandWords say what a 10-90 % band of money or condition holds.
func (t *Tables) BandWords() string {
	rates := fmt.Sprintf("an error of %.3g %% common to the years of the life table (setting life_error)", 100*t.Settings.LifeError)
	if t.Fit != nil {
		rates = "what the fit leaves unknown of the rates"
	}
	return fmt.Sprintf("10 and 90 %%: which seals fail when, %s, and an error of %.3g %% common to all costs (setting cost_error).", rates, 100*t.Settings.CostError)
}
