package markov

import (
	"fmt"
	"math"
)

// Ratings are lives in which each inspection gives one state, and may give a
// wrong one: the true state follows the chain, the rating is noisy. Fill it
// with Begin and Add, and fit it with FitRatings.
type Ratings struct {
	p       *Panel
	first   []int32 // first rating of each life
	ratings []rating
}

type rating struct {
	step  int32 // -1 for the first of a life
	state uint8
	seen  Seen
}

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

// Begin starts a life with its first rating.
func (r *Ratings) Begin(cluster, state int) error {
	if state < 0 || state >= r.p.n {
		return fmt.Errorf("%w state %d", ErrInvalid, state+1)
	}
	r.p.Begin(cluster)
	r.first = append(r.first, int32(len(r.ratings)))
	r.ratings = append(r.ratings, rating{step: -1, state: uint8(state)})
	return nil
}

// Add adds a rating to the life begun last and reports whether it was taken.
func (r *Ratings) Add(v Rating) (taken bool, err error) {
	p := r.p
	if len(r.first) == 0 || v.State < 0 || v.State >= p.n || len(v.X) != p.covariates {
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
		d.names = append(d.names, fmt.Sprintf("seen %d in %d", v.To+1, v.From+1))
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

// hiddenScratch holds the forward and backward probabilities of one life at
// each pace.
type hiddenScratch struct {
	forward, ahead []float64 // rating, state
	flow           []float64 // rating, table entry, pace
	right          []float64 // true state, rating, pace
}

// life is the log-likelihood of one life by the forward algorithm, and its
// expected flows by the backward one (Baum et al. 1970, Ann. Math. Stat.
// 41:164; Jackson et al. 2003, The Statistician 52:193, for panels). It leaves
// the weights of the paces in s.post, and adds to ratings.
func (h *hidden) life(e *evaluator, l int, s *lifeScratch, byPace, ratings []float64,
	emit func(step int32, entry uint8, share float64, weights []float64),
) float64 {
	last := len(h.r.ratings)
	if l+1 < len(h.r.first) {
		last = int(h.r.first[l+1])
	}
	seen := h.r.ratings[h.r.first[l]:last]
	n, paces, entries := e.p.n, len(e.grid.Z), len(e.p.entries)
	s.sum, s.post = resize(s.sum, paces), resize(s.post, paces)
	x := &s.hidden
	x.forward, x.ahead = resize(x.forward, len(seen)*n), resize(x.ahead, n)
	x.flow, x.right = resize(x.flow, len(seen)*entries*paces), resize(x.right, n*n*paces)
	clear(x.flow)
	clear(x.right)
	for g := range paces {
		s.sum[g] = h.forward(e, seen, x, g)
		h.backward(e, seen, x, g)
	}
	for g, x := range e.logPi {
		s.post[g] = s.sum[g] + x
	}
	value := normaliseLogs(s.post)
	addTo(byPace, s.post)
	for t := 1; t < len(seen); t++ {
		for i := range entries {
			row := x.flow[(t*entries+i)*paces : (t*entries+i+1)*paces]
			for g := range row {
				row[g] *= s.post[g]
			}
			emit(seen[t].step, uint8(i), 1, row)
		}
	}
	for ij := range n * n {
		for g, w := range s.post {
			ratings[ij] += w * x.right[ij*paces+g]
		}
	}
	return value
}

// forward fills the forward probabilities, scaled to add up to 1 at each
// rating, and returns the log-likelihood at the pace.
func (h *hidden) forward(e *evaluator, seen []rating, x *hiddenScratch, g int) float64 {
	n := e.p.n
	logL := 0.0
	for t, v := range seen {
		now := x.forward[t*n : (t+1)*n]
		clear(now)
		if t == 0 {
			h.first(now, v)
		} else {
			before := x.forward[(t-1)*n : t*n]
			for i, a := range before {
				for j := range n {
					if a > 0 {
						now[j] += a * h.passing(e, v, i, j, g)
					}
				}
			}
		}
		sum := 0.0
		for _, a := range now {
			sum += a
		}
		if !(sum > 0) {
			return math.Inf(-1)
		}
		for j := range now {
			now[j] /= sum
		}
		logL += math.Log(sum)
	}
	return logL
}

func (h *hidden) first(dst []float64, v rating) {
	if h.errors.FirstTrue {
		dst[v.state] = 1
		return
	}
	for j := range dst {
		dst[j] = h.initial[j] * h.seen[j*len(dst)+int(v.state)]
	}
}

// passing is the probability of passing from state i to j and being rated as
// was seen. What is seen without error, a failure or that there was none, stands at
// j = 0.
func (h *hidden) passing(e *evaluator, v rating, i, j, g int) float64 {
	code := h.code(e.p, v, i, j)
	if code < 0 {
		return 0
	}
	p := math.Exp(e.row(v.step, e.p.entryOf[code]-1)[g])
	if v.seen == Inspected {
		p *= h.seen[j*e.p.n+int(v.state)]
	}
	return p
}

// code is the table entry of passing from i to j, or -1.
func (h *hidden) code(p *Panel, v rating, i, j int) int {
	switch {
	case v.seen == Inspected && p.reach[i*p.n+j]:
		return i*p.n + j
	case v.seen == Inspected || j > 0 || i == p.n-1:
		return -1
	case v.seen == FailedThen:
		return p.failedCode(i)
	}
	return p.survivedCode(i)
}

// backward turns the forward probabilities into expected flows and ratings at
// the pace.
func (h *hidden) backward(e *evaluator, seen []rating, x *hiddenScratch, g int) {
	n, paces, entries := e.p.n, len(e.grid.Z), len(e.p.entries)
	after := x.ahead // probability of what comes later, up to a factor
	for j := range after {
		after[j] = 1
	}
	var before [MaxStates]float64
	for t := len(seen) - 1; t > 0; t-- {
		v := seen[t]
		clear(before[:])
		total := 0.0
		for i, a := range x.forward[(t-1)*n : t*n] {
			for j := range n {
				q := h.passing(e, v, i, j, g) * after[j]
				before[i] += q
				total += a * q
			}
		}
		if !(total > 0) {
			return
		}
		for i, a := range x.forward[(t-1)*n : t*n] {
			for j := range n {
				code := h.code(e.p, v, i, j)
				if code < 0 {
					continue
				}
				share := a * h.passing(e, v, i, j, g) * after[j] / total
				x.flow[(t*entries+int(e.p.entryOf[code]-1))*paces+g] += share
				if v.seen == Inspected {
					x.right[(j*n+int(v.state))*paces+g] += share
				}
			}
		}
		for i := range n {
			after[i] = before[i] / total
		}
	}
	if h.errors.FirstTrue {
		return
	}
	total := 0.0
	for j, a := range x.forward[:n] {
		total += a * after[j]
	}
	for j, a := range x.forward[:n] {
		x.right[(j*n+int(seen[0].state))*paces+g] += a * after[j] / total
	}
}

// estimate reads the i-th parameter as the probability of an error, with its
// errors on the logit scale by the delta method.
func (h *hidden) estimate(f *Fit, i int, name string) Estimate {
	n, params := h.r.p.n, len(f.Theta)
	v := h.errors.Errors[i-h.at]
	p := h.seen[v.From*n+v.To]
	est := Estimate{Name: name, Value: p}
	if f.Covariance == nil {
		return est
	}
	slope := make([]float64, params)
	for k, u := range h.errors.Errors {
		if u.From == v.From {
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
	if f.Counts.Clusters < f.Counts.Lives {
		se = est.RobustLogSE
	}
	odds := p / (1 - p)
	lower, upper := odds*math.Exp(-z95*se), odds*math.Exp(z95*se)
	est.Lower, est.Upper = lower/(1+lower), upper/(1+upper)
	return est
}
