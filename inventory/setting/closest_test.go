package setting_test

import (
	"testing"

	"reseal/inventory/setting"
)

// The row that asks most of the case holds, the last thing asked before all others.
func TestClosest(t *testing.T) {
	rows := [][2]string{{"", "reseal"}, {"1", ""}, {"2", "reseal"}, {"2", "Repair"}}
	for _, test := range []struct {
		district, work string
		want           int // of rows; below 0: none
	}{
		{"1", "reseal", 0}, {"2", "reseal", 2}, {"2", "repair", 3}, {"1", "other", 1}, {"3", "other", -1},
	} {
		got, ok := setting.Closest(rows, func(r *[2]string) int {
			return setting.Rank([2]string{r[0], test.district}, [2]string{r[1], test.work})
		})
		if ok != (test.want >= 0) || ok && got != rows[test.want] {
			t.Errorf("%s, %s: got %v %v, want row %d", test.district, test.work, got, ok, test.want)
		}
	}
}
