package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"reseal/forecast/forecasttest"
	"reseal/inventory/store"
)

// What was closed gives every figure again to the byte, whatever is changed later,
// and is refused when somebody touched it.
func TestCloseGivesFiguresAgain(t *testing.T) {
	db := filepath.Join(t.TempDir(), "network.gpkg")
	s, err := store.Open(context.Background(), db, store.Options{Create: true, Now: fixedNow})
	if err != nil {
		t.Fatal(err)
	}
	if err := forecasttest.Fill(context.Background(), s, 12, 3); err != nil {
		t.Fatal(err)
	}
	s.Close()
	at := func(day string) func(args ...string) (string, string, int) {
		now, err := time.Parse(time.DateOnly, day)
		if err != nil {
			t.Fatal(err)
		}
		return func(args ...string) (string, string, int) {
			t.Helper()
			var out, errs strings.Builder
			code := run(t.Context(), append([]string{"reseal", "--db", db, "--by", "tester"}, args...),
				world{in: strings.NewReader(""), out: &out, err: &errs, now: func() time.Time { return now }})
			return out.String(), errs.String(), code
		}
	}
	do := func(reseal func(args ...string) (string, string, int), args ...string) string {
		t.Helper()
		out, errs, code := reseal(args...)
		if code != exitDone {
			t.Fatalf("reseal %s: exit %d: %s", strings.Join(args, " "), code, errs)
		}
		return out
	}
	spring, fall := at("2026-03-01"), at("2026-09-01")
	figures := [][]string{
		{"worklist", "--year", "2027", "--budget", "60000"},
		{"forecast", "--joints"},
		{"budget", "--years", "4", "--yearly", "30000", "--format", "csv"},
		{"report", "--years", "4", "--yearly", "30000", "--levels", "50", "--output", "-"},
		{"plan", "--years", "4", "--yearly", "30000", "--joints"},
		{"cost", "J000043", "--year", "2027"},
		{"gap", "--all", "--format", "csv"},
	}
	var before []string
	for _, f := range figures {
		before = append(before, do(spring, f...))
	}
	if _, errs, code := spring("close", "2026"); code != exitFailed || !strings.Contains(errs, "has not ended") {
		t.Errorf("a year that runs was closed: exit %d, %s", code, errs)
	}
	do(spring, "close", "2025", "--dry-run")
	do(spring, "close", "2025")
	if _, errs, code := spring("close", "2025"); code != exitFailed || !strings.Contains(errs, "is closed already") {
		t.Errorf("closed twice: exit %d, %s", code, errs)
	}
	if out := do(spring, "close", "--format", "csv"); !strings.Contains(out, "2025,2026-03-01,tester,network.closed-2025.gpkg,") {
		t.Errorf("closed years:\n%s", out)
	}

	// Data entered later, a correction for before the close, tables and settings.
	do(fall, "inspect", "J000043", "--on", "2026-08-20", "--cs1", "28", "--accept-odd")
	do(fall, "inspect", "J000007", "--on", "2026-01-20", "--cs1", "1", "--cs4", "55", "--accept-odd")
	do(fall, "settings", "set", "failed_share", "0.3")
	do(fall, "decide", "J000016", "exclude", "--reason", "sold")
	for i, f := range figures {
		if got := do(fall, append(f, "--as-of", "2026-03-01")...); got != before[i] {
			t.Errorf("reseal %s is not what it was:\n%s\nwas\n%s", strings.Join(f, " "), got, before[i])
		}
	}
	if do(fall, figures[0]...) == before[0] {
		t.Error("the list of today is that of the close")
	}
	if _, errs, _ := fall("worklist", "--year", "2027", "--as-of", "2026-03-01"); !strings.Contains(errs, "from the close of 2025 made on 2026-03-01") {
		t.Errorf("it is not said where the figure is from: %s", errs)
	}
	if _, errs, _ := fall("worklist", "--year", "2027", "--as-of", "2026-03-02"); strings.Contains(errs, "from the close") {
		t.Errorf("a day after the last close is taken from it: %s", errs)
	}
	if _, errs, code := fall("worklist", "--year", "2027", "--budget", "60000", "--as-of", "2026-03-01", "--approve", "late"); code != exitFailed || !strings.Contains(errs, "never changes") {
		t.Errorf("a list was approved in what is closed: exit %d, %s", code, errs)
	}

	closed := filepath.Join(filepath.Dir(db), "network.closed-2025.gpkg")
	whole, err := os.ReadFile(closed)
	if err != nil {
		t.Fatal(err)
	}
	touched := append([]byte(nil), whole...)
	touched[len(touched)/2] ^= 1
	for _, test := range []struct {
		name, says string
		do         func() error
	}{
		{"touched", "is not as it was made", func() error { return os.WriteFile(closed, touched, 0o644) }},
		{"missing", "is missing", func() error { return os.Remove(closed) }},
	} {
		if err := os.Chmod(closed, 0o644); err != nil {
			t.Fatal(err)
		}
		if err := test.do(); err != nil {
			t.Fatal(err)
		}
		if _, errs, code := fall("forecast", "--as-of", "2026-03-01"); code != exitFailed || !strings.Contains(errs, test.says) {
			t.Errorf("%s: exit %d, %s", test.name, code, errs)
		}
	}
}
