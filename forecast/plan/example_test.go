package plan_test

import (
	"context"
	"fmt"

	"reseal/forecast/plan"
)

// A bridge with two joints and $10,000 a year for two years. Resealing both in one
// visit costs $9,000 (invented figures); failing joints cost more each year.
func Example() {
	in := &plan.Instance{
		Years:    2,
		Accounts: [][]int32{{0}},
		Budgets:  []plan.Budget{{Name: "network", Cents: []int64{10_000_00, 10_000_00}}},
	}
	visit := []float64{3000, 2910} // discounted at 3 %
	in.AddBridge(visit, []int64{3000_00, 3000_00}, 0, -1)
	for range 2 {
		in.AddJoint()
		in.AddOption(20_000) // nothing: what failure will cost
		in.AddOption(8_000, plan.Charge{Cents: 3000_00, Account: 0, Year: 0})
		in.AddOption(9_500, plan.Charge{Cents: 3000_00, Account: 0, Year: 1})
	}
	r, err := plan.Solve(context.Background(), in, plan.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("options %v, cost $%.0f, bound $%.0f\n", r.Choice, r.Cost, r.Bound)
	fmt.Printf("spent $%d and $%d\n", r.Spent[0][0]/100, r.Spent[0][1]/100)
	// Output:
	// options [1 4], cost $19000, bound $19000
	// spent $9000 and $0
}
