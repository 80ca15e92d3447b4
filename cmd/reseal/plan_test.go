package main

import (
	"strings"
	"testing"
)

// Tables bring funds, crews, closures and contracts into a plan; a target that
// cannot be met ends with its own exit code and the money that would do.
func TestPlanHeldToTables(t *testing.T) {
	reseal := forecastWorld(t)
	run := func(want int, stdin string, args ...string) (out, errs string) {
		t.Helper()
		out, errs, code := reseal(stdin, args...)
		if code != want {
			t.Fatalf("reseal %s: exit %d, want %d: %s", strings.Join(args, " "), code, want, errs)
		}
		return out, errs
	}
	for name, file := range map[string]string{
		"budgets":        "name,year,district,fund,amount_usd,source\na,2027,,,15000,x\nb,2028,,,15000,x\nc,2028,9,,9000,x\nd,2028,,federal,20000,x\n",
		"funds":          "name,match_share,last_year,source\nfederal,0.2,2028,x\n",
		"closure_limits": "name,route,closures,source\na,R 99,1,x\n",
		"deliveries":     "name,treatment,done_by,lead_years,minimum_usd,least_jobs,most_jobs,source\nsmall,spot repair,contract,1,2000,2,,x\nlarge,reseal,contract,,,,1,x\n",
		"crews":          "name,shifts,source\na,3,x\n",
	} {
		run(exitDone, file, "settings", "table", "import", name, "-")
	}
	out, _ := run(exitDone, "", "plan", "--years", "4", "--target", "failed:2030:30", "--target-price", "cs4:2030:10", "--name", "a")
	if strings.Contains(out, "under the minimum: ") || strings.Contains(out, "under the least jobs") {
		t.Errorf("a contract under its least:\n%s", out)
	}
	for _, want := range []string{
		"fund federal", "crews", "joints failed, end of year", "in CS4, end of year", "% of length", "the price set on targets is",
		`without a bridge in the plan: district "9", route "R 99"`, `contract "small", district`, "more than one contract: reseal of district",
	} {
		if !strings.Contains(out, want) {
			t.Errorf("the plan does not say %q:\n%s", want, out)
		}
	}
	if out, _ := run(exitDone, "", "plan", "--years", "4", "--joints", "--format", "csv"); !strings.Contains(out, ",federal,contract,2028") || !strings.Contains(out, ",contract,") {
		t.Errorf("the jobs tell neither fund nor contract:\n%s", out)
	}
	if out, _ := run(exitDone, "", "plan", "--years", "4", "--limits", "--format", "csv"); !strings.Contains(out, "crews,2027,3,") {
		t.Errorf("the limits:\n%s", out)
	}
	run(exitDone, "", "settings", "set", "closure_miles", "100") // the invented bridges have a route each
	if out, _ := run(exitDone, "", "plan", "--years", "4", "--closures"); !strings.Contains(out, "0 closures within 100 miles could save 0") {
		t.Errorf("closures:\n%s", out)
	}
	out, _ = run(exitDone, "", "bridge", "list", "--format", "csv", "--limit", "1")
	state, number, _ := strings.Cut(strings.Split(out, "\n")[1], ",")
	number, _, _ = strings.Cut(number, ",")
	run(exitDone, "state,structure_number,kind,year,certainty\n"+state+","+number+",overlay,2029,committed\n", "import", "projects", "-")
	if out, _ := run(exitDone, "", "plan", "--years", "4", "--projects"); !strings.Contains(out, number) || !strings.Contains(out, "overlay") || !strings.Contains(out, "at 1 bridge for a committed bridge project") {
		t.Errorf("projects:\n%s", out)
	}
	bridge := state + "/" + number
	if _, errs := run(exitFailed, "", "bridge", "withdraw", bridge, "overlay", "2029"); !strings.Contains(errs, "with a reason") {
		t.Errorf("withdrawn without a reason: %s", errs)
	}
	run(exitDone, "", "bridge", "withdraw", bridge, "overlay", "2029", "--reason", "no money")
	if out, _ := run(exitDone, "", "plan", "--years", "4", "--projects"); strings.Contains(out, "overlay") {
		t.Errorf("a withdrawn project is planned around:\n%s", out)
	}
	if out, _ := run(exitDone, "", "bridge", "projects", bridge); !strings.Contains(out, "no money") {
		t.Errorf("the withdrawn project is not on record:\n%s", out)
	}
	if _, errs := run(exitFailed, "state,structure_number,kind,year,certainty\n"+state+","+number+",overlay,2029,committed\n", "import", "projects", "-"); !strings.Contains(errs, "was withdrawn on") {
		t.Errorf("a withdrawn project in a file: %s", errs)
	}
	run(exitDone, "state,structure_number,kind,year,certainty\n"+state+","+number+",overlay,2029,committed\n", "import", "projects", "--accept-odd", "-")
	out, _ = run(exitDone, "", "joint", "list", "--bridge", number, "--format", "csv", "--limit", "1")
	tag, _, _ := strings.Cut(strings.Split(out, "\n")[1], ",")
	if out, _ := run(exitDone, "", "forecast", tag, "--plan", "a", "--to", "2032"); !strings.Contains(out, "committed in 2029: overlay of the bridge, outside the plan") {
		t.Errorf("the forecast with a plan does not count the project:\n%s", out)
	}
	if out, _ := run(exitDone, "", "forecast", "--condition", "--plan", "a", "--to", "2032"); !strings.Contains(strings.Join(strings.Fields(out), " "), "and committed bridge projects, which renew ") {
		t.Errorf("the network with a plan does not count the project:\n%s", out)
	}
	out, errs := run(exitInfeasible, "", "plan", "--years", "4", "--yearly", "3000", "--district", "2", "--target", "failed:2030:0.2", "--name", "b")
	if !strings.Contains(out, "NO PLAN keeps every limit") || !strings.Contains(errs, "at most 0.2 is asked") {
		t.Errorf("a target out of reach:\n%s%s", out, errs)
	}
	if _, errs := run(exitFailed, "", "plan", "--compare", "a,b"); !strings.Contains(errs, `no plan "b"`) {
		t.Errorf("a plan that breaks its limits was kept: %s", errs)
	}
	for args, says := range map[string]string{
		"plan --target failed":               "WHAT:YEAR:VALUE",
		"plan --target failed:2030:5%":       "WHAT:YEAR:VALUE",
		"plan --target-price failed:2030:-1": "WHAT:YEAR:VALUE",
		"plan --target rust:2030:5":          "no target for",
		"plan --target failed:2090:5":        "outside the plan",
	} {
		if _, errs, code := reseal("", strings.Fields(args)...); code == 0 || !strings.Contains(errs, says) {
			t.Errorf("%s: exit %d, %q, want %q", args, code, errs, says)
		}
	}
}

// --explain tells what was decided and found at the joint, whole rows, and nothing
// about other joints.
func TestExplainOneJoint(t *testing.T) {
	reseal := forecastWorld(t)
	if _, errs, code := reseal("", "decide", "J000043", "hold", "2029", "--reason", "detour closed"); code != exitDone {
		t.Fatal(errs)
	}
	out, errs, code := reseal("", "plan", "--yearly", "40000", "--years", "6", "--explain", "j000043")
	if code != exitDone {
		t.Fatal(errs)
	}
	said := strings.Join(strings.Fields(out), " ")
	for _, want := range []string{"J000043 held until 2029, decided by test on 2026-03-01: detour closed", "severe finding, loose steel: it needs an engineer's review now"} {
		if !strings.Contains(said, want) {
			t.Errorf("not said: %q\n%s", want, out)
		}
	}
	if strings.Contains(out, "…") || strings.Contains(out, "left out: ") {
		t.Errorf("cut, or about other joints:\n%s", out)
	}
}
