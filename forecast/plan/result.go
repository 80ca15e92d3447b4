package plan

import (
	"context"
	"fmt"
	"math"
	"math/bits"
)

// Result is a plan, how good it is proved to be, and what it uses.
type Result struct {
	Choice   []int32 // option by joint, in the instance's numbering
	Feasible bool    // every limit is kept

	Cost    float64 // expected discounted cost with visits and the price of targets, dollars
	Bound   float64 // no feasible plan costs less; without meaning when not Feasible
	Nothing float64 // cost of the idle plan: each joint's least money

	// Spent and Left are cents by budget and year. With carry-over, Left is what
	// remains of all years so far. Left is NoLimit where the budget is.
	Spent, Left [][]int64
	// Price is by budget and year what one more dollar saves, in discounted dollars,
	// beyond the dollar itself: the multiplier of the bound, so an average over
	// ways to spend it and not what the next dollar must buy.
	Price [][]float64
	// Closures is by closure limit and year the visits planned.
	Closures [][]int64
	Targets  []TargetOutcome

	// Set when no plan was found that keeps every limit.
	Shortfall *Shortfall

	model *model
	plan  []int32   // option by joint of the model
	limit []int64   // by row
	u     []float64 // multipliers by row
}

// TargetOutcome is how a target comes out.
type TargetOutcome struct {
	Name    string
	Value   int64 // sum in the plan
	Cap     int64
	Price   float64 // discounted dollars that one unit less of the cap costs
	Charged float64 // discounted dollars in Cost for the target's own price
}

// GapPct is the proven distance to the best plan in per cent of cost; 0 when the
// cost is not above zero.
func (r *Result) GapPct() float64 {
	if !r.Feasible || r.Cost <= 0 {
		return 0
	}
	return 100 * (r.Cost - r.Bound) / r.Cost
}

// SavingGapPct is the proven distance to the best plan in per cent of the most that
// can be saved over doing nothing; 0 when nothing can be saved.
func (r *Result) SavingGapPct() float64 {
	if !r.Feasible || r.Nothing <= r.Bound {
		return 0
	}
	return 100 * (r.Cost - r.Bound) / (r.Nothing - r.Bound)
}

// Solve finds a plan of least expected cost within every limit. The same instance
// gives the same result on any number of processors, and the order of bridges,
// joints and options does not matter.
//
// An instance that contradicts itself gives ErrInvalid. Where no plan keeps every
// limit, the error is ErrInfeasible and the result holds the plan that exceeds them
// least, with its Shortfall. When the context ends, the error is its own and there
// is no result.
func Solve(ctx context.Context, in *Instance, opt Options) (*Result, error) {
	results, err := SolveLevels(ctx, in, []float64{1}, opt)
	if results == nil {
		return nil, err
	}
	return results[0], err
}

// idle returns each joint's option of least money, of those the cheapest.
func (m *model) idle() []int32 {
	choice := make([]int32, len(m.jointID))
	for j := range choice {
		best, least := int32(-1), int64(math.MaxInt64)
		for o, last := m.options(int32(j)); o < last; o++ {
			cents := int64(bits.OnesCount32(m.years(o))) // a visit counts, however cheap
			for _, c := range m.money(o) {
				cents += c.cents
			}
			if cents < least || cents == least && m.cost[o] < m.cost[best] {
				best, least = o, cents
			}
		}
		choice[j] = best
	}
	return choice
}

// result reports an outcome in the terms of the instance. limit are the row limits
// and budgets the money that they came from.
func (m *model) result(out *outcome, g *goal, budgets []Budget) *Result {
	l := newLedger(m, g, out.choice)
	r := &Result{Choice: make([]int32, len(out.choice)), Feasible: l.kept(), Cost: l.total(), Bound: out.bound, model: m, plan: out.choice, limit: g.limit, u: out.u}
	r.Nothing = m.totalCost(m.idle())
	for j, o := range out.choice {
		r.Choice[m.jointID[j]] = m.optionID[o]
	}
	r.addMoney(out.choice, budgets)
	years := m.in.Years
	for c := range m.in.Closures {
		first := m.rows.budgets + c*years
		r.Closures = append(r.Closures, append([]int64(nil), l.use[first:first+years]...))
	}
	for k, t := range m.in.Targets {
		row := m.rows.firstGoal + k
		r.Targets = append(r.Targets, TargetOutcome{t.Name, l.use[row], g.limit[row], out.u[row], t.Price * float64(l.use[row])})
	}
	return r
}

// addMoney fills Spent, Left and Price.
func (r *Result) addMoney(choice []int32, budgets []Budget) {
	m := r.model
	years := m.in.Years
	slots := m.spend(choice)
	for b, budget := range budgets {
		spent, left, price := make([]int64, years), make([]int64, years), make([]float64, years)
		for a, of := range m.in.Accounts {
			for _, x := range of {
				if int(x) == b {
					for y := range years {
						spent[y] += slots[a*years+y]
					}
				}
			}
		}
		before, later := int64(0), 0.0
		for y, cents := range budget.Cents {
			left[y] = NoLimit
			if before = addSaturated(before, cents); before != NoLimit {
				before -= spent[y]
				left[y] = before
			}
			if !budget.CarryOver {
				before = 0
			}
			u := r.u[b*years+years-1-y]
			later += u
			if !budget.CarryOver {
				later = u
			}
			price[years-1-y] = 100 * later
		}
		r.Spent, r.Left, r.Price = append(r.Spent, spent), append(r.Left, left), append(r.Price, price)
	}
}

// spend returns the money of a plan by slot.
func (m *model) spend(choice []int32) []int64 {
	slots := make([]int64, len(m.rows.slotFirst)-1)
	for b := range m.bridgeID {
		var open uint32
		for j := m.firstJoint[b]; j < m.firstJoint[b+1]; j++ {
			open |= m.years(choice[j])
			for _, c := range m.money(choice[j]) {
				if c.slot >= 0 {
					slots[c.slot] += c.cents
				}
			}
		}
		for ; open != 0; open &= open - 1 {
			if _, cents, slot := m.visit(int32(b), bits.TrailingZeros32(open)); slot >= 0 {
				slots[slot] += cents
			}
		}
	}
	return slots
}

func errInfeasible(s *Shortfall) error { return fmt.Errorf("%w: %s", ErrInfeasible, s) }
