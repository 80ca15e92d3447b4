package inventory_test

import (
	"slices"
	"testing"

	"github.com/paulmach/orb"
	"reseal/geo"
	"reseal/inventory"
)

func TestNearest(t *testing.T) {
	s := network(t)
	for _, tt := range []struct {
		name string
		ft   float64 // east of the first bridge
		n    int
		want []string
	}{
		{"beside one", 5280 + 30, 2, []string{"J000002", "J000003"}},
		{"between two", 2.4 * 5280, 3, []string{"J000003", "J000004", "J000002"}},
		{"at the end", 6 * 5280, 1, []string{"J000006"}},
		{"more than there are", 0, 9, []string{"J000001", "J000002", "J000003", "J000004", "J000005", "J000006"}},
		{"far from all", 60 * 5280, 3, nil},
	} {
		t.Run(tt.name, func(t *testing.T) {
			found, err := inventory.Nearest(ctx, s.Read(), geo.Destination(orb.Point{-120, 40}, 90, tt.ft), tt.n)
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, j := range found {
				got = append(got, j.Tag)
			}
			if !slices.Equal(got, tt.want) {
				t.Errorf("got %v, want %v", got, tt.want)
			}
		})
	}
}
