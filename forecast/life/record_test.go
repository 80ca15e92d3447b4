package life

import (
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestReadCSV(t *testing.T) {
	got, err := ReadCSV(strings.NewReader("\ufeffjoint,Right,left , weight,entry\nA,5,5,,\nB,,7,2,1\nC,9,,,\nD,4,2,,2\n"))
	want := []Record{
		{Low: 5, High: 5, Weight: 1},
		{Low: 7, High: math.Inf(1), Weight: 2, Entry: 1},
		{High: 9, Weight: 1},
		{Low: 2, High: 4, Weight: 1, Entry: 2},
	}
	if diff := cmp.Diff(want, got); err != nil || diff != "" {
		t.Errorf("%v (-want +got):\n%s", err, diff)
	}
}

func TestReadCSVListsEveryFault(t *testing.T) {
	for _, tt := range []struct {
		name, in string
		want     []string
	}{
		{"empty", "", []string{"the file is empty"}},
		{"no column", "left,age\n1,2\n", []string{"left and right"}},
		{"faults by line", "left,right\nx,y\n5,4\n1,2\n,\nNaN,Inf\n1\n", []string{
			`line 2: column left: "x" is not a number`, `column right: "y"`, "line 3: life between 5 and 4", "line 5: columns left and right: both blank",
			`line 6: column left: "NaN"`, `column right: "Inf"`, "line 7",
		}},
		{"weight of 0", "left,right,weight\n1,2,0\n", []string{"line 2: column weight: 0"}},
		{"open quote", "left,right\n\"1,2\n3,4\n", []string{"line "}},
		{"very many", "left,right\n" + strings.Repeat("x,1\n", 70), []string{"line 51", "and 20 more"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, err := ReadCSV(strings.NewReader(tt.in))
			if got != nil || !errors.Is(err, ErrInvalid) {
				t.Fatalf("got %v, %v; want ErrInvalid", got, err)
			}
			for _, want := range tt.want {
				if !strings.Contains(err.Error(), want) {
					t.Errorf("got %v, want it to say %q", err, want)
				}
			}
		})
	}
}

func TestCounts(t *testing.T) {
	f := estimate(t, []Record{
		Exact(4), Between(2, 4), {Low: 5, High: 5, Entry: 1, Weight: 3}, FailedBy(3), InService(6), InService(7),
	}, Weibull)
	want := Counts{Exact: 4, Interval: 1, Left: 1, Right: 2, Exposure: 4 + 2 + 12 + 0 + 6 + 7}
	if f.Counts != want {
		t.Errorf("got %+v, want %+v", f.Counts, want)
	}
}

func FuzzReadCSV(f *testing.F) {
	for _, s := range []string{"left,right\n1,2\n", "right,left,entry,weight\n,3,1,2\n", "left,right\n\"1", "left,right\n1e309,2\n"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		records, err := ReadCSV(strings.NewReader(s))
		if err != nil && records != nil {
			t.Error("records beside an error")
		}
		for _, r := range records {
			if err := r.Validate(); err != nil {
				t.Errorf("%q: %v", s, err)
			}
		}
	})
}
