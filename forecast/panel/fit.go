package panel

import (
	"errors"
	"fmt"

	"reseal/forecast/markov"
	"reseal/inventory/store"
)

// Fitted is a fit to a file: the estimator's own, and what people read of it.
type Fitted struct {
	*markov.Fit
	Report Report
}

// data is a file as the estimator takes it: one of the two.
type data struct {
	panel   *markov.Panel
	ratings *markov.Ratings
}

// Fit fits the options' model to the file. Errors wrap ErrInvalid, or those of
// package markov.
func (f *File) Fit(o Options) (*Fitted, error) {
	m, err := o.model(f.Covariates)
	if err != nil {
		return nil, err
	}
	d, err := f.data(o)
	if err != nil {
		return nil, err
	}
	if o.AtStart {
		return f.evaluate(o, m, d)
	}
	var fit *markov.Fit
	if d.ratings != nil {
		fit, err = markov.FitRatings(d.ratings, m, o.errors())
	} else {
		fit, err = markov.FitPanel(d.panel, m)
	}
	if err != nil {
		return nil, err
	}
	r := NewReport(fit)
	r.Subjects, r.Observations, r.Repeated = len(f.Subjects), f.Observations(), f.Repeated
	r.Alike = o.Gamma && fit.K == 0
	return &Fitted{fit, r}, nil
}

func (o Options) errors() markov.RatingError {
	return markov.RatingError{Errors: o.RatingError, FirstTrue: o.FirstTrue, Initial: o.Initial, Start: o.StartErrors}
}

// evaluate reports the likelihood at the start, where nothing is estimated.
func (f *File) evaluate(o Options, m markov.Model, d data) (*Fitted, error) {
	theta := m.Start
	if theta == nil {
		return nil, fmt.Errorf("%w options: the likelihood at the start needs starting values", ErrInvalid)
	}
	var value float64
	var err error
	var counts markov.Counts
	if d.ratings != nil {
		value, _, err = markov.RatingsLogLikelihood(d.ratings, m, o.errors(), theta)
		counts = d.ratings.Counts()
	} else {
		value, _, err = markov.LogLikelihood(d.panel, m, theta)
		counts = d.panel.Counts()
	}
	if err != nil {
		return nil, err
	}
	fit := &markov.Fit{
		Moves: o.Moves, Model: m, Covariates: len(f.Covariates), Theta: theta, Pieces: 1,
		MinusTwoLogL: -2 * value, Evaluations: 1, Counts: counts,
	}
	r := NewReport(fit)
	r.Subjects, r.Observations, r.Repeated, r.AtStart = len(f.Subjects), f.Observations(), f.Repeated, true
	return &Fitted{fit, r}, nil
}

// data fills a panel, or ratings where they may be wrong. The covariates of an
// interval are those at its start. Nothing follows the last state where it is
// absorbing.
func (f *File) data(o Options) (data, error) {
	if err := f.within(o.Moves); err != nil {
		return data{}, err
	}
	var d data
	var err error
	if len(o.RatingError) > 0 {
		d.ratings, err = markov.NewRatings(o.Moves, len(f.Covariates))
	} else {
		d.panel, err = markov.NewPanel(o.Moves, len(f.Covariates))
	}
	if err != nil {
		return d, err
	}
	for i, s := range f.Subjects {
		if err := d.subject(o, i, s); err != nil {
			return d, fmt.Errorf("subject %s: %w", s.Name, err)
		}
	}
	return d, nil
}

// within refuses a file with a state that no move leads to.
func (f *File) within(moves markov.Moves) error {
	var who string
	var beyond *Row
	for _, s := range f.Subjects {
		for i := range s.Rows {
			if r := &s.Rows[i]; r.State >= moves.States() && (beyond == nil || r.line < beyond.line) {
				who, beyond = s.Name, r
			}
		}
	}
	if beyond == nil {
		return nil
	}
	return store.Hinted(fmt.Errorf("%w: %s line %d: subject %s is in state %d, and the moves %v join states 1 to %d", ErrInvalid, f.name, beyond.line, who, beyond.State+1, moves, moves.States()),
		fmt.Sprintf("give moves that lead to every state of the file, such as %v", markov.Worsening(f.States())))
}

func (d data) subject(o Options, cluster int, s Subject) error {
	last := o.Moves.States() - 1
	if d.panel != nil {
		d.panel.Begin(cluster)
	} else if err := d.ratings.Begin(cluster, s.Rows[0].State); err != nil {
		return err
	}
	for t := 1; t < len(s.Rows); t++ {
		before, now := s.Rows[t-1], s.Rows[t]
		seen := markov.Inspected
		if o.ExactFinal && now.State == last {
			seen = markov.FailedThen
		}
		if o.Moves.Absorbing(before.State) && before.State == now.State && !(d.ratings != nil && seen == markov.Inspected) {
			continue
		}
		var err error
		if d.panel != nil {
			_, err = d.panel.Add(markov.Interval{
				Years: now.Time - before.Time, Before: d.panel.At(before.State), After: d.panel.At(now.State), Seen: seen, X: before.X,
			})
		} else {
			_, err = d.ratings.Add(markov.Rating{Years: now.Time - before.Time, State: now.State, Seen: seen, X: before.X})
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// Explain says in words why a fit failed, where the reason is the data.
func Explain(err error) string {
	switch {
	case errors.Is(err, markov.ErrImpossible):
		return "some subject's states cannot come about by the moves given: allow more moves, or rating errors"
	case errors.Is(err, markov.ErrInvalid):
		return "a fit needs subjects seen twice or more, with time in between"
	}
	return ""
}
