package forecast_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"reseal/forecast"
)

// Three bridges within two miles of each other share a closure: all but the
// dearest visit, 8,000 + 6,000, save 40 %: 5,600.
func TestClosures(t *testing.T) {
	visit := func(route string, mile float64, structure string, year int, dollars int64) forecast.RouteVisit {
		return forecast.RouteVisit{Route: route, Milepost: mile, StructureNumber: structure, Year: year, Joints: 2, VisitCents: 100 * dollars}
	}
	got := forecast.Closures([]forecast.RouteVisit{
		visit("I 5", 13.5, "C", 2027, 6000),
		visit("I 5", 10.0, "A", 2027, 8000),
		visit("I 5", 11.9, "B", 2027, 9000),
		visit("I 5", 15.6, "D", 2027, 9000), // 2.1 miles on
		visit("I 5", 11.9, "B", 2028, 9000), // another year
		visit("I 90", 11.0, "E", 2027, 9000),
		visit("", 1, "F", 2027, 9000), // no route on record
		visit("", 1, "G", 2027, 9000),
		visit("I 90", 40.0, "H", 2029, 500),
		visit("I 90", 40.0, "I", 2029, 500),
	}, 2, 0.4)
	want := []forecast.Closure{
		{Route: "I 5", Year: 2027, FromMile: 10, ToMile: 13.5, Structures: []string{"A", "B", "C"}, Joints: 6, SavingCents: 5600_00},
		{Route: "I 90", Year: 2029, FromMile: 40, ToMile: 40, Structures: []string{"H", "I"}, Joints: 4, SavingCents: 200_00},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("want (-), got (+):\n%s", diff)
	}
	if got := forecast.Closures(nil, 2, 0.4); got != nil {
		t.Errorf("no visits: got %v", got)
	}
}
