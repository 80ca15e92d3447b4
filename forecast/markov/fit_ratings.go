package markov

import (
	"fmt"
	"slices"
)

// FitRatings estimates the chain and the errors of the ratings together, by
// maximum likelihood or the posterior mode. The number of pieces is as given;
// for lives of one state that is 1.
func FitRatings(r *Ratings, m Model, errors RatingError) (*Fit, error) {
	e, err := hiddenEvaluator(r, m, errors)
	if err != nil {
		return nil, err
	}
	if r.p.counts.Intervals == 0 {
		return nil, fmt.Errorf("%w ratings: no life has two", ErrInvalid)
	}
	m.EstimatePieces = false
	own := m
	if errors.Shared && errors.Prior.SD > 0 {
		own.Prior = append(slices.Clone(m.Prior), make([]Prior, e.h.at-len(m.Prior))...)
		own.Prior = append(own.Prior, errors.Prior)
	}
	f, err := e.fit(own, e.hiddenStart(m))
	if err == errAlike {
		return FitRatings(r, m.alike(e.d.logK), errors)
	}
	if f != nil {
		f.Model = m
	}
	return f, err
}

// RatingsLogLikelihood returns the log-likelihood of ratings and its gradient.
func RatingsLogLikelihood(r *Ratings, m Model, errors RatingError, theta []float64) (value float64, gradient []float64, err error) {
	e, err := hiddenEvaluator(r, m, errors)
	if err != nil {
		return 0, nil, err
	}
	return e.at(m, theta)
}

func hiddenEvaluator(r *Ratings, m Model, errors RatingError) (*evaluator, error) {
	start := m.Start
	m.Start = nil
	d, err := newDesign(r.p.moves, r.p.covariates, m)
	if err != nil {
		return nil, err
	}
	e := newEvaluator(r.p, d)
	e.siteShare = m.SiteShare
	if e.h, err = newHidden(r, errors, d); err != nil {
		return nil, err
	}
	if start != nil && len(start) != d.params {
		return nil, fmt.Errorf("%w model: %d starting values for %d parameters", ErrInvalid, len(start), d.params)
	}
	if m.Pieces > 0 {
		e.w = m.Pieces
	}
	return e, nil
}

func (e *evaluator) hiddenStart(m Model) []float64 {
	if m.Start != nil {
		return m.Start
	}
	// crude rates: as if what was seen were true, improvements left out
	crude, _ := NewPanel(e.p.moves, 0)
	r := e.h.r
	for i := range r.tracks {
		k := &r.tracks[i]
		if k.start > 0 {
			continue
		}
		crude.Begin(i)
		for t := k.first + 1; t < k.last; t++ {
			from, to := r.ratings[t-1], r.ratings[t]
			if e.p.moves.Absorbing(int(from.state)) || to.seen == onRecord {
				continue
			}
			v := Interval{Years: e.p.steps[to.step].years, Before: crude.At(int(from.state)), After: crude.At(int(to.state)), Seen: to.seen}
			if _, err := crude.Add(v); err != nil {
				continue
			}
		}
	}
	theta := e.d.start(crude, m)
	copy(theta[e.h.at:], e.h.start())
	return theta
}
