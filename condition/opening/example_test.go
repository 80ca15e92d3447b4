package opening_test

import (
	"fmt"

	"reseal/condition/opening"
)

// A strip seal at the end of 300 ft of steel bridge: three readings, and the
// verdict. The joint is invented.
func Example() {
	joint := opening.Joint{ExpansionLengthFt: 300, Material: opening.Steel, Climate: opening.Moderate, SkewDeg: 10}
	readings := []opening.Reading{
		{Year: 2018.6, DeckTempF: 84, GapIn: 1.625},
		{Year: 2021.9, DeckTempF: 41, GapIn: 2.5},
		{Year: 2025.3, DeckTempF: 60, GapIn: 2.125},
	}
	line, err := opening.Fit(joint, readings, opening.Settings{})
	if err != nil {
		fmt.Println(err)
		return
	}
	check := line.Judge(opening.Limits{MinIn: 0, MaxIn: 3}, 2026.9, opening.Settings{})
	fmt.Println(check.Words())

	choice := line.Choose(opening.Catalogue(), opening.ChooseOptions{Year: 2026.9, InstallTempF: 55})
	best := choice.Trials[choice.Best].Seal
	fmt.Println(best.Kind, best.Size)
	// Output:
	// Likely too wide when cold: at 0 °F the opening is expected 0.41 in beyond the seal's largest, 3.00 in (95 % likely out of range).
	// strip seal 4 in
}
