package main

import (
	"strings"
	"testing"
)

// A sheet is for the treatment that the list has for the joint, and then for the
// one that was approved.
func TestSheetsAreOfTheListsTreatment(t *testing.T) {
	do, db := openings(t)
	do("inspect", "J000002", "--on", "2026-05-04", "--cs1", "30", "--cs3", "8", "--cs4", "3")
	for tag, treatment := range map[string]string{
		"J000001": "clean and flush", "J000002": "spot repair", "J000003": "header rebuild", "J000004": "new gland in existing rails",
	} {
		do("decide", tag, "pin", "2027", "--treatment", treatment, "--reason", "test")
	}
	check := func(args ...string) {
		t.Helper()
		code, out, messages := reseal(t, db, args...)
		if code != exitRejected || !strings.Contains(strings.Join(strings.Fields(messages), " "), "no sheet for header rebuild: needs drawings by a licensed engineer") {
			t.Errorf("exit %d, %s", code, messages)
		}
		pages := map[string]string{}
		for page := range strings.SplitSeq(out, "\f") {
			pages[page[strings.Index(page, "J0"):][:7]] = strings.Join(strings.Fields(page), " ")
		}
		for tag, want := range map[string][]string{
			"J000001": {"Work clean and flush", "no seal is ordered"},
			"J000002": {"Work spot repair", "at most 10.2 ft (25 % of the length)", "8.0 ft in CS3 and 3.0 ft in CS4 on 2026-05-04", "Seal to match strip seal, 4 in"},
			"J000004": {"Work new gland in existing rails", "Take out the old seal", "Install strip seal"},
		} {
			for _, w := range want {
				if !strings.Contains(pages[tag], w) {
					t.Errorf("%s: no %q in %s", tag, w, pages[tag])
				}
			}
		}
		if strings.Contains(pages["J000002"], "Take out the old seal") || len(pages) != 3 {
			t.Errorf("%d sheets, of the repair: %s", len(pages), pages["J000002"])
		}
	}
	check("sheet", "--worklist", "--year", "2027", "--budget", "400000")
	do("worklist", "--year", "2027", "--budget", "400000", "--approve", "FY27")
	check("sheet", "J000001", "J000002", "J000003", "J000004")
}
