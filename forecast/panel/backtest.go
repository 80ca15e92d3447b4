package panel

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"reseal/forecast/backtest"
	"reseal/forecast/markov"
)

// Forecasters are those that a backtest of a file compares, the model first.
func Forecasters() []string {
	return []string{"the model", "the group's average", "replace at fixed age", "the last state stays"}
}

// BacktestOptions say how to judge a file. Failed is to be in the last state
// of the moves.
type BacktestOptions struct {
	Options
	Until float64 // rows up to this time are fitted, the later ones judged
}

// Backtest is a fit to the rows up to a time and what its forecasts were worth
// later.
type Backtest struct {
	Until   float64         `json:"until"`
	Through float64         `json:"through"`
	Fit     Report          `json:"fit"`
	Failed  int             `json:"failed_already"` // subjects in the last state then, left out
	CutAge  float64         `json:"fixed_age"`      // 0: no age told better than none
	Result  backtest.Result `json:"result"`
}

// Backtest fits the options' model to the rows up to o.Until and judges its
// forecasts for the later rows. Where nothing improves, a subject that was once
// in the last state counts as being there in every later row.
//
// The group's average is the share of subjects that were in the last state so
// many years after a row in another one, up to then, whatever the subject's
// state. The model knows the subject's own rows.
func (f *File) Backtest(o BacktestOptions) (*Backtest, error) {
	first, last := f.Span()
	if !(o.Until >= first && o.Until < last) {
		return nil, fmt.Errorf("%w backtest: the rows run from %g to %g; until %g leaves nothing to fit or to judge", ErrInvalid, first, last, o.Until)
	}
	if o.ExactFinal || o.AtStart {
		return nil, fmt.Errorf("%w backtest: it needs a fit, and failures found by inspections", ErrInvalid)
	}
	past := f.Until(o.Until)
	fit, err := past.Fit(o.Options)
	if err != nil {
		return nil, err
	}
	b := &Backtest{Until: o.Until, Through: last, Fit: fit.Report}
	average := past.average(o.Moves.States() - 1)
	cut := past.cutAge(o)
	if !math.IsInf(cut, 1) {
		b.CutAge = cut
	}
	var cases []backtest.Case
	for i, s := range f.Subjects {
		c, err := b.subject(fit, o, int64(i), s, average, cut)
		if err != nil {
			return nil, fmt.Errorf("subject %s: %w", s.Name, err)
		}
		cases = append(cases, c...)
	}
	b.Result, err = backtest.Judge(Forecasters(), "last seen in", cases)
	return b, err
}

// subject makes the cases of one subject.
func (b *Backtest) subject(fit *Fitted, o BacktestOptions, cluster int64, s Subject, average []float64, cut float64) ([]backtest.Case, error) {
	seen := 0
	for seen < len(s.Rows) && s.Rows[seen].Time <= o.Until {
		seen++
	}
	failed := o.Moves.States() - 1
	if seen == 0 || seen == len(s.Rows) {
		return nil, nil
	}
	now := s.Rows[seen-1]
	if now.State == failed {
		b.Failed++
		return nil, nil
	}
	w, err := newWatch(fit, o.Options, now.X)
	if err != nil {
		return nil, err
	}
	if err := w.follow(fit, s.Rows[:seen]); err != nil {
		return nil, err
	}
	var cases []backtest.Case
	had, stays := false, o.Moves.OneWay() && len(o.RatingError) == 0
	for _, r := range s.Rows[seen:] {
		had = r.State == failed || had && stays
		c := backtest.Case{
			Cluster: cluster, Kind: fmt.Sprintf("state %d", now.State+1), YearsAhead: r.Time - o.Until, Failed: had,
			Forecasts: []float64{w.ratedLast(r.Time - now.Time), at(average, r.Time-now.Time), -1, 0},
		}
		if !math.IsNaN(s.Born) {
			c.Forecasts[2] = 0
			if r.Time-s.Born >= cut {
				c.Forecasts[2] = 1
			}
		}
		cases = append(cases, c)
	}
	return cases, nil
}

// average is the share of pairs of rows that ended in the last state, by whole
// years between them, from another one.
func (f *File) average(failed int) []float64 {
	var pairs, ended []float64
	for _, s := range f.Subjects {
		for i, from := range s.Rows {
			if from.State == failed {
				continue
			}
			for _, to := range s.Rows[i+1:] {
				y := int(math.Round(to.Time - from.Time))
				for len(pairs) <= y {
					pairs, ended = append(pairs, 0), append(ended, 0)
				}
				pairs[y]++
				if to.State == failed {
					ended[y]++
				}
			}
		}
	}
	out, before := make([]float64, len(pairs)), 0.0
	for y := range pairs {
		if pairs[y] > 0 {
			before = ended[y] / pairs[y]
		}
		out[y] = before
	}
	return out
}

// at reads the average, its last where none reaches so far.
func at(average []float64, years float64) float64 {
	if len(average) == 0 {
		return 0
	}
	return average[min(int(math.Round(years)), len(average)-1)]
}

func (f *File) cutAge(o BacktestOptions) float64 {
	var c backtest.CutAge
	for _, s := range f.Subjects {
		for _, r := range s.Rows {
			if !math.IsNaN(s.Born) {
				c.Add(r.Time-s.Born, r.State == o.Moves.States()-1)
			}
		}
	}
	return c.Age()
}

// Notes say what the backtest rests on.
func (b *Backtest) Notes() []string {
	notes := []string{
		fmt.Sprintf("Fitted to the rows up to %g (%d intervals), and judged by those after it up to %g.", b.Until, b.Fit.Intervals, b.Through),
		fmt.Sprintf("Moves %s. %d subjects were in the last state already and are left out.", b.Fit.Moves, b.Failed),
	}
	for _, reason := range slices.Sorted(maps.Keys(b.Fit.LeftOut)) {
		notes = append(notes, fmt.Sprintf("Left out of the fit: %d intervals, %s.", b.Fit.LeftOut[reason], reason))
	}
	notes = append(notes, "The group's average is the share in the last state so many years after a row in another, up to then, whatever the state.")
	if b.CutAge > 0 {
		notes = append(notes, fmt.Sprintf("Replace at fixed age: from %g years on, the age that told best up to then.", b.CutAge))
	}
	if !b.Fit.Converged {
		notes = append(notes, "THE FIT DID NOT CONVERGE: its forecasts are judged as they are.")
	}
	return notes
}

// watch follows one subject: at each pace, the probability of each true state
// given its ratings, by the forward algorithm (Baum et al. 1970, Ann. Math.
// Stat. 41:164).
type watch struct {
	n       int
	z       []float64
	weights []float64
	alpha   [][]float64 // by pace
	rated   []float64   // probability of each rating by true state
	chain   markov.Chain
	initial []float64 // by true state at the first rating; nil: it is true
}

func newWatch(fit *Fitted, o Options, x []float64) (*watch, error) {
	n := o.Moves.States()
	pace := markov.Pace{Z: []float64{1}, Prior: []float64{1}}
	var err error
	if fit.K > 0 {
		if pace, err = fit.Pace(); err != nil {
			return nil, err
		}
	}
	w := &watch{n: n, z: pace.Z, weights: append([]float64(nil), pace.Prior...), rated: ratings(fit, o)}
	if len(o.RatingError) > 0 && !o.FirstTrue {
		w.initial = o.Initial
		if w.initial == nil {
			w.initial = make([]float64, n)
			w.initial[0] = 1
		}
	}
	for range w.z {
		w.alpha = append(w.alpha, make([]float64, n))
	}
	w.chain, err = fit.Chain(x)
	return w, err
}

// ratings are the probabilities of each rating by true state, from the fit's
// last parameters.
func ratings(fit *Fitted, o Options) []float64 {
	n := o.Moves.States()
	e := make([]float64, n*n)
	for i := range n {
		e[i*n+i] = 1
	}
	at := len(fit.Theta) - len(o.RatingError)
	for i, v := range o.RatingError {
		e[v.From*n+v.To] = math.Exp(fit.Theta[at+i])
	}
	for i := range n {
		sum := 0.0
		for _, p := range e[i*n : (i+1)*n] {
			sum += p
		}
		for j := range n {
			e[i*n+j] /= sum
		}
	}
	return e
}

// follow takes in the subject's rows. A rating that the chain cannot give, as
// an improvement by one-way moves, is taken as true from there on.
func (w *watch) follow(fit *Fitted, rows []Row) error {
	p := make([]float64, w.n*w.n)
	next := make([]float64, w.n)
	for t, r := range rows {
		if t == 0 {
			w.begin(r.State)
			continue
		}
		chain, err := fit.Chain(rows[t-1].X)
		if err != nil {
			return err
		}
		total := 0.0
		likelihood := make([]float64, len(w.z))
		for g, z := range w.z {
			chain.P(p, z*(r.Time-rows[t-1].Time))
			markov.ShareAfter(next, w.alpha[g], p)
			for i := range next {
				next[i] *= w.rated[i*w.n+r.State]
				likelihood[g] += next[i]
			}
			for i := range next {
				w.alpha[g][i] = next[i] / max(likelihood[g], 1e-300)
			}
			total += w.weights[g] * likelihood[g]
		}
		if !(total > 1e-250) {
			for g := range w.alpha {
				clear(w.alpha[g])
				w.alpha[g][r.State] = 1
			}
			continue
		}
		for g := range w.weights {
			w.weights[g] *= likelihood[g] / total
		}
	}
	return nil
}

// begin takes in the first rating; one that cannot be is taken as true.
func (w *watch) begin(state int) {
	for g, alpha := range w.alpha {
		clear(alpha)
		sum := 0.0
		for i, p := range w.initial {
			alpha[i] = p * w.rated[i*w.n+state]
			sum += alpha[i]
		}
		if !(sum > 0) {
			alpha[state], sum = 1, 1
		}
		for i := range alpha {
			w.alpha[g][i] /= sum
		}
	}
}

// ratedLast is the probability of being rated in the last state some years
// after the last row.
func (w *watch) ratedLast(years float64) float64 {
	p, after := make([]float64, w.n*w.n), make([]float64, w.n)
	sum := 0.0
	for g, z := range w.z {
		w.chain.P(p, z*years)
		markov.ShareAfter(after, w.alpha[g], p)
		for i, a := range after {
			sum += w.weights[g] * a * w.rated[i*w.n+w.n-1]
		}
	}
	return min(max(sum, 0), 1)
}
