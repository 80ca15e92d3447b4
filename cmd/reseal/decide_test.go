package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// What people decide moves the list and the plan, stays on record and can be
// undone; an approved list cannot be approved again.
func TestDecisionsAreObeyed(t *testing.T) {
	reseal := forecastWorld(t)
	must := func(args ...string) string {
		t.Helper()
		out, errs, code := reseal("", args...)
		if code != 0 {
			t.Fatalf("reseal %s: exit %d: %s", strings.Join(args, " "), code, errs)
		}
		return out
	}
	refuse := func(want string, args ...string) {
		t.Helper()
		if _, errs, code := reseal("", args...); code == 0 || !strings.Contains(errs, want) {
			t.Errorf("reseal %s: exit %d: %q, want %q", strings.Join(args, " "), code, errs, want)
		}
	}
	list := func() string { return must("worklist", "--year", "2027", "--format", "csv") }
	first := func() string {
		for _, line := range strings.Split(list(), "\n") {
			if strings.HasPrefix(line, "ranked,1,") {
				return strings.Split(line, ",")[2]
			}
		}
		return ""
	}
	if got := first(); got != "J000043" {
		t.Fatalf("first of the list: got %s, want J000043", got)
	}
	refuse("needs a reason", "decide", "J000043", "exclude")
	refuse("no treatment", "decide", "J000043", "treatment", "magic", "--reason", "x")
	refuse("fiscal year", "decide", "J000043", "hold", "soon", "--reason", "x")
	refuse("nothing was decided about J000043", "decide", "J000043", "undo")
	refuse("nothing was decided about J000043 by \"hold\"", "decide", "J000043", "undo", "hold")
	refuse("nobody can decide", "decide", "J000043", "burn", "--reason", "x")

	must("decide", "J000043", "hold", "2029", "--reason", "detour until 2029")
	if strings.Contains(list(), ",J000043,,41") && first() == "J000043" {
		t.Error("a held joint leads the list")
	}
	if out := must("worklist", "--year", "2027"); !strings.Contains(out, "J000043 held until 2029: 605 (test: detour until 2029)") {
		t.Errorf("the price of the hold is not shown:\n%s", out)
	}
	if out := must("plan", "--yearly", "40000", "--years", "6", "--joints", "--format", "csv"); strings.Contains(out, "2027,2,B000011,R 12,J000043") {
		t.Errorf("the plan does not hold J000043:\n%s", out)
	}
	must("decide", "J000043", "hold", "2028", "--reason", "detour until 2028")
	if out := must("decide", "--format", "csv"); strings.Count(out, "J000043") != 1 || !strings.Contains(out, "held until 2028") {
		t.Errorf("decisions that stand:\n%s", out)
	}
	must("decide", "J000043", "undo")
	must("decide", "J000016", "pin", "2027", "--reason", "night closure booked")
	if got := first(); got != "J000016" {
		t.Errorf("a pinned joint: got %s first", got)
	}
	if out := must("plan", "--yearly", "40000", "--years", "6", "--joints", "--format", "csv"); !strings.Contains(out, "J000016") {
		t.Errorf("the plan leaves out a pinned joint:\n%s", out)
	}
	must("decide", "J000016", "treatment", "header rebuild", "--reason", "spalled")
	if !strings.Contains(list(), "header rebuild") {
		t.Error("the list does not have the treatment that was decided")
	}
	must("worklist", "--year", "2027", "--budget", "60000", "--approve", "FY27")
	refuse("an approved list \"FY27\"", "worklist", "--year", "2027", "--budget", "60000", "--approve", "FY27")
}

// A plan is kept by name and compared; the table of budgets gives its money.
func TestPlansAreKept(t *testing.T) {
	reseal := forecastWorld(t)
	must := func(stdin string, args ...string) string {
		t.Helper()
		out, errs, code := reseal(stdin, args...)
		if code != 0 {
			t.Fatalf("reseal %s: exit %d: %s", strings.Join(args, " "), code, errs)
		}
		return out
	}
	must("name,year,amount_usd,source\nFY27,2027,30000,letter\nFY28,2028,20000,letter\n", "settings", "table", "import", "budgets", "-")
	out := must("", "plan", "--years", "3", "--name", "a", "--format", "csv")
	if !strings.Contains(out, "network,2027,") || !strings.Contains(out, ",30000.00,") || !strings.Contains(out, "network,2029,") {
		t.Errorf("the plan's years:\n%s", out)
	}
	must("", "plan", "--years", "12", "--district", "2") // longer than repairs are looked at
	must("", "plan", "--years", "3", "--yearly", "10000", "--name", "b")
	if out := must("", "plan", "--compare", "a,b"); !strings.Contains(out, "2027") || !strings.Contains(out, "J0000") {
		t.Errorf("compared:\n%s", out)
	}
	must("", "plan", "--years", "3", "--yearly", "60000", "--name", "rich")
	out = must("", "plan", "--compare", "a,b,rich")
	for _, want := range []string{"a: jobs", "b: jobs", "rich: jobs", "expected cost", "dist", "joints moved"} {
		if !strings.Contains(out, want) {
			t.Errorf("compared, without %q:\n%s", want, out)
		}
	}
	if out := must("", "plan", "--compare", "b,rich", "--show", "years", "--format", "csv"); !strings.HasPrefix(out, "year,jobs_b,nominal_usd_b,jobs_rich,nominal_usd_rich\n2027,") {
		t.Errorf("years compared:\n%s", out)
	}
	must("", "plan", "--years", "4", "--yearly", "10000", "--name", "long")
	if out := must("", "plan", "--compare", "b,long"); !strings.Contains(out, "do not compare") {
		t.Errorf("plans of other years:\n%s", out)
	}
	for _, args := range []string{"a", "a,a", "a,", "a,b --show fish"} {
		if _, _, code := reseal("", strings.Fields("plan --compare "+args)...); code != exitUsage {
			t.Errorf("--compare %s: exit %d, want %d", args, code, exitUsage)
		}
	}
	if _, errs, code := reseal("", "plan", "--compare", "a,c"); code == 0 || !strings.Contains(errs, `no plan "c"`) {
		t.Errorf("comparing with a plan that is not there: exit %d, %q", code, errs)
	}
	lp := must("", "plan", "--years", "3", "--yearly", "10000", "--lp", "-")
	if !strings.Contains(lp, "Minimize") && !strings.Contains(lp, "minimize") {
		t.Errorf("the LP file begins with %.80q", lp)
	}
	file := filepath.Join(t.TempDir(), "plan.lp")
	_, said, _ := reseal("", "plan", "--years", "3", "--yearly", "10000", "--lp", file)
	if kept, err := os.ReadFile(file); err != nil || string(kept) != lp || !strings.Contains(said, "wrote "+file+": the plan as an LP file, ") {
		t.Errorf("the LP file in a file: %d bytes, %v, %q", len(kept), err, said)
	}
	for name, want := range map[string]bool{"b": true, "new": false} {
		_, said, _ := reseal("", "plan", "--years", "3", "--yearly", "10000", "--name", name)
		if strings.Contains(said, `kept as "`+name+`"; replaced the plan kept 2026-03-01 by test under that name`) != want {
			t.Errorf("kept as %s: %q", name, said)
		}
	}
}
