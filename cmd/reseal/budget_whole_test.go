package main

import (
	"context"
	"encoding/json"
	"math"
	"path/filepath"
	"regexp"
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
	if page := must("report", "--years", "4", "--levels", "50", "--output", "-"); !strings.Contains(page, "Of the money: "+said) || !strings.Contains(page, `<td>all</td>`) || !strings.Contains(page, "$"+found[1]+"</td></tr>") {
		t.Errorf("the report lacks the planned $%s", found[1])
	}
}

func joined(rows [][]string) (lines []string) {
	for _, r := range rows {
		lines = append(lines, strings.Join(r, "|"))
	}
	return lines
}
