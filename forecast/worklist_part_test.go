package forecast_test

import (
	"reflect"
	"testing"

	"reseal/forecast"
	"reseal/inventory"
)

// A part of the network's list is the list that the part alone would have.
func TestWorkListIn(t *testing.T) {
	s := invented(t, 60)
	m := model(t, s)
	listOf := func(f inventory.Filter, budget int64) *forecast.WorkList {
		o := forecast.WorkListOptions{Options: forecast.Options{AsOf: asOf, Filter: f}, Year: 2027, BudgetCents: budget}
		list, err := m.NewWorkList(t.Context(), s.Read(), o)
		if err != nil {
			t.Fatal(err)
		}
		return list
	}
	all := listOf(inventory.Filter{}, 0)
	if len(all.Ranked) < 4 {
		t.Fatalf("only %d joints are ranked", len(all.Ranked))
	}
	district := all.Ranked[0].District
	for name, c := range map[string]struct {
		district string
		budget   int64
	}{"no limit": {"", 0}, "money": {"", all.Ranked[len(all.Ranked)/2].CumulativeCents}, "a district": {district, 0}, "its money": {district, all.Ranked[1].CumulativeCents}} {
		t.Run(name, func(t *testing.T) {
			before := len(all.Ranked)
			got, err := all.In(c.district, "", c.budget)
			if err != nil {
				t.Fatal(err)
			}
			want := listOf(inventory.Filter{District: c.district}, c.budget)
			if !reflect.DeepEqual(got.Ranked, want.Ranked) || !reflect.DeepEqual(got.Urgent, want.Urgent) || !reflect.DeepEqual(got.Whole, want.Whole) || got.Line != want.Line ||
				got.SpentCents != want.SpentCents || !reflect.DeepEqual(got.Packages, want.Packages) || !reflect.DeepEqual(got.Swaps, want.Swaps) {
				t.Errorf("got %d joints and %d cents above the line, want %d and %d as of the part alone", got.Line, got.SpentCents, want.Line, want.SpentCents)
			}
			if len(all.Ranked) != before || all.Line != before {
				t.Error("the whole list was changed")
			}
			bought := got.Buys()
			if bought.Joints != len(got.Tags()) || c.budget > 0 && got.Line < len(got.Ranked) && bought.NextCents <= 0 {
				t.Errorf("got %+v for %d joints", bought, got.Line)
			}
		})
	}
}
