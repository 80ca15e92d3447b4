package panel

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"reseal/forecast/markov"
)

// Options say what to fit. Moves is required; the zero value of the rest is
// the plain chain.
type Options struct {
	Moves markov.Moves
	// ExactFinal takes the time of the last state as that at which it was
	// reached, not as that of an inspection.
	ExactFinal bool
	// Constrain lists what shares a parameter, each in one of the forms
	//
	//	1-2=2-3       moves with one rate
	//	sex           a covariate with one effect on all moves
	//	sex:1-2=2-3   a covariate with one effect on these moves
	Constrain []string
	// RatingError lists the errors that a rating may have, from the true state
	// to the one seen; none: ratings are true.
	RatingError markov.Moves
	// FirstTrue takes the first rating of each subject as true. Without it
	// Initial gives the probability of each true state then; nil: all are in the
	// first.
	FirstTrue bool
	Initial   []float64
	// Gamma lets subjects differ by a pace of Gamma(k, k).
	Gamma bool
	// Start gives a rate for each group of moves to start from, and StartErrors
	// a probability for each rating error; nil: crude ones from the data.
	Start, StartErrors []float64
	// AtStart evaluates the likelihood at the start and fits nothing.
	AtStart bool
}

// model turns the options into a model of so many covariates.
func (o Options) model(covariates []string) (markov.Model, error) {
	m := markov.Model{Covariates: covariates, EstimateK: o.Gamma}
	for _, c := range o.Constrain {
		if err := o.constrain(&m, c); err != nil {
			return m, err
		}
	}
	if o.Start == nil {
		return m, nil
	}
	rates := groups(m.RateGroups, len(o.Moves))
	if len(o.Start) != rates {
		return m, fmt.Errorf("%w start: %d rates given, the model has %d", ErrInvalid, len(o.Start), rates)
	}
	for _, q := range o.Start {
		if !(q > 0) || math.IsInf(q, 1) {
			return m, fmt.Errorf("%w start: a rate of %v; rates are over 0 a year", ErrInvalid, q)
		}
		m.Start = append(m.Start, math.Log(q))
	}
	for c := range covariates {
		var g []int
		if m.EffectGroups != nil {
			g = m.EffectGroups[c]
		}
		m.Start = append(m.Start, make([]float64, groups(g, len(o.Moves)))...)
	}
	if o.Gamma {
		m.Start = append(m.Start, math.Log(4))
	}
	errors, err := o.startErrors()
	m.Start = append(m.Start, errors...)
	return m, err
}

// groups is how many numbers of group there are; nil is one for each move.
func groups(of []int, moves int) int {
	if of == nil {
		return moves
	}
	return slices.Max(of) + 1
}

// startErrors are the logarithms of each error's probability over that of the
// right rating.
func (o Options) startErrors() ([]float64, error) {
	p := o.StartErrors
	if p == nil {
		p = slices.Repeat([]float64{0.05}, len(o.RatingError))
	}
	if len(p) != len(o.RatingError) {
		return nil, fmt.Errorf("%w start: %d probabilities for %d rating errors", ErrInvalid, len(p), len(o.RatingError))
	}
	right := map[int]float64{}
	for i, e := range o.RatingError {
		right[e.From] += p[i]
	}
	var logs []float64
	for i, e := range o.RatingError {
		if !(p[i] > 0 && right[e.From] < 1) {
			return nil, fmt.Errorf("%w start: rating errors %v; probabilities are over 0 and leave room for the right rating", ErrInvalid, p)
		}
		logs = append(logs, math.Log(p[i]/(1-right[e.From])))
	}
	return logs, nil
}

// constrain adds one constraint to the model.
func (o Options) constrain(m *markov.Model, text string) error {
	name, moves, one := strings.Cut(text, ":")
	if c := slices.Index(m.Covariates, strings.TrimSpace(name)); c >= 0 {
		if m.EffectGroups == nil {
			m.EffectGroups = make([][]int, len(m.Covariates))
		}
		if !one {
			m.EffectGroups[c] = make([]int, len(o.Moves))
			return nil
		}
		var err error
		m.EffectGroups[c], err = o.join(m.EffectGroups[c], moves)
		return err
	}
	if one {
		return fmt.Errorf("%w constraint %q: no covariate is named %q", ErrInvalid, text, name)
	}
	var err error
	m.RateGroups, err = o.join(m.RateGroups, text)
	return err
}

// join gives the moves that the text joins by = one group, and numbers the
// groups in the order of the moves.
func (o Options) join(of []int, text string) ([]int, error) {
	if of == nil {
		for i := range o.Moves {
			of = append(of, i)
		}
	}
	first := -1
	for part := range strings.SplitSeq(text, "=") {
		i := slices.IndexFunc(o.Moves, func(v markov.Move) bool { return v.String() == strings.TrimSpace(part) })
		if i < 0 {
			return nil, fmt.Errorf("%w constraint %q: %q is neither a covariate nor one of the moves %v", ErrInvalid, text, part, o.Moves)
		}
		if first < 0 {
			first = of[i]
			continue
		}
		was := of[i]
		for j := range of {
			if of[j] == was {
				of[j] = first
			}
		}
	}
	next, number := 0, map[int]int{}
	for i, g := range of {
		if _, ok := number[g]; !ok {
			number[g] = next
			next++
		}
		of[i] = number[g]
	}
	return of, nil
}

// Neighbours are the errors by one state either way among n states, without
// those of a last state that is seen for certain.
func Neighbours(n int, lastCertain bool) markov.Moves {
	var errors markov.Moves
	if lastCertain {
		n--
	}
	for i := range n {
		for _, j := range []int{i - 1, i + 1} {
			if j >= 0 && j < n {
				errors = append(errors, markov.Move{From: i, To: j})
			}
		}
	}
	return errors
}

// Numbers reads numbers separated by commas.
func Numbers(text string) ([]float64, error) {
	var out []float64
	for part := range strings.SplitSeq(text, ",") {
		v, err := strconv.ParseFloat(strings.TrimSpace(part), 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("%w number %q: write numbers as 0.2,0.1", ErrInvalid, part)
		}
		out = append(out, v)
	}
	return out, nil
}
