package main

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// Cells are numbers with a format, so that a sum over them is one, and the summary
// says what the figures are.
func TestBudgetWorkbook(t *testing.T) {
	reseal := forecastWorld(t)
	for _, test := range []struct {
		name   string
		args   []string
		sheets string
		figure string
	}{
		{"projection", []string{"--years", "4", "--target", "10"}, "Summary, Need, Nothing done, With the plan", "Need 2026-2029, nominal dollars"},
		{"levels", []string{"--years", "3", "--levels", "80,100", "--per", "district"}, "Summary, Levels by year", "Planned 2027-2029, nominal dollars"},
	} {
		t.Run(test.name, func(t *testing.T) {
			file := filepath.Join(t.TempDir(), "budget.xlsx")
			if _, errs, code := reseal("", append([]string{"budget", "--yearly", "30000", "--output", file}, test.args...)...); code != 0 {
				t.Fatal(errs)
			}
			f, err := excelize.OpenFile(file)
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			if got := strings.Join(f.GetSheetList(), ", "); got != test.sheets {
				t.Errorf("sheets: got %s, want %s", got, test.sheets)
			}
			rows, err := f.GetRows("Summary")
			if err != nil {
				t.Fatal(err)
			}
			found, defined, marked := false, false, false
			for i, r := range rows {
				text := strings.Join(r, "|")
				defined = defined || strings.Contains(text, "backlog: seals expected to have failed")
				marked = marked || strings.Contains(text, "ILLUSTRATIVE")
				if len(r) > 1 && r[0] == test.figure {
					found = true
					cell, _ := excelize.CoordinatesToCellName(2, i+1)
					kind, err := f.GetCellType("Summary", cell)
					if err != nil || kind != excelize.CellTypeUnset && kind != excelize.CellTypeNumber || !strings.HasPrefix(r[1], "$") {
						t.Errorf("%s is %q of type %v, want a number shown as dollars (%v)", cell, r[1], kind, err)
					}
				}
			}
			if !found || !defined || !marked {
				t.Errorf("the summary has the figure %v, the definition of the backlog %v, the mark %v:\n%v", found, defined, marked, rows)
			}
		})
	}
	if _, errs, code := reseal("", "budget", "--output", "budget.csv"); code != exitUsage || !strings.Contains(errs, "workbook") {
		t.Errorf("exit %d: %s", code, errs)
	}
}

func TestBudgetRefuses(t *testing.T) {
	reseal := forecastWorld(t)
	for _, test := range []struct{ args, says string }{
		{"budget --per county", "--per is district, route or kind"},
		{"budget --each-year", "go with --levels"},
		{"budget --target 101", "--target is a share"},
		{"budget --levels 80 --yearly 30000 --target 5", "--target goes without"},
		{"budget --levels 80 --yearly 30000 --per kind", "--per goes with"},
		{"budget --levels x", "--levels is per cent"},
		{"budget --yearly none", "--yearly is dollars"},
	} {
		if out, errs, code := reseal("", strings.Fields(test.args)...); code != exitUsage || out != "" || !strings.Contains(errs, test.says) {
			t.Errorf("reseal %s: exit %d, %q, %q", test.args, code, out, errs)
		}
	}
}
