package nbi_test

import (
	"context"
	"fmt"
	"strings"

	"reseal/inventory/nbi"
)

// An invented bridge.
func ExampleForEach() {
	file := `STATE_CODE_001,STRUCTURE_NUMBER_008,FACILITY_CARRIED_007,STRUCTURE_LEN_MT_049,DEGREES_SKEW_034,YEAR_BUILT_027
41,'I000001','SMITH'S ROAD, NORTH',30.5,15,197`
	err := nbi.ForEach(context.Background(), strings.NewReader(file), func(r nbi.Record) error {
		fmt.Printf("%s %s: %.1f ft, skew %d\n", r.StructureNumber, r.FacilityCarried, r.LengthFt, r.SkewDeg)
		for _, p := range r.Problems {
			fmt.Printf("line %d, column %s: %q %s\n", r.Line, p.Column, p.Value, p.Problem)
		}
		return nil
	})
	if err != nil {
		fmt.Println(err)
	}
	// Output:
	// I000001 SMITH'S ROAD, NORTH: 100.1 ft, skew 15
	// line 2, column YEAR_BUILT_027: "197" is not a year
}
