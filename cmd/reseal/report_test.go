package main

import (
	"strings"
	"testing"
)

// The quarter's figures follow from what was approved, done and dropped.
func TestQuarterReport(t *testing.T) {
	reseal := forecastWorld(t)
	must := func(args ...string) string {
		t.Helper()
		out, errs, code := reseal("", args...)
		if code != 0 {
			t.Fatalf("reseal %s: exit %d: %s", strings.Join(args, " "), code, errs)
		}
		return out
	}
	must("worklist", "--year", "2027", "--budget", "90000", "--approve", "FY27")
	must("job", "program", "--list", "FY27", "--all")
	jobs := strings.Split(strings.TrimSpace(must("job", "list", "FY27", "--format", "csv")), "\n")[1:]
	tag := func(i int) string { return strings.Split(jobs[i], ",")[2] }
	must("job", "complete", tag(0), "--cost", "7000")
	must("job", "drop", tag(1), "--reason", "deck replaced in 2028")
	must("finding", "add", tag(2), "plate", "placed", "--on", "2026-02-19")
	got := must("report", "--quarter", "--format", "csv")
	for _, want := range []string{
		"done in quarter,FY27,1,", ",7000.00,", "dropped because," + tag(1), "deck replaced in 2028",
		"open plate," + tag(2) + ",,,,,,10,since 2026-02-19", "cost of a foot,", "overdue,all inspections,",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("no %q in:\n%s", want, got)
		}
	}
	if out, errs, code := reseal("", "report", "--quarter", "--date", "2027-01-01"); code != exitUsage || !strings.Contains(errs, "future") {
		t.Errorf("exit %d: %s%s", code, out, errs)
	}
	for _, line := range strings.Split(must("report", "--quarter"), "\n") {
		if n := len([]rune(line)); n > tableWidth {
			t.Errorf("a line of %d columns: %s", n, line)
		}
	}
}
