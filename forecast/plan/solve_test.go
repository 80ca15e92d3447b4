package plan

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestSolveMatchesBruteForce(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	infeasible := 0
	for seed := range uint64(200) {
		in := randomInstance(rand.New(rand.NewPCG(7, seed)))
		want, _ := bruteForce(in)
		got, err := Solve(context.Background(), in, Options{Workers: 1})
		if math.IsInf(want, 1) {
			infeasible++
			if !errors.Is(err, ErrInfeasible) || got.Feasible || got.Shortfall == nil || !got.Shortfall.Proved {
				t.Errorf("seed %d: got cost %v, error %v, want ErrInfeasible, proved", seed, got.Cost, err)
			} else {
				checkShortfall(t, seed, in, got.Shortfall)
			}
			continue
		}
		if err != nil {
			t.Errorf("seed %d: %v, want cost %v", seed, err, want)
			continue
		}
		checkResult(t, in, got)
		if math.Abs(got.Cost-want) > 1e-6 || got.Bound > want+1e-6 || got.Bound < want-1e-6 {
			t.Errorf("seed %d: got cost %v bound %v, want %v", seed, got.Cost, got.Bound, want)
		}
	}
	if infeasible < 20 || infeasible > 150 {
		t.Errorf("%d of 200 instances are infeasible; both kinds should be tested", infeasible)
	}
}

// checkResult recomputes a feasible plan from the instance alone.
func checkResult(t *testing.T, in *Instance, got *Result) {
	t.Helper()
	cost, ok := check(in, got.Choice)
	if !ok || !got.Feasible {
		t.Errorf("plan keeps its limits: recomputed %v, reported %v", ok, got.Feasible)
	}
	if math.Abs(cost-got.Cost) > 1e-9*math.Abs(cost) {
		t.Errorf("got cost %v, recomputed %v", got.Cost, cost)
	}
	if got.Bound > got.Cost {
		t.Errorf("bound %v is above the cost %v", got.Bound, got.Cost)
	}
	for b, budget := range in.Budgets {
		carried := int64(0)
		for y, cents := range budget.Cents {
			if cents == NoLimit || got.Left[b][y] == NoLimit {
				carried = NoLimit
				if !budget.CarryOver {
					carried = 0
				}
				continue
			}
			if want := carried + cents - got.Spent[b][y]; got.Left[b][y] != want || want < 0 {
				t.Errorf("budget %d year %d: got %d left, want %d, zero or more", b, y, got.Left[b][y], want)
			}
			if budget.CarryOver {
				carried = got.Left[b][y]
			}
		}
	}
}

// checkShortfall compares the diagnosis with brute force: the lowest value of each
// target within the budgets, and the money that is enough.
func checkShortfall(t *testing.T, seed uint64, in *Instance, got *Shortfall) {
	t.Helper()
	for k := range in.Targets {
		alone := *in
		alone.Targets = []Target{{Use: in.Targets[k].Use, Cap: math.MaxInt64}}
		alone.Cost = make([]float64, len(in.Cost))
		for o, u := range in.Targets[k].Use {
			alone.Cost[o] = float64(u)
		}
		alone.VisitCost = make([]float64, len(in.VisitCost))
		least, _ := bruteForce(&alone)
		at := slices.IndexFunc(got.Targets, func(m MissedTarget) bool { return m.Target == k })
		switch {
		case least <= float64(in.Targets[k].Cap):
			if at >= 0 {
				t.Errorf("seed %d target %d: reported as missed, but %v is within %d", seed, k, least, in.Targets[k].Cap)
			}
		case at < 0:
			t.Errorf("seed %d target %d: not reported, but %v is the least for a cap of %d", seed, k, least, in.Targets[k].Cap)
		case !math.IsInf(least, 1) && (got.Targets[at].Least != int64(least) || got.Targets[at].Bound != int64(least)):
			t.Errorf("seed %d target %d: got %+v, want least and bound %v", seed, k, got.Targets[at], least)
		}
	}
	level := func(share float64) float64 {
		more := *in
		more.Budgets = scaled(in.Budgets, share)
		cost, _ := bruteForce(&more)
		return cost
	}
	if got.Enough == 0 {
		if !math.IsInf(level(64), 1) {
			t.Errorf("seed %d: 64 times the budgets is enough, reported that nothing is", seed)
		}
		return
	}
	if math.IsInf(level(got.Enough), 1) || !math.IsInf(level(got.Enough-0.011), 1) {
		t.Errorf("seed %d: %v times the budgets reported as just enough", seed, got.Enough)
	}
}

// The search for the bound is all that has more than one worker.
func TestBoundIsTheSameOnAnyNumberOfWorkers(t *testing.T) {
	m, err := newModel(inventedNetwork(280, 3, 5))
	if err != nil {
		t.Fatal(err)
	}
	var want ascent
	for _, workers := range []int{1, 2, 3} {
		s := newSolver(context.Background(), m, Options{Workers: workers})
		g := s.strict(m.rows.limit)
		d := newDual(s.ctx, m, g, s.scale, s.workers)
		if shards := (d.bridges + shardBridges - 1) / shardBridges; shards < 4 {
			t.Fatalf("%d shards: one worker does them all", shards)
		}
		got := d.maximise(s.sample(g, nil), 8, math.Inf(1), nil)
		if workers == 1 {
			want = got
		}
		if got.bound != want.bound || !slices.Equal(got.u, want.u) {
			t.Errorf("%d workers: bound %v, 1 worker: %v", workers, got.bound, want.bound)
		}
	}
}

func TestSolveIsTheSameOnAnyNumberOfWorkers(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	in := inventedNetwork(280, 3, 5)
	one, err := Solve(context.Background(), in, Options{Workers: 1})
	if err != nil {
		t.Fatal(err)
	}
	three, err := Solve(context.Background(), in, Options{Workers: 3})
	if err != nil {
		t.Fatal(err)
	}
	checkResult(t, in, one)
	if diff := cmp.Diff(one.Choice, three.Choice); diff != "" || one.Cost != three.Cost || one.Bound != three.Bound {
		t.Errorf("1 worker: cost %v bound %v; 3 workers: cost %v bound %v", one.Cost, one.Bound, three.Cost, three.Bound)
	}
	if diff := cmp.Diff(one.Price, three.Price); diff != "" {
		t.Errorf("prices differ: %s", diff)
	}
}

// A network of the size of a large state's, with the gap that the planner is promised.
func TestSolveLargeNetwork(t *testing.T) {
	if os.Getenv("RESEAL_LONG") == "" {
		t.Skip("set RESEAL_LONG=1 to run")
	}
	in := inventedNetwork(40_000, 8, 1)
	two, err := Solve(context.Background(), in, Options{Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	checkResult(t, in, two)
	if two.GapPct() > 0.1 {
		t.Errorf("got a gap of %v %%, want at most 0.1", two.GapPct())
	}
	five, err := Solve(context.Background(), in, Options{Workers: 5})
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(two.Choice, five.Choice) || two.Cost != five.Cost || two.Bound != five.Bound {
		t.Errorf("2 workers: cost %v bound %v; 5 workers: cost %v bound %v", two.Cost, two.Bound, five.Cost, five.Bound)
	}
}

func TestSolveIgnoresTheOrderOfInput(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	in := inventedNetwork(60, 2, 9)
	rng := rand.New(rand.NewPCG(1, 2))
	shuffled, original := shuffle(in, rng)
	want, err := Solve(context.Background(), in, Options{})
	if err != nil {
		t.Fatal(err)
	}
	got, err := Solve(context.Background(), shuffled, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if got.Cost != want.Cost || got.Bound != want.Bound {
		t.Errorf("got cost %v bound %v, want %v %v", got.Cost, got.Bound, want.Cost, want.Bound)
	}
	for j, o := range got.Choice {
		if back := original.option[o]; want.Choice[original.joint[j]] != back {
			t.Errorf("joint %d: got option %d, want %d", original.joint[j], back, want.Choice[original.joint[j]])
		}
	}
}

// origin maps a shuffled instance's joints and options to the first's.
type origin struct{ joint, option []int32 }

// shuffle copies an instance with bridges, joints and options in another order.
func shuffle(in *Instance, rng *rand.Rand) (*Instance, origin) {
	out := &Instance{Years: in.Years, Accounts: in.Accounts, Budgets: in.Budgets, Contracts: in.Contracts}
	var from origin
	for _, b := range rng.Perm(in.bridges()) {
		at := b * in.Years
		out.AddBridge(in.VisitCost[at:at+in.Years], in.VisitCents[at:at+in.Years], in.VisitAccount[b], in.Route[b])
		first := in.FirstJoint[b]
		for _, i := range rng.Perm(int(in.FirstJoint[b+1] - first)) {
			j := first + int32(i)
			out.AddJoint()
			from.joint = append(from.joint, j)
			for _, k := range rng.Perm(int(in.FirstOption[j+1] - in.FirstOption[j])) {
				o := in.FirstOption[j] + int32(k)
				out.AddOption(in.Cost[o], in.charges(o)...)
				from.option = append(from.option, o)
			}
		}
	}
	return out, from
}

func TestSolveRefusesBadInput(t *testing.T) {
	tests := []struct {
		name  string
		spoil func(in *Instance)
	}{
		{"no years", func(in *Instance) { in.Years = 0 }},
		{"too many years", func(in *Instance) { in.Years = MaxYears + 1 }},
		{"cost is not a number", func(in *Instance) { in.Cost[0] = math.NaN() }},
		{"cost is infinite", func(in *Instance) { in.Cost[0] = math.Inf(1) }},
		{"money below zero", func(in *Instance) { in.Charges[0].Cents = -1 }},
		{"year past the horizon", func(in *Instance) { in.Charges[0].Year = int16(in.Years) }},
		{"money drawn before the first year", func(in *Instance) { in.Charges[0].Lead = in.Charges[0].Year + 1 }},
		{"no such account", func(in *Instance) { in.Charges[0].Account = 99 }},
		{"visit cost below zero", func(in *Instance) { in.VisitCost[0] = -1 }},
		{"budget below zero", func(in *Instance) { in.Budgets[0].Cents[0] = -1 }},
		{"budget of fewer years", func(in *Instance) { in.Budgets[0].Cents = in.Budgets[0].Cents[1:] }},
		{"target for fewer options", func(in *Instance) { in.Targets = []Target{{Use: []int32{1}}} }},
		{"price below zero", func(in *Instance) { in.Targets = []Target{{Use: make([]int32, len(in.Cost)), Price: -1}} }},
		{"contract of no parts", func(in *Instance) { in.Contracts = []Contract{{}} }},
		{"contract of no least", func(in *Instance) { in.Contracts = []Contract{{Parts: []ContractPart{{nil, 0}}}} }},
		{"contract on no account", func(in *Instance) { in.Contracts = []Contract{{Parts: []ContractPart{{[]int32{9}, 1}}}} }},
		{"contract that visits are paid from", func(in *Instance) { in.Contracts = []Contract{{Parts: []ContractPart{{[]int32{0}, 1}}}} }},
		{"rule for no joint", func(in *Instance) { in.Rules = []Rule{{Joint: -1, Kind: Pin}} }},
		{"rules that contradict", func(in *Instance) { in.Rules = []Rule{{0, Exclude, 0}, {0, Pin, 0}} }},
		{"joint without options", func(in *Instance) { in.AddJoint() }},
		{"options cut short", func(in *Instance) { in.FirstOption = in.FirstOption[:1] }},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			in := inventedNetwork(3, 1, 1)
			test.spoil(in)
			if _, err := Solve(context.Background(), in, Options{}); !errors.Is(err, ErrInvalid) {
				t.Errorf("got error %v, want ErrInvalid", err)
			}
		})
	}
}

func TestSolveEmptyNetwork(t *testing.T) {
	got, err := Solve(context.Background(), &Instance{Years: 5}, Options{})
	if err != nil || got.Cost != 0 || got.Bound != 0 || len(got.Choice) != 0 {
		t.Errorf("got %+v, %v, want an empty plan of cost 0", got, err)
	}
}

// Whenever the context ends, the search ends with its error and without a result.
func TestSolveStops(t *testing.T) {
	large := 3000
	if testing.Short() {
		large = 700
	}
	short := inventedNetwork(40, 0, 3)
	for _, b := range short.Budgets {
		clear(b.Cents)
	}
	short.Rules = []Rule{{Joint: 1, Kind: Pin, Year: 4}} // no plan pays for it
	tests := []struct {
		name  string
		in    *Instance
		after int  // calls of Progress
		alone bool // one goroutine does it all
	}{
		{"before it begins", inventedNetwork(40, 2, 3), 0, false},
		{"at once", inventedNetwork(40, 2, 3), 1, false},
		{"in the exact search", inventedNetwork(40, 2, 3), 80, true},
		{"a large network", inventedNetwork(large, 4, 3), 20, false},
		{"no plan keeps the limits", short, 30, true},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if test.alone && testing.Short() {
				t.Skip("nothing concurrent")
			}
			ctx, cancel := context.WithCancel(context.Background())
			defer cancel()
			calls := 0
			if test.after == 0 {
				cancel()
			}
			got, err := Solve(ctx, test.in, Options{Progress: func(float64) {
				if calls++; calls == test.after {
					cancel()
				}
			}})
			if !errors.Is(err, context.Canceled) || got != nil {
				t.Errorf("got %v, %v, want no result and context.Canceled", got, err)
			}
			if calls < test.after || calls > test.after+30 {
				t.Errorf("stopped after call %d, and %d came", test.after, calls)
			}
		})
	}
}
