package strategy_test

import (
	"fmt"

	"reseal/forecast/strategy"
)

// A seal that has failed costs 4,000 dollars a year; a new one costs 18,000 and
// is half likely to have failed after ten years.
func ExampleValue_Wait() {
	failed, fresh := make(strategy.Curve, strategy.Points), make(strategy.Curve, strategy.Points)
	for i, years := range strategy.Times() {
		failed[i] = 1
		fresh[i] = min(years/20, 1)
	}
	v, err := strategy.NewValue(&strategy.Joint{
		Now: failed, ConsequenceDollars: 4000,
		Treatments: []strategy.Treatment{{Name: "reseal", CostDollars: 18000, Effect: strategy.Renews, Site: fresh, Group: fresh}},
	}, strategy.Terms{Years: 10, Rate: 0.02, SiteShare: 0.5})
	if err != nil {
		fmt.Println(err)
		return
	}
	wait, _ := v.Wait(0, 0)
	fmt.Printf("leaving it for a year costs $%.0f; a new seal is best renewed after %.0f years\n", wait, v.Forever().AgeYears)
	// Output: leaving it for a year costs $1169; a new seal is best renewed after 14 years
}
