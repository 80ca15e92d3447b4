package plan

import (
	"context"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

// knapsack is a problem of testdata/plan/knapsack.txt.
type knapsack struct {
	name     string
	capacity []int64
	profit   []int64
	weight   [][]int64 // by row
	optimum  int64
}

func readKnapsacks(t *testing.T) []knapsack {
	t.Helper()
	text, err := os.ReadFile("../../testdata/plan/knapsack.txt")
	if err != nil {
		t.Fatal(err)
	}
	var all []knapsack
	for _, block := range strings.Split(strings.TrimSpace(string(text)), "\n\n") {
		var k knapsack
		for _, line := range strings.Split(block, "\n") {
			key, rest, _ := strings.Cut(line, " ")
			if key == "name" {
				k.name = rest
				continue
			}
			var numbers []int64
			for _, f := range strings.Fields(rest) {
				n, err := strconv.ParseInt(f, 10, 64)
				if err != nil {
					t.Fatal(err)
				}
				numbers = append(numbers, n)
			}
			switch key {
			case "capacity":
				k.capacity = numbers
			case "profit":
				k.profit = numbers
			case "weight":
				k.weight = append(k.weight, numbers)
			case "optimum":
				k.optimum = numbers[0]
			}
		}
		all = append(all, k)
	}
	return all
}

// instance poses a knapsack as a plan: items are joints of their own bridges, rows
// are the money of years.
func (k knapsack) instance() *Instance {
	in := &Instance{Years: len(k.capacity), Accounts: [][]int32{{0}}, Budgets: []Budget{{Name: k.name, Cents: k.capacity}}}
	for i, profit := range k.profit {
		in.AddBridge(make([]float64, in.Years), make([]int64, in.Years), -1, -1)
		in.AddJoint()
		in.AddOption(0)
		var charges []Charge
		for y := range in.Years {
			if w := k.weight[y][i]; w > 0 {
				charges = append(charges, Charge{w, 0, int16(y), 0})
			}
		}
		in.AddOption(-float64(profit), charges...)
	}
	return in
}

// Source: see testdata/plan/README.md.
func TestSolveKnapsacks(t *testing.T) {
	for _, k := range readKnapsacks(t) {
		t.Run(k.name, func(t *testing.T) {
			got, err := Solve(context.Background(), k.instance(), Options{})
			if err != nil {
				t.Fatal(err)
			}
			want := -float64(k.optimum)
			if math.Abs(got.Cost-want) > 1e-6 || math.Abs(got.Bound-want) > 1e-3 {
				t.Errorf("got cost %v bound %v, want %v", got.Cost, got.Bound, want)
			}
			for y, left := range got.Left[0] {
				if left < 0 {
					t.Errorf("row %d: %d over its capacity", y, -left)
				}
			}
		})
	}
}
