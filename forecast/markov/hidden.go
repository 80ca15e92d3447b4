package markov

import (
	"fmt"
	"math"
)

// Ratings are lives in which an inspection may be wrong: the true state follows
// the chain, what was seen is noisy. Fill it with Begin and Add for subjects
// that are in one state, or with Begin and AddRun for joints seen by shares,
// and fit it with FitRatings.
type Ratings struct {
	p       *Panel
	first   []int32 // first track of each life
	tracks  []track
	ratings []rating
}

// track is what was seen of one part of a life, always in one state. Where
// several beginnings are possible, each has tracks of its own.
type track struct {
	first, last int32   // ratings
	share       float64 // of the length
	start       int32   // of the life's beginnings, or -1: of all
	certain     bool    // the first rating has no error
}

type rating struct {
	step  int32 // -1 for the first of a track
	state uint8
	seen  Seen
}

// onRecord is a look at which all that is known is that there was no failure,
// and after which others come.
const onRecord Seen = FailedSince + 1

// Rating is one inspection of a subject.
type Rating struct {
	Years float64   // since the rating before, over 0
	State int       // as seen, from 0; not used unless Inspected
	Seen  Seen      // FailedThen and NotYetFailed are seen without error
	X     []float64 // covariates since the rating before
}

// NewRatings makes an empty set for the moves of the true state.
func NewRatings(moves Moves, covariates int) (*Ratings, error) {
	p, err := NewPanel(moves, covariates)
	if err != nil {
		return nil, err
	}
	for i := range p.n * p.n { // what passes unseen may be any move
		if p.reach[i] {
			p.entry(i)
		}
	}
	return &Ratings{p: p}, nil
}

// Begin starts a life of one state with its first rating.
func (r *Ratings) Begin(cluster, state int) error {
	if state < 0 || state >= r.p.n {
		return fmt.Errorf("%w state %d", ErrInvalid, state+1)
	}
	r.BeginShares(cluster)
	at := int32(len(r.ratings))
	r.tracks = append(r.tracks, track{first: at, last: at + 1, share: 1, start: -1})
	r.ratings = append(r.ratings, rating{step: -1, state: uint8(state)})
	return nil
}

// Add adds a rating to the life begun last and reports whether it was taken.
func (r *Ratings) Add(v Rating) (taken bool, err error) {
	p := r.p
	if len(r.tracks) == 0 || v.State < 0 || v.State >= p.n || len(v.X) != p.covariates {
		return false, fmt.Errorf("%w rating: state %d, %d covariates", ErrInvalid, v.State+1, len(v.X))
	}
	if !(v.Years > 0) || math.IsInf(v.Years, 1) {
		p.counts.NoTime++
		return false, nil
	}
	if r.ratings[len(r.ratings)-1].seen != Inspected {
		p.counts.Impossible++ // nothing comes after a failure or the end of the record
		return false, nil
	}
	for i := range p.n - 1 {
		switch v.Seen {
		case FailedThen:
			p.entry(p.failedCode(i))
		case NotYetFailed:
			p.entry(p.survivedCode(i))
		}
	}
	p.counts.Intervals++
	p.counts.Years += v.Years
	r.ratings = append(r.ratings, rating{p.step(v.Years, v.X), uint8(v.State), v.Seen})
	r.tracks[len(r.tracks)-1].last++
	return true, nil
}

// Counts returns what the set holds so far.
func (r *Ratings) Counts() Counts { return r.p.Counts() }

// RatingError says which errors a rating can have. Its parameters follow those
// of the Model: for each error the logarithm of its probability over that of
// the right rating in the same true state.
type RatingError struct {
	Errors    Moves     // from the true state to the one seen
	FirstTrue bool      // the first rating of each life has no error
	Shared    bool      // one probability of any error, the same in each true state, shared among the errors there
	Prior     Prior     // of the logit of that probability, where Shared
	Initial   []float64 // probability of each true state at the first rating; nil: all in the first
	Start     []float64 // probability of each error to start from; nil: 0.05 each
}

// hidden is the hidden part of an evaluator.
type hidden struct {
	r       *Ratings
	errors  RatingError
	at      int       // first parameter of the errors
	seen    []float64 // probability of each rating by true state, row by row
	initial []float64
	prob    []float64          // the evaluator's table without the logarithm
	ways    [MaxStates]float64 // errors possible in each true state
}

func newHidden(r *Ratings, errors RatingError, d *design) (*hidden, error) {
	n := r.p.n
	h := &hidden{r: r, errors: errors, at: d.params, seen: make([]float64, n*n), initial: errors.Initial}
	for i, v := range errors.Errors {
		if v.From < 0 || v.To < 0 || v.From >= n || v.To >= n || v.From == v.To {
			return nil, fmt.Errorf("%w rating error %v", ErrInvalid, v)
		}
		if errors.Start != nil && (len(errors.Start) != len(errors.Errors) || !(errors.Start[i] > 0 && errors.Start[i] < 1)) {
			return nil, fmt.Errorf("%w rating errors: starting probabilities %v", ErrInvalid, errors.Start)
		}
		h.ways[v.From]++
		if !errors.Shared {
			d.names = append(d.names, fmt.Sprintf("seen %d in %d", v.To+1, v.From+1))
			d.params++
		}
	}
	if errors.Shared {
		d.names = append(d.names, "rating error")
		d.params++
	}
	if h.initial == nil {
		h.initial = make([]float64, n)
		h.initial[0] = 1
	}
	if len(h.initial) != n || checkShares(h.initial) != nil {
		return nil, fmt.Errorf("%w initial probabilities %v", ErrInvalid, h.initial)
	}
	return h, nil
}

// start returns the parameters of the errors to start from.
func (h *hidden) start() []float64 {
	right := make([]float64, h.r.p.n)
	for i := range right {
		right[i] = 1
	}
	probability := func(i int) float64 {
		if h.errors.Start == nil {
			return 0.05
		}
		return h.errors.Start[i]
	}
	for i, v := range h.errors.Errors {
		right[v.From] -= probability(i)
	}
	if h.errors.Shared {
		return []float64{math.Log(probability(0) / (1 - probability(0)))}
	}
	theta := make([]float64, len(h.errors.Errors))
	for i, v := range h.errors.Errors {
		theta[i] = math.Log(probability(i) / max(right[v.From], 0.01))
	}
	return theta
}

// setErrors computes the probabilities of the ratings.
func (h *hidden) setErrors(theta []float64) {
	n := h.r.p.n
	clear(h.seen)
	if h.errors.Shared {
		copy(h.seen, SharedErrors(n, h.errors.Errors, 1/(1+math.Exp(-theta[h.at]))))
		return
	}
	var sum [MaxStates]float64
	for i := range n {
		sum[i] = 1
	}
	for i, v := range h.errors.Errors {
		h.seen[v.From*n+v.To] = math.Exp(theta[h.at+i])
		sum[v.From] += h.seen[v.From*n+v.To]
	}
	for i := range n {
		h.seen[i*n+i] = 1
		for j := range n {
			h.seen[i*n+j] /= sum[i]
		}
	}
}

// addGradient adds the derivative by the errors' parameters, given how often
// each rating was seen in each true state, in expectation.
func (h *hidden) addGradient(gradient, scoring, ratings []float64) {
	n, params := h.r.p.n, len(gradient)
	if h.errors.Shared {
		for i := range n {
			if h.ways[i] == 0 {
				continue
			}
			wrong, right := -ratings[i*n+i], ratings[i*n+i]
			for j := range n {
				wrong += ratings[i*n+j]
			}
			p := 1 - h.seen[i*n+i]
			gradient[h.at] += wrong*(1-p) - right*p
			if scoring != nil {
				scoring[h.at*params+h.at] += (wrong + right) * p * (1 - p)
			}
		}
		return
	}
	for i, v := range h.errors.Errors {
		total := 0.0
		for j := range n {
			total += ratings[v.From*n+j]
		}
		p := h.seen[v.From*n+v.To]
		gradient[h.at+i] += ratings[v.From*n+v.To] - total*p
		if scoring == nil {
			continue
		}
		for k, u := range h.errors.Errors {
			if u.From == v.From {
				scoring[(h.at+i)*params+h.at+k] -= total * p * h.seen[u.From*n+u.To]
			}
		}
		scoring[(h.at+i)*params+h.at+i] += total * p
	}
}

// estimate reads the i-th parameter as the probability of an error, with its
// errors on the logit scale by the delta method.
func (h *hidden) estimate(f *Fit, i int, name string) Estimate {
	n, params := h.r.p.n, len(f.Theta)
	v := h.errors.Errors[i-h.at]
	p := h.seen[v.From*n+v.To]
	if h.errors.Shared {
		p = 1 - h.seen[v.From*n+v.From]
	}
	est := Estimate{Name: name, Value: p}
	if f.Covariance == nil {
		return est
	}
	slope := make([]float64, params)
	for k, u := range h.errors.Errors {
		if u.From == v.From && !h.errors.Shared {
			slope[h.at+k] = -h.seen[u.From*n+u.To] / (1 - p)
		}
	}
	slope[i] = 1
	model, robust := 0.0, 0.0
	for a, x := range slope {
		for b, y := range slope {
			model += x * y * f.Covariance[a*params+b]
			robust += x * y * f.Sandwich[a*params+b]
		}
	}
	est.LogSE, est.RobustLogSE = math.Sqrt(max(model, 0)), math.Sqrt(max(robust, 0))
	se := est.LogSE
	if f.Pieces != 1 || f.Counts.Clusters < f.Counts.Lives {
		se = est.RobustLogSE
	}
	odds := p / (1 - p)
	lower, upper := odds*math.Exp(-z95*se), odds*math.Exp(z95*se)
	est.Lower, est.Upper = lower/(1+lower), upper/(1+upper)
	return est
}
