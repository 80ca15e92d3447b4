package plan

import (
	"context"
	"errors"
	"math"
	"testing"
)

// Two joints on bridges of their own, money for one of them in each year. Joint 0
// saves 40 when done in year 0 and 30 in year 1, joint 1 saves 25 and 24: joint 0 goes
// first, joint 1 waits.
func TestExplain(t *testing.T) {
	in := &Instance{Years: 2, Accounts: [][]int32{{0}}, Budgets: []Budget{{Name: "network", Cents: []int64{1000, 1000}}}}
	for _, saved := range [][2]float64{{40, 30}, {25, 24}} {
		in.AddBridge([]float64{0, 0}, []int64{0, 0}, 0, -1)
		in.AddJoint()
		in.AddOption(50)
		in.AddOption(50-saved[0], Charge{1000, 0, 0, 0})
		in.AddOption(50-saved[1], Charge{1000, 0, 1, 0})
	}
	r, err := Solve(context.Background(), in, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if r.Cost != 36 {
		t.Fatalf("got cost %v, want 36", r.Cost)
	}
	got, err := r.Explain(1)
	if err != nil {
		t.Fatal(err)
	}
	if got.Chosen != 5 || len(got.Years) != 3 {
		t.Fatalf("got %+v, want option 5 and three years", got)
	}
	for i, want := range []YearReason{
		{Year: -1, Option: 3, Cost: 24},
		{Year: 0, Option: 4, Cost: -1, Blocked: `budget "network" year 0`},
		{Year: 1, Option: 5, Chosen: true},
	} {
		y := got.Years[i]
		if y.Priced < -1e-6 {
			t.Errorf("year %d: priced change %v, want zero or more: the plan is best", y.Year, y.Priced)
		}
		y.Priced = 0
		if math.Abs(y.Cost-want.Cost) > 1e-9 {
			t.Errorf("year %d: cost change %v, want %v", y.Year, y.Cost, want.Cost)
		}
		y.Cost = want.Cost
		if y != want {
			t.Errorf("got %+v, want %+v", y, want)
		}
	}
	if _, err := r.Explain(2); !errors.Is(err, ErrInvalid) {
		t.Errorf("joint 2: got error %v, want ErrInvalid", err)
	}
}
