package plan

import (
	"math"
	"math/rand/v2"
)

// randomInstance invents a small instance with every feature: budgets with and
// without carry-over, funds, money drawn before the work, shared visits, repeats,
// rules, closures, targets with a cap, a price or both, and contracts with a least of
// money, of jobs or both.
func randomInstance(rng *rand.Rand) *Instance {
	in := &Instance{Years: 1 + rng.IntN(4)}
	budgets := 1 + rng.IntN(3)
	for b := range budgets {
		in.Accounts = append(in.Accounts, []int32{int32(b)})
		if b > 0 {
			in.Accounts[b] = append(in.Accounts[b], 0)
		}
	}
	plain := len(in.Accounts)
	addRandomContracts(in, rng)
	for range 1 + rng.IntN(3) {
		addRandomBridge(in, plain, rng)
	}
	for b := range budgets {
		budget := Budget{Name: string(rune('a' + b)), CarryOver: rng.IntN(2) == 0}
		for range in.Years {
			cents := int64(rng.IntN(3000))
			if rng.IntN(10) == 0 {
				cents = NoLimit
			}
			budget.Cents = append(budget.Cents, cents)
		}
		in.Budgets = append(in.Budgets, budget)
	}
	if rng.IntN(2) == 0 {
		c := Closure{Name: "route 0", Route: 0}
		for range in.Years {
			c.Limit = append(c.Limit, int64(rng.IntN(3)))
		}
		in.Closures = append(in.Closures, c)
	}
	for range rng.IntN(3) {
		t := Target{Name: "failed", Cap: int64(20 + rng.IntN(100))}
		for range in.Cost {
			t.Use = append(t.Use, int32(rng.IntN(50)))
		}
		if rng.IntN(2) == 0 {
			t.Price = rng.Float64()
			if rng.IntN(2) == 0 {
				t.Cap = NoLimit
			}
		}
		in.Targets = append(in.Targets, t)
	}
	for range rng.IntN(3) {
		r := Rule{Joint: int32(rng.IntN(in.joints())), Kind: RuleKind(1 + rng.IntN(3)), Year: int32(rng.IntN(in.Years))}
		in.Rules = append(in.Rules, r)
		if _, err := in.allowed(); err != nil {
			in.Rules = in.Rules[:len(in.Rules)-1]
		}
	}
	return in
}

// addRandomContracts adds up to two, each with an account for its money and one for its
// jobs.
func addRandomContracts(in *Instance, rng *rand.Rand) {
	for k := range rng.IntN(3) {
		money, jobs := int32(len(in.Accounts)), int32(len(in.Accounts)+1)
		in.Accounts = append(in.Accounts, in.Accounts[rng.IntN(1+k)], nil)
		c := Contract{Name: string(rune('z' - k))}
		if rng.IntN(3) > 0 {
			c.Parts = append(c.Parts, ContractPart{[]int32{money}, int64(1 + rng.IntN(2500))})
		}
		if len(c.Parts) == 0 || rng.IntN(2) == 0 {
			c.Parts = append(c.Parts, ContractPart{[]int32{jobs}, int64(1 + rng.IntN(3))})
		}
		in.Contracts = append(in.Contracts, c)
	}
}

func addRandomBridge(in *Instance, plain int, rng *rand.Rand) {
	cost := make([]float64, in.Years)
	cents := make([]int64, in.Years)
	for y := range in.Years {
		cents[y] = int64(rng.IntN(600))
		cost[y] = float64(cents[y]) / 100 * math.Pow(0.97, float64(y))
	}
	account := func() int32 { return int32(rng.IntN(plain+1)) - 1 }
	in.AddBridge(cost, cents, account(), int32(rng.IntN(3))-1)
	for range 1 + rng.IntN(3) {
		in.AddJoint()
		pays := account()
		in.AddOption(50 + 10*rng.Float64())
		for range 1 + rng.IntN(5) {
			var charges []Charge
			cost := 5 + 45*rng.Float64()
			for y := range in.Years {
				if rng.IntN(3) == 0 {
					c := Charge{int64(rng.IntN(1500)), pays, int16(y), int16(rng.IntN(y + 1))}
					if n := len(in.Contracts); n > 0 && rng.IntN(3) > 0 {
						c.Account = int32(plain + 2*rng.IntN(n))
						charges = append(charges, Charge{1, c.Account + 1, c.Year, c.Lead})
					}
					charges = append(charges, c)
				}
				if rng.IntN(12) == 0 {
					charges = append(charges, Charge{int64(rng.IntN(500)), account(), int16(y), 0})
				}
			}
			in.AddOption(cost, charges...)
		}
	}
}

// check recomputes a plan from the instance alone: its cost and whether it keeps
// every limit and rule.
func check(in *Instance, choice []int32) (cost float64, feasible bool) {
	feasible = true
	spent := make([][]int64, len(in.Budgets))
	for b := range spent {
		spent[b] = make([]int64, in.Years)
	}
	drawn := make([][MaxYears]int64, len(in.Accounts))
	draw := func(account, year int32, cents int64) {
		if account >= 0 {
			drawn[account][year] += cents
			for _, b := range in.Accounts[account] {
				spent[b][year] += cents
			}
		}
	}
	visits := map[[2]int32]int64{}
	sums := make([]int64, len(in.Targets))
	for b := range in.bridges() {
		open := map[int32]bool{}
		for j := in.FirstJoint[b]; j < in.FirstJoint[b+1]; j++ {
			o := choice[j]
			cost += in.Cost[o]
			for _, c := range in.charges(o) {
				draw(c.Account, int32(c.Year-c.Lead), c.Cents)
				open[int32(c.Year)] = true
			}
			for k, t := range in.Targets {
				sums[k] += int64(t.Use[o])
				cost += t.Price * float64(t.Use[o])
			}
		}
		for y := range int32(in.Years) {
			if open[y] {
				cost += in.VisitCost[b*in.Years+int(y)]
				draw(in.VisitAccount[b], y, in.VisitCents[b*in.Years+int(y)])
				visits[[2]int32{in.Route[b], y}]++
			}
		}
	}
	for b, budget := range in.Budgets {
		var left int64
		for y, cents := range budget.Cents {
			if !budget.CarryOver {
				left = 0
			}
			if left = addSaturated(left, cents); left == NoLimit {
				continue
			}
			left -= spent[b][y]
			feasible = feasible && left >= 0
		}
	}
	for _, c := range in.Contracts {
		for y := range in.Years {
			some, short := false, false
			for _, p := range c.Parts {
				used := int64(0)
				for _, a := range p.Accounts {
					used += drawn[a][y]
				}
				some, short = some || used > 0, short || used < p.Least
			}
			feasible = feasible && !(some && short)
		}
	}
	for _, c := range in.Closures {
		for y, limit := range c.Limit {
			feasible = feasible && visits[[2]int32{c.Route, int32(y)}] <= limit
		}
	}
	for k, t := range in.Targets {
		feasible = feasible && sums[k] <= t.Cap
	}
	for _, r := range in.Rules {
		feasible = feasible && in.allows(r, choice[r.Joint])
	}
	return cost, feasible
}

// bruteForce tries every plan.
func bruteForce(in *Instance) (best float64, choice []int32) {
	best = math.Inf(1)
	eachPlan(in, func(now []int32, cost float64) {
		if cost < best {
			best, choice = cost, append([]int32(nil), now...)
		}
	})
	return best, choice
}

// eachPlan calls f for every plan that keeps every limit.
func eachPlan(in *Instance, f func(choice []int32, cost float64)) {
	now := make([]int32, in.joints())
	var try func(j int)
	try = func(j int) {
		if j == len(now) {
			if cost, ok := check(in, now); ok {
				f(now, cost)
			}
			return
		}
		for o := in.FirstOption[j]; o < in.FirstOption[j+1]; o++ {
			now[j] = o
			try(j + 1)
		}
	}
	try(0)
}
