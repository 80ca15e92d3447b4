package forecast_test

import (
	"fmt"

	"reseal/forecast"
	"reseal/inventory"
)

// An invented joint, by an invented life table.
func Example() {
	m, err := forecast.NewModel(&forecast.Tables{
		Settings: forecast.DefaultSettings(),
		Lives: []forecast.Life{
			{Kind: "strip seal", CS1Years: 6, CS2Years: 4, CS3Years: 4},
			{Kind: "other", CS1Years: 5, CS2Years: 3, CS3Years: 3},
		},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	installed, inspected := inventory.Date{Year: 2016, Month: 6, Day: 1}, inventory.Date{Year: 2025, Month: 5, Day: 12}
	joint := &forecast.Record{
		Tag: "J000123", LengthFt: 40,
		Stretches: []forecast.Stretch{{ID: 1, ToFt: 40, Seals: []forecast.Seal{{Kind: "strip seal", Installed: installed}}}},
		Looks:     []forecast.Look{{On: inspected, Observed: true, Feet: []forecast.StretchFeet{{StretchID: 1, StateFt: [4]float64{10, 20, 10, 0}}}}},
	}
	f, reason := m.Project(joint, inventory.Date{Year: 2026, Month: 3, Day: 1}, 2056)
	if reason != "" {
		fmt.Println(reason)
		return
	}
	fmt.Printf("%s: replace in %d (%d to %d)\nbasis: %s\n", joint.Tag, f.ReplaceYear, f.EarlyYear, f.LateYear, f.Basis)
	// Output:
	// J000123: replace in 2029 (2026 to 2036)
	// basis: inspected 2025-05-12; life table, strip seal
}
