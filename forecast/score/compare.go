package score

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Comparison is how a model did against a rival on the same cases.
type Comparison struct {
	Rule           Rule
	Cases, Bridges int
	// Gain is the rival's mean score less the model's: above 0 the model is
	// better.
	Gain float64
	// SE is the standard error of Gain, with bridges as the independent units; 0
	// where there are fewer than two.
	SE float64
	// Low and High hold the true gain with 95 % confidence; both are Gain where
	// there are fewer than two bridges.
	Low, High float64
}

// Compare scores a model and a rival by one rule, with a standard error that
// allows for any dependence between the cases of one bridge. With d_i the rival's
// score less the model's in case i of N, on G bridges:
//
//	gain = Σ d_i / N
//	SE²  = G/(G-1) Σ_bridges (Σ_{i on it} (d_i - gain))² / N²
//
// and an interval by Student's t with G - 1 degrees of freedom. (Liang & Zeger
// 1986, Biometrika 73:13; small-sample factor and t as in Cameron & Miller 2015,
// J. Human Resources 50:317; comparison of scores by mean difference after
// Diebold & Mariano 1995, J. Business & Economic Statistics 13:253.)
func Compare(cases []Case, model, rival []float64, rule Rule) (Comparison, error) {
	if err := validate(cases, model); err != nil {
		return Comparison{}, fmt.Errorf("model: %w", err)
	}
	if err := validate(cases, rival); err != nil {
		return Comparison{}, fmt.Errorf("rival: %w", err)
	}
	// Sorted by bridge, so that the sums have one order on every run.
	order := make([]int, len(cases))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case cases[a].Bridge < cases[b].Bridge:
			return -1
		case cases[a].Bridge > cases[b].Bridge:
			return 1
		}
		return 0
	})
	n := float64(len(cases))
	gain := make([]float64, len(cases))
	c := Comparison{Rule: rule, Cases: len(cases)}
	for _, i := range order {
		gain[i] = rule.of(rival[i], cases[i].Failed) - rule.of(model[i], cases[i].Failed)
		c.Gain += gain[i] / n
	}
	sumSq := 0.0
	for k := 0; k < len(order); {
		bridge, sum := cases[order[k]].Bridge, 0.0
		for ; k < len(order) && cases[order[k]].Bridge == bridge; k++ {
			sum += gain[order[k]] - c.Gain
		}
		sumSq += sum * sum
		c.Bridges++
	}
	c.Low, c.High = c.Gain, c.Gain
	if c.Bridges > 1 {
		g := float64(c.Bridges)
		c.SE = math.Sqrt(g/(g-1)*sumSq) / n
		t := distuv.StudentsT{Sigma: 1, Nu: g - 1}.Quantile(0.975)
		c.Low, c.High = c.Gain-t*c.SE, c.Gain+t*c.SE
	}
	return c, nil
}

// Verdict is what a comparison allows to be said.
type Verdict int

// The verdicts.
const (
	CannotTell  Verdict = iota // the interval holds 0, or there are too few bridges
	ModelBetter                // the whole interval is above 0
	RivalBetter                // the whole interval is below 0
)

// minBridges is the least number of bridges for a verdict: with fewer the
// standard error itself is a guess. (Our own choice, no source.)
const minBridges = 10

// Verdict is the model's standing at 95 % confidence.
func (c Comparison) Verdict() Verdict {
	switch {
	case c.Bridges < minBridges:
		return CannotTell
	case c.Low > 0:
		return ModelBetter
	case c.High < 0:
		return RivalBetter
	}
	return CannotTell
}

// Words says the verdict against a rival, named as in "replace at a fixed age".
func (c Comparison) Words(rival string) string {
	detail := fmt.Sprintf("%v lower by %.4f, 95 %% interval %.4f to %.4f, %d cases on %d bridges",
		c.Rule, c.Gain, c.Low, c.High, c.Cases, c.Bridges)
	switch c.Verdict() {
	case ModelBetter:
		return fmt.Sprintf("the model is better than %q (%s)", rival, detail)
	case RivalBetter:
		detail = fmt.Sprintf("%v higher by %.4f, 95 %% interval %.4f to %.4f, %d cases on %d bridges",
			c.Rule, -c.Gain, -c.High, -c.Low, c.Cases, c.Bridges)
		return fmt.Sprintf("the model is worse than %q: do not use it here (%s)", rival, detail)
	}
	if c.Bridges < minBridges {
		return fmt.Sprintf("too few bridges to tell the model from %q: %d, of %d needed", rival, c.Bridges, minBridges)
	}
	return fmt.Sprintf("no difference between the model and %q can be told (%s)", rival, detail)
}
