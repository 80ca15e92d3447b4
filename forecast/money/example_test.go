package money_test

import (
	"fmt"

	"reseal/forecast/money"
)

// The cost of resealing a joint of 57.7 ft at prices of 2024 that rise by 3 % a
// year. The prices are invented.
func Example() {
	visit := money.Visit{
		Jobs: []money.Job{{Joint: "pier 2", LengthFt: 57.7, Costs: money.UnitCosts{
			Treatment: "reseal", PerFootCents: 145_00, MobilisationCents: 2_500_00, PriceYear: 2024,
		}}},
		Prices: money.Prices{RatePerYear: 0.03},
		Year:   2027,
	}
	estimates, err := visit.Estimates()
	if err != nil {
		fmt.Println(err)
		return
	}
	e := estimates[0]
	for _, l := range e.Lines {
		fmt.Printf("%-20s %8.4f %-8s %12s\n", l.Label, l.Quantity, l.Unit, money.Format(l.AmountCents))
	}
	fmt.Printf("%s %v, %s %v\n", e.Constant.Label(e.PriceYear), e.Constant, e.Nominal.Label(), e.Nominal)
	// Output:
	// reseal                57.7000 ft           8,366.50
	// mobilisation           1.0000 of visit     2,500.00
	// prices 2024 to 2027    0.0927 of above     1,007.62
	// constant 2024 dollars 10,866.50, nominal dollars 11,874.12
}
