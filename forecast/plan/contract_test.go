package plan

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"
)

// contracted lets the dearer work of an invented network by contract, one of each
// account and year, which comes to a least of jobs and of money, drawn a year ahead.
// The leasts are invented.
func contracted(in *Instance, leastJobs, leastCents int64) *Instance {
	out := &Instance{Years: in.Years, Budgets: in.Budgets, Closures: in.Closures, Targets: in.Targets, Rules: in.Rules, Accounts: slices.Clone(in.Accounts)}
	plain := int32(len(in.Accounts))
	for a := range plain {
		money := int32(len(out.Accounts))
		out.Accounts = append(out.Accounts, in.Accounts[a], nil)
		out.Contracts = append(out.Contracts, Contract{fmt.Sprint("contract ", a+1), []ContractPart{{[]int32{money}, leastCents}, {[]int32{money + 1}, leastJobs}}})
	}
	for b := range in.bridges() {
		at := b * in.Years
		out.AddBridge(in.VisitCost[at:at+in.Years], in.VisitCents[at:at+in.Years], in.VisitAccount[b], in.Route[b])
		for j := in.FirstJoint[b]; j < in.FirstJoint[b+1]; j++ {
			out.AddJoint()
			for o := in.FirstOption[j]; o < in.FirstOption[j+1]; o++ {
				var charges []Charge
				for _, c := range in.charges(o) {
					if c.Account >= 0 && c.Cents > 6000_00 {
						c.Account = plain + 2*c.Account
						c.Lead = min(c.Year, 1)
						charges = append(charges, Charge{1, c.Account + 1, c.Year, c.Lead})
					}
					charges = append(charges, c)
				}
				out.AddOption(in.Cost[o], charges...)
			}
		}
	}
	return out
}

// Three joints on bridges of their own, each worth doing in a year of its own; a
// contract holds two jobs at the least. Two are let together, at the least loss, and
// the third waits for nothing.
func TestContractIsFilledOrNotLet(t *testing.T) {
	build := func(saved ...[3]float64) *Instance {
		in := &Instance{Years: 3, Accounts: [][]int32{nil}, Contracts: []Contract{{"district 1", []ContractPart{{[]int32{0}, 2}}}}}
		for _, s := range saved {
			in.AddBridge(make([]float64, 3), make([]int64, 3), -1, -1)
			in.AddJoint()
			in.AddOption(100)
			for y, v := range s {
				in.AddOption(100-v, Charge{1, 0, int16(y), 0})
			}
		}
		return in
	}
	tests := []struct {
		name string
		in   *Instance
		want []int32 // year by joint, -1 for never
	}{
		{"two come together", build([3]float64{50, 30, 10}, [3]float64{20, 40, 10}, [3]float64{1, 2, 3}), []int32{1, 1, 1}},
		{"one is not let", build([3]float64{50, 0, -90}), []int32{-1}},
		{"a third fills it", build([3]float64{50, 0, -90}, [3]float64{-10, -90, -90}), []int32{0, 0}},
		{"it does not pay to fill", build([3]float64{50, 0, -90}, [3]float64{-60, -90, -90}), []int32{-1, -1}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			r, err := Solve(context.Background(), test.in, Options{})
			if err != nil {
				t.Fatal(err)
			}
			for j, o := range r.Choice {
				if year := o - test.in.FirstOption[j] - 1; year != test.want[j] {
					t.Errorf("joint %d is done in year %d, want %d", j, year, test.want[j])
				}
			}
			if want, _ := bruteForce(test.in); math.Abs(want-r.Cost) > 1e-9 || r.Bound < want-1e-6 {
				t.Errorf("cost %v, bound %v, every plan tried gives %v", r.Cost, r.Bound, want)
			}
		})
	}
}

// A pin that leaves a contract under its least is told, with the contract.
func TestPinBreaksContract(t *testing.T) {
	in := &Instance{Years: 2, Accounts: [][]int32{nil}, Contracts: []Contract{{"district 1", []ContractPart{{[]int32{0}, 300}}}}}
	in.AddBridge(make([]float64, 2), make([]int64, 2), -1, -1)
	in.AddJoint()
	in.AddOption(50)
	in.AddOption(40, Charge{200, 0, 1, 0})
	in.Rules = []Rule{{0, Pin, 1}}
	r, err := Solve(context.Background(), in, Options{})
	if !errors.Is(err, ErrInfeasible) || r.Feasible || !r.Shortfall.Proved || r.Shortfall.Enough != 0 {
		t.Fatalf("got %v, %+v", err, r.Shortfall)
	}
	if c := r.Shortfall.Contracts; len(c) != 1 || c[0].Name != "district 1" || c[0].Year != 1 || !slices.Equal(c[0].Used, []int64{200}) {
		t.Errorf("got %+v, want the contract of year 1, of 200", c)
	}
	in.Contracts[0].Parts[0].Least = 200
	if r, err = Solve(context.Background(), in, Options{}); err != nil || r.Cost != 40 {
		t.Errorf("at its least: got cost %v, %v", r.Cost, err)
	}
}

func TestBreaksContract(t *testing.T) {
	in := &Instance{Years: 1, Accounts: [][]int32{nil}, Contracts: []Contract{{"district 1", []ContractPart{{[]int32{0}, 300}}}}}
	in.AddBridge([]float64{0}, []int64{0}, -1, -1)
	in.AddJoint()
	in.AddOption(50)
	in.AddOption(40, Charge{200, 0, 0, 0})
	r, err := Solve(context.Background(), in, Options{})
	if err != nil || r.Cost != 50 {
		t.Fatalf("got cost %v, %v, want nothing done", r.Cost, err)
	}
	if got := r.BreaksContract(0); len(got) != 1 || got[1] != 0 {
		t.Errorf("got %v, want that option 1 breaks the contract 0", got)
	}
}

// With contracts too: more money is never worse, the order of the input and the
// number of processors change nothing, and the plan that comes out keeps them.
func TestContractsOfANetwork(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	in := contracted(inventedNetwork(18, 1, 9), 2, 9_000_00)
	levels := []float64{1, 1.3}
	got, err := SolveLevels(context.Background(), in, levels, Options{Workers: 1})
	if err != nil {
		t.Fatal(err)
	}
	let := 0
	for i, r := range got {
		at := *in
		at.Budgets = scaled(in.Budgets, levels[i])
		checkResult(t, &at, r)
		if i > 0 && (r.Cost > got[i-1].Cost || r.Bound > got[i-1].Bound) {
			t.Errorf("level %v: cost %v bound %v, above those of level %v: %v %v", levels[i], r.Cost, r.Bound, levels[i-1], got[i-1].Cost, got[i-1].Bound)
		}
		let += len(slices.DeleteFunc(drawn(in, r.Choice), func(n int64) bool { return n == 0 }))
	}
	if let == 0 {
		t.Error("no contract is let")
	}
	free := *in
	free.Contracts = nil
	without, err := Solve(context.Background(), &free, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, kept := check(in, without.Choice); kept {
		t.Error("the contracts hold nothing back")
	}
	shuffled, original := shuffle(in, rand.New(rand.NewPCG(1, 2)))
	one := got[0]
	three, err := Solve(context.Background(), shuffled, Options{Workers: 3})
	if err != nil {
		t.Fatal(err)
	}
	if one.Cost != three.Cost || one.Bound != three.Bound {
		t.Errorf("got cost %v bound %v, and in another order %v %v", one.Cost, one.Bound, three.Cost, three.Bound)
	}
	for j, o := range three.Choice {
		if want := one.Choice[original.joint[j]]; want != original.option[o] {
			t.Errorf("joint %d: got option %d, in another order %d", original.joint[j], want, original.option[o])
		}
	}
	if one.Cost < without.Bound-1e-6 {
		t.Errorf("contracts save: cost %v under the bound without them %v", one.Cost, without.Bound)
	}
}

// drawn is what a plan draws on the first part of each contract by year.
func drawn(in *Instance, choice []int32) []int64 {
	sums := make([]int64, len(in.Contracts)*in.Years)
	for _, o := range choice {
		for _, c := range in.charges(o) {
			for k := range in.Contracts {
				if slices.Contains(in.Contracts[k].Parts[0].Accounts, c.Account) {
					sums[k*in.Years+int(c.Year-c.Lead)] += c.Cents
				}
			}
		}
	}
	return sums
}

// A large network's contracts are kept at a fair gap.
func TestContractsOfALargeNetwork(t *testing.T) {
	if os.Getenv("RESEAL_LONG") == "" {
		t.Skip("set RESEAL_LONG=1 to run")
	}
	for _, joints := range []int{1000, 10_000} {
		in := contracted(inventedNetwork(joints, 8, 1), 5, 60_000_00)
		r, err := Solve(context.Background(), in, Options{})
		if err != nil {
			t.Fatal(err)
		}
		checkResult(t, in, r)
		t.Logf("%d joints: gap %.3f %% of cost, %.3f %% of the saving", joints, r.GapPct(), r.SavingGapPct())
	}
}
