package forecast_test

import (
	"slices"
	"strings"
	"testing"

	"reseal/forecast"
)

// Every kind of the life table can be raised with an overlay, but a modular joint;
// and only where a person decides so, whatever is usual for the kind.
func TestOverlaySuitsKinds(t *testing.T) {
	tables, err := forecast.LoadTables(t.Context(), invented(t, 1).Read())
	if err != nil {
		t.Fatal(err)
	}
	const name = "raise or rebuild with an overlay"
	overlay, err := tables.Treatment(name)
	if err != nil || !overlay.OnlyDecided {
		t.Fatalf("%+v (%v), want one that people decide on", overlay, err)
	}
	for _, life := range tables.Lives {
		if got, want := slices.Contains(strings.Split(overlay.ForKinds, "; "), life.Kind), life.Kind != "modular joint"; got != want {
			t.Errorf("%s: suits %v, want %v", life.Kind, got, want)
		}
		if usual, err := tables.TreatmentFor(life.Kind); err != nil || usual.Name == name {
			t.Errorf("%s: the usual renewal is %q (%v)", life.Kind, usual.Name, err)
		}
	}
}
