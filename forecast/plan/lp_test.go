package plan

import (
	"bytes"
	"context"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func TestWriteLP(t *testing.T) {
	in := &Instance{Years: 2, Accounts: [][]int32{{0}}, Budgets: []Budget{{Name: "network", Cents: []int64{500, 700}, CarryOver: true}}}
	in.AddBridge([]float64{2, 1.5}, []int64{200, 210}, 0, 0)
	in.AddJoint()
	in.AddOption(9)
	in.AddOption(4, Charge{300, 0, 0, 0})
	in.AddOption(5.25, Charge{310, 0, 1, 0})
	in.Closures = []Closure{{Name: "route", Route: 0, Limit: []int64{1, NoLimit}}}
	in.Targets = []Target{{Name: "failed", Cap: 8, Use: []int32{9, 2, 3}}}
	in.Accounts = append(in.Accounts, []int32{0})
	in.Charges[1].Account = 1
	in.Contracts = []Contract{{"reseals", []ContractPart{{[]int32{1}, 400}}}}
	var got bytes.Buffer
	if err := WriteLP(&got, in); err != nil {
		t.Fatal(err)
	}
	want := `\ expected discounted cost, dollars
Minimize
 cost: + 9 x_0_0 + 4 x_0_1 + 5.25 x_0_2 + 2 z_0_0 + 1.5 z_0_1
Subject To
 joint_0: + 1 x_0_0 + 1 x_0_1 + 1 x_0_2 = 1
 visit_0_0: + 1 x_0_1 - 1 z_0_0 <= 0
 visit_0_1: + 1 x_0_2 - 1 z_0_1 <= 0
 limit_0: + 300 x_0_1 + 200 z_0_0 <= 500
 limit_1: + 300 x_0_1 + 310 x_0_2 + 200 z_0_0 + 210 z_0_1 <= 1200
 limit_2: + 1 z_0_0 <= 1
 limit_6: + 9 x_0_0 + 2 x_0_1 + 3 x_0_2 <= 8
 let_0_0_1: + 1 x_0_2 - 1 y_0_1 <= 0
 least_0_1_0: + 310 x_0_2 - 400 y_0_1 >= 0
Bounds
 z_0_0 <= 1
 z_0_1 <= 1
Binary
 x_0_0
 x_0_1
 x_0_2
 y_0_1
End
`
	if diff := cmp.Diff(want, got.String()); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

// outside is a general solver: cbc (COIN-OR branch and cut) or glpsol (GLPK).
type outside struct {
	name string
	args func(lp, solution string, seconds int) []string
}

var outsiders = []outside{
	{"cbc", func(lp, solution string, seconds int) []string {
		return []string{lp, "sec", strconv.Itoa(seconds), "ratio", "0", "solve", "solution", solution}
	}},
	{"glpsol", func(lp, solution string, seconds int) []string {
		return []string{"--lp", lp, "--tmlim", strconv.Itoa(seconds), "--write", solution}
	}},
}

// solve returns the options of the solver's best plan by joint, or nil for none.
func (o outside) solve(t *testing.T, in *Instance, seconds int) []int32 {
	t.Helper()
	path, err := exec.LookPath(o.name)
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s is not installed", o.name)
		}
		t.Skipf("%s is not installed", o.name)
	}
	lp := filepath.Join(t.TempDir(), "plan.lp")
	f, err := os.Create(lp)
	if err != nil {
		t.Fatal(err)
	}
	if err := WriteLP(f, in); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	solution := lp + ".sol"
	ctx, cancel := context.WithTimeout(context.Background(), time.Duration(10*seconds+60)*time.Second)
	defer cancel()
	if out, err := exec.CommandContext(ctx, path, o.args(lp, solution, seconds)...).CombinedOutput(); err != nil {
		t.Fatalf("%s: %v\n%s", o.name, err, out)
	}
	text, err := os.ReadFile(solution)
	if err != nil {
		t.Fatalf("%s wrote no solution: %v", o.name, err)
	}
	names := regexp.MustCompile(`x_\d+_\d+`).FindAllString(readLP(t, lp), -1)
	return o.choice(in, string(text), names)
}

// readLP returns the part of an LP file that lists the columns in order.
func readLP(t *testing.T, lp string) string {
	t.Helper()
	text, err := os.ReadFile(lp)
	if err != nil {
		t.Fatal(err)
	}
	objective, _, _ := strings.Cut(string(text), "Subject To")
	return objective
}

// choice reads a solution file: lines with name and value from cbc, "j column value"
// in the order of the objective from glpsol.
func (o outside) choice(in *Instance, text string, names []string) []int32 {
	choice := make([]int32, in.joints())
	found := 0
	for _, line := range strings.Split(text, "\n") {
		f := strings.Fields(line)
		if len(f) > 0 && f[0] == "**" {
			f = f[1:]
		}
		var name, value string
		switch {
		case o.name == "cbc" && len(f) >= 3 && strings.HasPrefix(f[1], "x_"):
			name, value = f[1], f[2]
		case o.name == "glpsol" && len(f) == 3 && f[0] == "j":
			if column, err := strconv.Atoi(f[1]); err == nil && column <= len(names) {
				name, value = names[column-1], f[2]
			}
		}
		v, err := strconv.ParseFloat(value, 64)
		if err == nil && v > 1e-5 && v < 1-1e-5 {
			return nil // a relaxation: it ran out of time before it had a plan
		}
		if err == nil && v > 0.5 {
			parts := strings.Split(name, "_")
			joint, _ := strconv.Atoi(parts[1])
			option, _ := strconv.Atoi(parts[2])
			choice[joint] = int32(option)
			found++
		}
	}
	if found != len(choice) {
		return nil
	}
	return choice
}

// Against two general solvers on the same instance: our plan is never dearer than
// theirs, and no feasible plan of theirs is cheaper than our bound. The small ones
// they solve to the optimum; on the large ones they get the seconds given.
func TestSolveAgainstGeneralSolvers(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	tests := []struct {
		name    string
		in      *Instance
		seconds int
		long    bool
	}{
		{"14 joints, one budget", inventedNetwork(14, 0, 21), 5, false},
		{"20 joints, two districts", inventedNetwork(20, 2, 22), 5, false},
		{"every feature", featuredNetwork(), 5, false},
		{"14 joints, contracts", contracted(inventedNetwork(14, 1, 21), 2, 9_000_00), 5, false},
		{"every feature, contracts", contracted(featuredNetwork(), 2, 9_000_00), 5, true},
		{"40 joints, contracts", contracted(inventedNetwork(40, 2, 9), 2, 12_000_00), 20, true},
		{"300 joints, one budget", inventedNetwork(300, 0, 1), 60, true},
		{"300 joints, eight districts", inventedNetwork(300, 8, 1), 60, true},
	}
	for _, test := range tests {
		for _, o := range outsiders {
			t.Run(test.name+"/"+o.name, func(t *testing.T) {
				if test.long && os.Getenv("RESEAL_LONG") == "" {
					t.Skip("set RESEAL_LONG=1 to run")
				}
				theirs := o.solve(t, test.in, test.seconds)
				got, err := Solve(context.Background(), test.in, Options{})
				if err != nil {
					t.Fatal(err)
				}
				checkResult(t, test.in, got)
				if theirs == nil {
					t.Logf("no plan in %d s; ours costs %.0f, bound %.0f, gap %.3f%% of cost, %.3f%% of the saving", test.seconds, got.Cost, got.Bound, got.GapPct(), got.SavingGapPct())
					return
				}
				cost, feasible := check(test.in, theirs)
				t.Logf("%d joints, %d options: their plan costs %.2f (within limits: %v), ours %.2f, bound %.2f, gap %.3f%% of cost, %.3f%% of the saving",
					test.in.joints(), test.in.options(), cost, feasible, got.Cost, got.Bound, got.GapPct(), got.SavingGapPct())
				if !feasible {
					return // its tolerance on a row is more than a cent
				}
				if got.Cost > cost+1e-6*math.Abs(cost) {
					t.Errorf("got cost %v, theirs is %v", got.Cost, cost)
				}
				if got.Bound > cost+1e-6*math.Abs(cost) {
					t.Errorf("got bound %v, their feasible plan costs %v", got.Bound, cost)
				}
			})
		}
	}
}

// featuredNetwork invents 12 joints with carry-over, closures, a target with a price, money
// drawn a year ahead, and rules.
func featuredNetwork() *Instance {
	rng := rand.New(rand.NewPCG(5, 5))
	in := inventedNetwork(12, 2, 23)
	in.Budgets[0].CarryOver = true
	for b := range in.Route {
		in.Route[b] = int32(b % 2)
	}
	limit := make([]int64, in.Years)
	for y := range limit {
		limit[y] = 1
	}
	in.Closures = []Closure{{Name: "route 0", Route: 0, Limit: limit}}
	use := make([]int32, len(in.Cost))
	for o := range use {
		use[o] = int32(20 + rng.IntN(10))
		if in.visitYears(int32(o)) == 0 {
			use[o] = 60
		}
	}
	in.Targets = []Target{{Name: "failed feet", Cap: 720, Use: use, Price: 12.5}}
	for i := range in.Charges {
		if c := &in.Charges[i]; i%3 == 0 && c.Year > 0 {
			c.Lead = 1
		}
	}
	in.Rules = []Rule{{Joint: 1, Kind: Hold, Year: 6}, {Joint: 3, Kind: Exclude}}
	return in
}
