package main

import (
	"context"
	"encoding/json"
	"math"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"reseal/forecast/forecasttest"
	"reseal/inventory/store"
)

// What is known only for whole bridges is told apart in every form of the budget,
// and comes to what the plan itself says.
func TestBudgetTellsWholeBridges(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	db := filepath.Join(dir, "network.gpkg")
	s, err := store.Open(ctx, db, store.Options{Create: true})
	if err != nil {
		t.Fatal(err)
	}
	if err := forecasttest.Fill(ctx, s, 12, 3); err != nil {
		t.Fatal(err)
	}
	must := func(args ...string) string {
		t.Helper()
		code, out, messages := reseal(t, db, append(args, "--as-of", "2026-03-01", "--yearly", "30000")...)
		if code != exitDone {
			t.Fatalf("exit %d: %s", code, messages)
		}
		return out + messages
	}
	const said = "quantities for a whole bridge"
	if out := must("budget", "--years", "4") + must("report", "--years", "4", "--output", "-"); strings.Contains(out, said) {
		t.Errorf("there are none, but:\n%s", out)
	}
	err = s.Update(ctx, "test", func(ctx context.Context, tx *store.Tx) error {
		_, err := tx.ExecContext(ctx, "UPDATE joints SET scope = 'bridge quantity' WHERE id % 2 = 0")
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	s.Close()
	words := strings.Join(strings.Fields(must("plan", "--years", "3")), " ")
	found := regexp.MustCompile(`of the jobs, \d+ jobs? for ([0-9,]+), visits aside`).FindStringSubmatch(words)
	if found == nil {
		t.Fatalf("the plan has no whole bridges: %s", words)
	}
	table := strings.Join(strings.Fields(must("budget", "--years", "4")), " ")
	if want := regexp.MustCompile(said + `.* need, ft need \$ planned, ft planned \$ .* 2026-2029 [0-9,]+ [0-9,]+ [0-9,]+ ` + found[1] + ` `); !want.MatchString(table) {
		t.Errorf("the table lacks the planned %s:\n%s", found[1], table)
	}

	var rows []struct {
		Year    any
		Feet    float64 `json:"feet"`
		Whole   float64 `json:"whole_bridge_feet"`
		Nominal float64 `json:"nominal_mean_usd"`
		Cost    float64 `json:"whole_bridge_nominal_usd"`
		Planned float64 `json:"planned_whole_bridge_nominal_usd"`
	}
	code, out, _ := reseal(t, db, "budget", "--years", "4", "--as-of", "2026-03-01", "--yearly", "30000", "--format", "json")
	if err := json.Unmarshal([]byte(out), &rows); code != exitDone || err != nil || len(rows) != 5 {
		t.Fatalf("exit %d, %v: %s", code, err, out)
	}
	cost, planned := 0.0, 0.0
	for _, r := range rows[:4] {
		cost, planned = cost+r.Cost, planned+r.Planned
		if r.Whole <= 0 || r.Whole >= r.Feet || r.Cost <= 0 || r.Cost >= r.Nominal {
			t.Errorf("%v: a part of the need is %+v", r.Year, r)
		}
	}
	if all := rows[4]; math.Abs(all.Cost-cost) > 0.005 || math.Abs(all.Planned-planned) > 0.005 || planned <= 0 {
		t.Errorf("all years: %+v, want %.2f and %.2f", all, cost, planned)
	}

	file := filepath.Join(dir, "budget.xlsx")
	must("budget", "--years", "4", "--output", file, "--per", "district")
	f, err := excelize.OpenFile(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	sheet, err := f.GetRows("Whole bridges")
	if err != nil || len(sheet) < 6 || len(sheet[0]) != 6 {
		t.Errorf("the sheet is %v (%v)", sheet, err)
	}
	summary, _ := f.GetRows("Summary")
	if got := strings.Join(joined(summary), "\n"); !strings.Contains(got, "Of the planned work, "+said+", nominal dollars without visits|$"+found[1]) || !strings.Contains(got, "measured joint by joint") {
		t.Errorf("the summary lacks $%s:\n%s", found[1], got)
	}
	levelsTellWholeBridges(t, must, dir, found[1])
	if page := must("report", "--years", "4", "--levels", "50", "--output", "-"); !strings.Contains(page, "Of the money: "+said) || !strings.Contains(page, `<td>all</td>`) || !strings.Contains(page, "$"+found[1]+"</td></tr>") {
		t.Errorf("the report lacks the planned $%s", found[1])
	}
}

// levelsTellWholeBridges checks the levels side by side against the plan's own words.
func levelsTellWholeBridges(t *testing.T, must func(...string) string, dir, planned string) {
	t.Helper()
	ask := []string{"budget", "--years", "3", "--levels", "50,100"}
	table := strings.Join(strings.Fields(must(ask...)), " ")
	if want := regexp.MustCompile(`quantities for a whole bridge.* level % jobs planned, ft planned \$ .* 100 [0-9,]+ [0-9,]+ ` + planned + ` no limit `); !want.MatchString(table) {
		t.Errorf("the levels lack the planned %s:\n%s", planned, table)
	}
	dollars := strings.ReplaceAll(planned, ",", "")
	out := must(append(ask, "--format", "csv")...)
	row := regexp.MustCompile(`(?m)^100,.*,true,\d+,([0-9.]+)$`).FindStringSubmatch(out)
	if row == nil || !strings.Contains(out, ",whole_bridge_jobs,whole_bridge_nominal_usd") {
		t.Fatalf("the levels as CSV:\n%s", out)
	}
	if usd, err := strconv.ParseFloat(row[1], 64); err != nil || strconv.Itoa(int(math.Round(usd))) != dollars {
		t.Errorf("the levels as CSV have %s, want %s", row[1], dollars)
	}
	if out := must(append(ask, "--each-year", "--format", "json")...); !strings.Contains(out, `"whole_bridge_feet"`) {
		t.Errorf("the levels by year: %s", out)
	}
	file := filepath.Join(dir, "levels.xlsx")
	must(append(ask, "--output", file)...)
	f, err := excelize.OpenFile(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	sheet, err := f.GetRows("Whole bridges")
	if err != nil || len(sheet) != 10 || len(sheet[0]) != 5 {
		t.Errorf("the sheet is %v (%v)", sheet, err)
	}
	summary, _ := f.GetRows("Summary")
	if got := strings.Join(joined(summary), "\n"); !regexp.MustCompile(`Of the planned, quantities for a whole bridge.*\|\$` + planned).MatchString(got) {
		t.Errorf("the summary lacks $%s:\n%s", planned, got)
	}
}

func joined(rows [][]string) (lines []string) {
	for _, r := range rows {
		lines = append(lines, strings.Join(r, "|"))
	}
	return lines
}
