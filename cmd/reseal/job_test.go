package main

import (
	"strings"
	"testing"
)

// A list's jobs go from approved to paid by legal moves only; what is completed
// is linked to the work on record, and puts it there where there is none.
func TestJobsGoTheirWay(t *testing.T) {
	reseal := forecastWorld(t)
	must := func(args ...string) string {
		t.Helper()
		out, errs, code := reseal("", args...)
		if code != 0 {
			t.Fatalf("reseal %s: exit %d: %s", strings.Join(args, " "), code, errs)
		}
		return out + errs
	}
	refuse := func(want string, args ...string) {
		t.Helper()
		if _, errs, code := reseal("", args...); code == 0 || !strings.Contains(errs, want) {
			t.Errorf("reseal %s: exit %d: %q, want %q", strings.Join(args, " "), code, errs, want)
		}
	}
	has := func(out string, wants ...string) {
		t.Helper()
		for _, want := range wants {
			if !strings.Contains(out, want) {
				t.Errorf("no %q in:\n%s", want, out)
			}
		}
	}
	must("worklist", "--year", "2027", "--budget", "90000", "--approve", "FY27")
	refuse(`no approved list "FY28"`, "job", "list", "FY28")
	refuse("cannot become obligated", "job", "obligate", "J000043", "--contract", "C-1")
	refuse("cannot become completed", "job", "complete", "J000043")
	must("job", "program", "--list", "FY27", "--all")
	refuse("no job of", "job", "program", "--list", "FY27", "--all")
	refuse("needs the number of its contract", "job", "obligate", "J000043")
	must("job", "obligate", "J000043", "--contract", "C-1")
	refuse("later than", "job", "drop", "J000043", "--on", "2026-02-01", "--reason", "x")

	// Work that record put there is linked, with its cost; under another name only
	// where a person says so.
	must("record", "J000043", "--kind", "pourable seal", "--treatment", "header rebuild", "--cost", "9,000", "--by-whom", "contract")
	refuse("has \"header rebuild\" of 2026-03-01 on record", "job", "complete", "J000043")
	has(must("job", "complete", "J000043", "--as-recorded"), "linked to the work on record")
	has(must("job", "list", "--joint", "J000043", "--format", "csv"), "completed,2026-03-01", "C-1", ",9000.00,")
	refuse("cannot become dropped", "job", "drop", "J000043", "--reason", "x")
	must("job", "undo", "J000043", "--list", "FY27")
	has(must("job", "list", "--joint", "J000043", "--format", "csv"), "obligated,2026-03-01")
	must("job", "complete", "J000043", "--as-recorded")
	must("job", "pay", "J000043")
	refuse("has no open job", "job", "pay", "J000043")

	// In-house work that nobody recorded goes on record with the completion.
	second := ""
	for _, line := range strings.Split(must("job", "list", "--state", "programmed", "--format", "csv"), "\n") {
		if cells := strings.Split(line, ","); len(cells) > 6 && strings.HasPrefix(line, "FY27") && second == "" {
			second = cells[2]
		}
	}
	refuse("--cost is of one job", "job", "pay", "J000043", second, "--cost", "5")
	// A slip of the pen is asked about, and can be corrected.
	odd := strings.Join(strings.Fields(must("job", "complete", second, "--cost", "9")), " ")
	has(odd, "its work was put on record", "check the cost of joint "+second+": $9 is under a fifth of the $", "approved. It is kept; if it is wrong: reseal job undo "+second+" --list \"FY27\"")
	must("job", "undo", second, "--list", "FY27")
	has(must("job", "complete", second, "--cost", "1,250,000"), "is over five times the")
	must("job", "undo", second, "--list", "FY27")
	if said := must("job", "complete", second, "--cost", "12,500"); strings.Contains(said, "check the cost") {
		t.Errorf("asked about a usual cost: %s", said)
	}
	has(must("job", "list", "--joint", second, "--format", "csv"), ",12500.00,")
	has(must("joint", "show", second), "in-house")
	has(must("job", "pay", second, "--cost", "1"), "check the cost of joint "+second)

	third := ""
	for _, line := range strings.Split(must("job", "list", "--state", "programmed", "--format", "csv"), "\n") {
		if cells := strings.Split(line, ","); len(cells) > 6 && strings.HasPrefix(line, "FY27") {
			third = cells[2]
		}
	}
	refuse("for a reason", "job", "drop", third)
	must("job", "drop", third, "--reason", "deck replaced in 2028")
	has(must("job", "list", "--state", "dropped"), "deck replaced in 2028")
	has(must("job", "lists", "--format", "csv"), "FY27,2027,2026-03-01,test,90000.00,")
	refuse("flag provided but not defined", "job", "drop", third, "--colour")
}
