package forecast

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"reseal/forecast/money"
	"reseal/forecast/plan"
)

// Level is the plan at one share of the budgets, among others of one problem.
type Level struct {
	*Plan
	Share    float64 // of every budget; 1 is as they are. 0 where NoLimit
	NoLimit  bool    // the need: no limit of money
	OverNeed float64 // expected cost more than that of the need, present value, constant dollars
}

// Name is the level in words: 80 %, or no limit.
func (l *Level) Name() string {
	if l.NoLimit {
		return "no limit"
	}
	return fmt.Sprintf("%g %%", math.Round(1e4*l.Share)/100)
}

// SideBySide solves the problem at each share of every budget, by rising share, and
// sets the need beside them, the plan with no limit of money, which comes last. At
// a level whose Shortfall is not nil what people decided takes more than the money.
// The plans have let go of the solver's workings, see Plan.Forget.
func (p *Problem) SideBySide(ctx context.Context, need *Plan, shares []float64) ([]Level, error) {
	shares = slices.Compact(slices.Sorted(slices.Values(shares)))
	plans, err := p.Levels(ctx, shares)
	if err != nil && !errors.Is(err, plan.ErrInfeasible) {
		return nil, err
	}
	var out []Level
	for i, solved := range plans {
		solved.Forget()
		out = append(out, Level{Plan: solved, Share: shares[i]})
	}
	out = append(out, Level{Plan: need, NoLimit: true})
	for i := range out {
		out[i].OverNeed = out[i].CostDollars - need.CostDollars
	}
	return out, nil
}

// Against says in a sentence what a level means beside another one of the same
// problem, up to the end of a fiscal year.
func (l *Level) Against(base *Level, lastYear int) string {
	what := fmt.Sprintf("%.0f %% less money", 100*(base.Share-l.Share))
	switch {
	case l.NoLimit:
		what = "No limit of money"
	case l.Share > base.Share:
		what = fmt.Sprintf("%.0f %% more money", 100*(l.Share-base.Share))
	}
	failed := int(math.Round(l.FailedEnd - base.FailedEnd))
	cents := int64(math.Round(100 * (l.CostDollars - base.CostDollars)))
	var says []string
	switch {
	case failed > 0:
		says = append(says, fmt.Sprintf("leaves %s failed by the end of %d", joints(failed, "more"), lastYear))
	case failed < 0:
		says = append(says, fmt.Sprintf("leaves %s failed by the end of %d", joints(-failed, "fewer"), lastYear))
	default:
		says = append(says, fmt.Sprintf("leaves as many joints failed by the end of %d", lastYear))
	}
	switch {
	case cents >= 100:
		says = append(says, "costs $"+money.FormatDollars(cents)+" more in the end")
	case cents <= -100:
		says = append(says, "saves $"+money.FormatDollars(-cents)+" in the end")
	default:
		says = append(says, "costs the same in the end")
	}
	return what + " " + strings.Join(says, " and ") + "."
}

// joints is how many more or fewer joints.
func joints(n int, than string) string {
	if n == 1 {
		return "1 " + than + " joint"
	}
	return money.FormatDollars(100*int64(n)) + " " + than + " joints"
}

// EvenCents is the money of a plan in even parts, a year, rounded to 10,000
// nominal dollars: of the need, what to begin with where no budget is on record.
// At least 10,000 dollars.
func (p *Plan) EvenCents() int64 {
	const step = 1_000_000
	return max(step, int64(math.Round(float64(p.SpentCents())/float64(max(p.horizon(), 1))/step))*step)
}
