package inventory_test

import (
	"testing"
	"time"

	"reseal/inventory"
)

// Dates read by hand must be those of the general parser, and its refusals.
func TestParseDate(t *testing.T) {
	for _, text := range []string{
		"2024-02-28", "2024-02-29", "2023-02-29", "2023-02-30", "2023-04-31", "2023-12-31", "2023-00-10", "2023-13-10",
		"2023-01-00", "2023-1-010", "0000-01-01", "9999-12-28", "-023-01-01", "2023-01-0x", "2023/01/01", "2023-01-01 ", "٢٠٢٣-01-01",
	} {
		want, wantErr := time.Parse(time.DateOnly, text)
		got, err := inventory.ParseDate(text)
		switch {
		case (err == nil) != (wantErr == nil):
			t.Errorf("%q: got error %v, the general parser %v", text, err, wantErr)
		case err == nil && got != inventory.DateOf(want):
			t.Errorf("%q: got %v, want %v", text, got, want)
		}
	}
}

func TestDateBefore(t *testing.T) {
	days := []inventory.Date{{}, {Year: 1999, Month: 12, Day: 31}, {Year: 2000, Month: 1, Day: 1}, {Year: 2000, Month: 2, Day: 1}, {Year: 2000, Month: 2, Day: 2}, {Year: 9999, Month: 12, Day: 31}}
	for i, d := range days {
		for j, e := range days {
			if got := d.Before(e); got != (i < j) {
				t.Errorf("%v before %v: got %v, want %v", d, e, got, i < j)
			}
		}
	}
}
