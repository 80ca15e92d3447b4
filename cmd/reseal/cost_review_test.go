package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Two joints of 40 and 60 ft of one bridge, done on one day at 100 a foot, 1000
// a joint and 2000 a visit, shared by length:
//
//	40 × 100 + 1000 + 2000 × 0.4 = 5800, paid 6380, 1.1 times
//	60 × 100 + 1000 + 2000 × 0.6 = 8200, paid 7380, 0.9 times
//
// 13760 of 14000 is 0.983; of 0.9 and 1.1 the middle is 1 and the quarters lie
// at 0.95 and 1.05.
func TestCostReviewByHand(t *testing.T) {
	db := filepath.Join(t.TempDir(), "network.gpkg")
	do := must(t, db)
	do("init")
	do("bridge", "add", "53/0001", "--length-ft", "200", "--curb-width-ft", "40", "--district", "3")
	do("joint", "add", "0001", "--place", "abutment", "--length-ft", "40")
	do("joint", "add", "0001", "--place", "pier", "--length-ft", "60")
	table := "name,for_kinds,cost_per_ft_usd,fixed_usd,visit_usd,price_year,source,illustrative\nreseal,,100,1000,2000,2026,letter,no\n"
	file := filepath.Join(t.TempDir(), "treatments.csv")
	if err := os.WriteFile(file, []byte(table), 0o644); err != nil {
		t.Fatal(err)
	}
	do("settings", "table", "import", "treatments", file)
	do("record", "J000001", "--kind", "strip seal", "--on", "2026-05-04", "--cost", "6380")
	do("record", "J000002", "--kind", "strip seal", "--on", "2026-05-04", "--cost", "7380")
	if got, want := do("cost", "--review", "--format", "csv"), "reseal,3,2,14000.00,13760.00,0.983,0.95,1,1.05\n"; !strings.Contains(got, want) {
		t.Errorf("got %s, want %s", got, want)
	}
	if got := do("cost", "--review", "--from", "2026-06-01", "--format", "csv"); strings.Count(got, "\n") != 1 {
		t.Errorf("work before --from counts:\n%s", got)
	}
	if code, _, errs := reseal(t, db, "cost", "J000001", "--district", "3"); code != exitUsage || !strings.Contains(errs, "--review") {
		t.Errorf("exit %d, %s", code, errs)
	}
}
