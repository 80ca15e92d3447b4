package sheet_test

import (
	"fmt"

	"reseal/condition/opening"
	"reseal/condition/sheet"
)

// What to bring for 44 ft of preformed gland. The joint is invented.
func Example() {
	s, err := sheet.New(sheet.Job{
		Structure: "INVENTED-1", Joint: "2", LengthFt: 44, WindowHours: 9, SpeedMPH: 55,
		Seal: opening.Seal{Kind: opening.Gland, Size: "2¼ in movement", MinIn: 0.75, MaxIn: 3},
	}, sheet.Practice{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, q := range s.Quantities[:2] {
		fmt.Printf("%s: %g %s\n", q.Name, q.Amount, q.Unit)
	}
	fmt.Printf("%d closure, merging taper %d ft\n", s.Hours.Shifts, s.Tapers.MergingFt)
	// Output:
	// Seal: preformed gland, 2¼ in movement: 47 ft
	// Adhesive: 7 tubes of 20 oz
	// 1 closure, merging taper 660 ft
}
