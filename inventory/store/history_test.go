package store

import "testing"

// TestDifferenceOfDigits has the two ways in which builds of SQLite write one
// number: with 15 digits and with 17.
func TestDifferenceOfDigits(t *testing.T) {
	for _, tt := range []struct {
		name, before, after string
		want                int
	}{
		{"digits only", `{"station_ft": 103.510498687664}`, `{"station_ft": 103.51049868766405}`, 0},
		{"a hair", `{"station_ft": 103.5104986}`, `{"station_ft": 103.5104987}`, 1},
		{"from nothing", `{"station_ft": null}`, `{"station_ft": 0}`, 1},
		{"a whole number", `{"length_ft": 90}`, `{"length_ft": 90.0}`, 0},
		{"text", `{"label": "a"}`, `{"label": "b"}`, 1},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, err := difference(tt.before, tt.after)
			if err != nil || len(got) != tt.want {
				t.Errorf("got %v, %v; want %d fields", got, err, tt.want)
			}
		})
	}
}
