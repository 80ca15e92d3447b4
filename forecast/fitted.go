package forecast

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sync"

	"reseal/forecast/markov"
	"reseal/forecast/panel"
	"reseal/inventory"
)

// parameterDraws is how many draws of a fit's parameters a forecast averages
// over where they are not surely known, in pairs that mirror each other, so that
// its band holds what is not known of the rates. The seed is fixed: the same fit
// gives the same forecast.
const parameterDraws = 8

// fitted holds the groups of a fit, one for each row of covariates, made when
// the first joint of it comes.
type fitted struct {
	fit    *Fit
	theta  []float64 // the estimates, or a draw
	mu     sync.Mutex
	groups map[string]*group

	allUnsure bool // draws are averaged over for every row
}

// newFitted makes the model of a fit, with draws of its parameters.
func newFitted(t *Tables, count int) (*Model, error) {
	own := *t // with the fit's own pieces, k and share of the site
	f := t.Fit
	own.Settings.Pieces, own.Settings.SiteShare = f.Report.Pieces, f.Settings.SiteShare
	m, err := fittedAt(&own, f.Theta)
	if err != nil {
		return nil, fmt.Errorf("fit %d: %w", f.ID, err)
	}
	fit := &markov.Fit{Theta: f.Theta, Sandwich: f.Covariance}
	draws, err := fit.Draws(count, rand.New(rand.NewPCG(uint64(f.ID), 0)))
	if err != nil {
		return nil, fmt.Errorf("fit %d: %w", f.ID, err)
	}
	for _, theta := range draws {
		d, err := fittedAt(&own, theta)
		if err != nil {
			return nil, fmt.Errorf("fit %d: %w", f.ID, err)
		}
		m.draws = append(m.draws, d)
	}
	return m, nil
}

func fittedAt(t *Tables, theta []float64) (*Model, error) {
	m := &Model{tables: t, calendar: t.Settings.Calendar(), fitted: &fitted{fit: t.Fit, theta: theta, groups: map[string]*group{}}}
	if t.Fit.Settings.RatingError {
		m.rated = ratings(theta[len(theta)-1])
	}
	k := t.Fit.Report.K
	if t.Fit.Settings.EstimatedK {
		k = min(max(math.Exp(theta[t.Fit.logK()]), 0.12), 1e4)
	}
	if k == 0 {
		k = math.Inf(1)
	}
	var err error
	m.pace, err = markov.NewPace(k, 0)
	return m, err
}

// ratingErrors are the errors that a rating may have: by one state either way.
func ratingErrors() markov.Moves { return panel.Neighbours(4, false) }

// ratings are the probabilities of each rating by true state, given the logit of
// that of an error.
func ratings(logit float64) []float64 {
	return markov.SharedErrors(4, ratingErrors(), 1/(1+math.Exp(-logit)))
}

// logK is the parameter that is the logarithm of k, where it was estimated: the
// last but that of rating errors.
func (f *Fit) logK() int {
	if f.Settings.RatingError {
		return len(f.Theta) - 2
	}
	return len(f.Theta) - 1
}

// chain is the fitted chain for a row of covariates at given parameters.
func (f *Fit) chain(theta, x []float64) (markov.Chain, error) {
	return f.shape().Chain(markov.Worsening(4), theta, x)
}

// group is that of a seal of a joint.
func (f *fitted) group(m *Model, r *Record, s *Seal) *group {
	var room [64]float64
	x := covariates(room[:0], f.fit.Settings.Factors, r, s)
	key := make([]byte, 0, 96)
	for _, v := range x {
		key = append(key, byte(v))
	}
	key = append(key, s.Kind...)
	f.mu.Lock()
	defer f.mu.Unlock()
	g, ok := f.groups[string(key)]
	if !ok {
		g = f.newGroup(m, s.Kind, x)
		f.groups[string(key)] = g
	}
	return g
}

func (f *fitted) newGroup(m *Model, kind string, x []float64) *group {
	chain, err := f.fit.chain(f.theta, x)
	if err != nil { // a draw so far out that no chain has such rates
		chain, err = f.fit.chain(f.fit.Theta, x)
	}
	g := &group{kind: kind, chain: chain, known: true, basis: f.fit.Words()}
	if m.rated != nil {
		g.basis += ", inspections weighed by their rating errors"
	}
	if err == nil {
		err = m.lookAhead(g)
	}
	if err == nil {
		g.uncertainty, err = f.fit.uncertainty(x)
	}
	if err != nil {
		panic("the estimates of a fit that could be stored: " + err.Error())
	}
	for _, factor := range f.fit.Settings.Factors {
		if factor.Name == "seal" && kind != factor.Reference && !slices.Contains(factor.Classes, kind) {
			g.basis += ", which has no seal of this kind"
		}
	}
	return g
}

// blend averages the projection over the draws of the parameters where it would
// differ from that by the estimates: each draw is a world of its own, with its own
// rates, paces and so its own start.
func (m *projector) blend(r *Record, f *Forecast, legs []leg) {
	unsure := func(l leg) bool { return l.group != nil && (l.group.uncertainty > surelyKnown || m.fitted.allUnsure) }
	if len(m.draws) == 0 || !m.keepDraws && !slices.ContainsFunc(legs, unsure) {
		return
	}
	m.blended.Reset(len(m.times), 4)
	for i, d := range m.draws {
		if i == len(m.inDraws) {
			m.inDraws = append(m.inDraws, &projector{Model: d})
		}
		p := m.inDraws[i]
		p.times, p.lives, p.livesOf = m.times, m.lives, m.livesOf
		p.projection, m.inDraw = m.inDraw, p.projection // the years' logarithms stay with it
		p.projection.Lean = !m.variance
		p.follow(p.course(r, f, p.first(r, f.AsOf), f.planned))
		if m.keepDraws {
			f.draws = append(f.draws, drawn{slices.Clone(p.projection.Shares[4:]), slices.Clone(p.projection.Failed[1:])})
		}
		m.blended.Blend(&p.projection, 1/float64(len(m.draws)))
		p.projection, m.inDraw = m.inDraw, p.projection
	}
	m.projection, m.blended = m.blended, m.projection
}

// first is what the joint's future begins with.
func (m *projector) first(r *Record, asOf inventory.Date) leg {
	g := m.group(r, r.sealOn(asOf))
	weights := m.paceOf(r, g)
	s, _ := m.start(r, asOf, weights)
	return leg{group: g, start: s.wear, weights: weights}
}
