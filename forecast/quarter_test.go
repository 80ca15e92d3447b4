package forecast

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func TestQuarterOf(t *testing.T) {
	for _, test := range []struct {
		name, day     string
		start         time.Month
		year, number  int
		from, through string
	}{
		{"calendar year", "2026-02-28", time.January, 2026, 1, "2026-01-01", "2026-03-31"},
		{"federal first", "2025-11-15", time.October, 2026, 1, "2025-10-01", "2025-12-31"},
		{"federal last day", "2026-09-30", time.October, 2026, 4, "2026-07-01", "2026-09-30"},
		{"over the new year", "2026-01-31", time.November, 2026, 1, "2025-11-01", "2026-01-31"},
		{"leap day", "2028-02-29", time.July, 2028, 3, "2028-01-01", "2028-03-31"},
	} {
		tables := testTables()
		tables.Settings.FiscalYearStart = float64(test.start)
		year, number, from, through := testModel(t, tables).QuarterOf(day(t, test.day))
		if year != test.year || number != test.number || from != day(t, test.from) || through != day(t, test.through) {
			t.Errorf("%s: got %d, %d, %s to %s", test.name, year, number, from, through)
		}
	}
}

// A job is counted once, in the state that it had on the last day.
func TestQuarterCountsJobs(t *testing.T) {
	dollars := func(v int64) *int64 { v *= 100; return &v }
	job := func(ft float64, cost int64, actual *int64, completed, dropped string) Job {
		j := Job{List: "FY26", Year: 2026, ApprovedOn: day(t, "2025-09-01"), LengthFt: ft, CostCents: 100 * cost, ActualCents: actual, Note: "sold"}
		if completed != "" {
			j.CompletedOn = day(t, completed)
		}
		if dropped != "" {
			j.DroppedOn = day(t, dropped)
		}
		return j
	}
	q := &Quarter{From: day(t, "2026-01-01"), Through: day(t, "2026-03-31")}
	later := job(99, 9, nil, "", "")
	later.List, later.ApprovedOn = "FY27", day(t, "2026-04-01")
	q.addJobs([]Job{
		job(10, 100, dollars(90), "2025-12-31", ""),
		job(20, 200, dollars(250), "2026-01-01", ""),
		job(30, 300, nil, "2026-03-31", ""),
		job(40, 400, nil, "2026-04-01", ""), // still to do on the last day
		job(50, 500, nil, "", "2026-02-01"),
		job(60, 600, nil, "", "2025-11-01"),
		later,
	})
	want := []ListProgress{{
		List: "FY26", Year: 2026,
		Approved:  Tally{Joints: 6, Feet: 210, ApprovedCents: 2100_00, NoCost: 6},
		Before:    Tally{Joints: 1, Feet: 10, ApprovedCents: 100_00, ActualCents: 90_00},
		Done:      Tally{Joints: 2, Feet: 50, ApprovedCents: 500_00, ActualCents: 250_00, NoCost: 1},
		Dropped:   Tally{Joints: 2, Feet: 110, ApprovedCents: 1100_00, NoCost: 2},
		Remaining: Tally{Joints: 1, Feet: 40, ApprovedCents: 400_00, NoCost: 1},
	}}
	if diff := cmp.Diff(want, q.Lists); diff != "" {
		t.Errorf("want (-), got (+):\n%s", diff)
	}
	if len(q.Dropped) != 1 || q.Dropped[0].LengthFt != 50 {
		t.Errorf("dropped in the quarter: %+v", q.Dropped)
	}
}
