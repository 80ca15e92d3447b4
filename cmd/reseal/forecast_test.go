package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"reseal/forecast/forecasttest"
	"reseal/inventory/store"
)

// forecastWorld runs commands on an invented network of 12 bridges, as of 1
// March 2026.
func forecastWorld(t *testing.T) func(stdin string, args ...string) (stdout, stderr string, code int) {
	t.Helper()
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "network.gpkg")
	now := func() time.Time { return time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC) }
	s, err := store.Open(ctx, path, store.Options{Create: true, Now: now})
	if err != nil {
		t.Fatal(err)
	}
	if err := forecasttest.Fill(ctx, s, 12, 3); err != nil {
		t.Fatal(err)
	}
	s.Close()
	return func(stdin string, args ...string) (string, string, int) {
		t.Helper()
		var out, errs bytes.Buffer
		w := world{in: strings.NewReader(stdin), out: &out, err: &errs, now: now}
		code := run(ctx, append([]string{"reseal", "--db", path, "--by", "test"}, args...), w)
		return out.String(), errs.String(), code
	}
}

// Golden answers; UPDATE_GOLDEN=1 writes them anew, to be read as a planner
// would before they are committed.
func TestForecastCommands(t *testing.T) {
	reseal := forecastWorld(t)
	for _, test := range []struct{ name, args string }{
		{"forecast", "forecast"},
		{"forecast-csv", "forecast --format csv --to 2030"},
		{"forecast-joint", "forecast J000007 --to 2036"},
		{"forecast-joint-json", "forecast J000007 --to 2027 --format json"},
		{"forecast-condition", "forecast --condition --to 2029"},
		{"forecast-joints", "forecast --joints --district 2"},
		{"worklist", "worklist --year 2027 --budget 60000"},
		{"worklist-all", "worklist --year 2027 --route R_3"},
		{"worklist-csv", "worklist --budget 30,000 --format csv --limit 3"},
		{"worklist-json", "worklist --budget 30000 --format json --limit 1 --district 2"},
		{"budget", "budget --years 5"},
		{"budget-district", "budget --years 2 --per district"},
		{"budget-csv", "budget --years 2 --format csv"},
		{"plan", "plan --yearly 40000 --years 6"},
		{"plan-joints", "plan --yearly 40000 --years 6 --joints"},
		{"plan-explain", "plan --yearly 40000 --years 6 --explain J000043"},
		{"budget-plan", "budget --years 5 --yearly 30000 --target 10"},
		{"budget-levels", "budget --levels 50,100,150 --yearly 30000 --years 6"},
		{"budget-levels-years", "budget --levels 50,100 --yearly 30000 --years 3 --each-year --per district"},
		{"budget-levels-csv", "budget --levels 50 --yearly 30000 --years 2 --each-year --format csv"},
		{"cost", "cost J000043"},
		{"cost-csv", "cost J000035 --year 2028 --format csv"},
		{"settings", "settings list"},
		{"setting", "settings show failed_share"},
		{"life-table", "settings table list life_table"},
		{"treatments", "settings table export treatments"},
	} {
		t.Run(test.name, func(t *testing.T) {
			args := strings.Fields(test.args)
			for i := range args {
				args[i] = strings.ReplaceAll(args[i], "_3", " 3")
			}
			stdout, stderr, code := reseal("", args...)
			got := fmt.Sprintf("$ reseal %s\n%s-- stderr, exit %d\n%s", strings.Join(args, " "), stdout, code, stderr)
			golden := filepath.Join("testdata", "forecast", test.name+".txt")
			if os.Getenv("UPDATE_GOLDEN") != "" {
				if err := os.MkdirAll(filepath.Dir(golden), 0o755); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(string(want), got); diff != "" {
				t.Errorf("want (-), got (+):\n%s", diff)
			}
			if strings.Contains(test.args, "--format") || strings.Contains(test.args, "export") {
				return
			}
			for _, line := range strings.Split(got, "\n") {
				if n := utf8.RuneCountInString(line); n > tableWidth {
					t.Errorf("a line of %d columns: %s", n, line)
				}
			}
		})
	}
}

// --limit leaves the line where the budget ends in sight; what is known only for
// a whole bridge has a part of its own.
func TestWorkListShowsItsLine(t *testing.T) {
	ctx := context.Background()
	db := filepath.Join(t.TempDir(), "network.gpkg")
	s, err := store.Open(ctx, db, store.Options{Create: true})
	if err != nil {
		t.Fatal(err)
	}
	if err := forecasttest.Fill(ctx, s, 12, 3); err != nil {
		t.Fatal(err)
	}
	err = s.Update(ctx, "test", func(ctx context.Context, tx *store.Tx) error {
		_, err := tx.ExecContext(ctx, "UPDATE joints SET scope = 'bridge quantity' WHERE tag = 'J000043'")
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	s.Close()
	code, out, messages := reseal(t, db, "worklist", "--as-of", "2026-03-01", "--year", "2027", "--budget", "60000", "--limit", "2")
	if code != exitDone {
		t.Fatalf("exit %d: %s", code, messages)
	}
	for _, want := range []string{"which --limit leaves out", "the budget of 60,000 ends here", "more below the line", "passed over for the next job that fits", "reseal joint split J000043 NUMBER"} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in:\n%s", want, out)
		}
	}
	if strings.Contains(out, " 1  J000043") {
		t.Errorf("a whole bridge has a rank:\n%s", out)
	}
}

func TestForecastCommandsRefuse(t *testing.T) {
	reseal := forecastWorld(t)
	for _, test := range []struct {
		args, says string
		code       int
	}{
		{"forecast J000001 J000002", "one joint, or none", exitUsage},
		{"forecast J999999", `there is no joint "J999999"`, exitFailed},
		{"forecast --to 1999", "--to is a year from 2026 to 2126", exitUsage},
		{"forecast --as-of March", "--as-of", exitUsage},
		{"forecast --format xml", "--format", exitUsage},
		{"worklist --year 2020", "there is no work list for 2020", exitFailed},
		{"worklist --budget lots", "--budget is dollars", exitUsage},
		{"worklist --budget 0", "--budget is dollars", exitUsage},
		{"worklist J000001", "takes no argument", exitUsage},
		{"plan --years 0", "there is no plan of 0 years\n  what to do: give 1 to 30 years\n", exitFailed},
		{"plan --from 2050", "there is no plan from 2050 on\n  what to do: give a first fiscal year from 2026 to 2036\n", exitFailed},
		{"budget --years 0", "give 1 to 60 years", exitFailed},
		{"budget 5", "takes no argument", exitUsage},
		{"settings", "needs a verb", exitUsage},
		{"settings set failed_share", "give the name of a setting and its value", exitUsage},
		{"settings set failed_share 2", `failed_share cannot be "2"`, exitFailed},
		{"settings show share", `there is no setting "share"`, exitFailed},
		{"settings table list lives", "it is one of life_table", exitFailed},
		{"settings table import treatments nowhere.csv", "nowhere.csv", exitFailed},
	} {
		stdout, stderr, code := reseal("", strings.Fields(test.args)...)
		if code != test.code || stdout != "" || !strings.Contains(stderr, test.says) {
			t.Errorf("reseal %s: exit %d, stdout %q, stderr %q; want exit %d, %q", test.args, code, stdout, stderr, test.code, test.says)
		}
	}
}

// A setting and a table that are changed change the answers, dry runs don't.
func TestSettingsTakeEffect(t *testing.T) {
	reseal := forecastWorld(t)
	ok := func(stdin string, args ...string) string {
		t.Helper()
		stdout, stderr, code := reseal(stdin, args...)
		if code != exitDone {
			t.Fatalf("reseal %v: exit %d, %s", args, code, stderr)
		}
		return stdout
	}
	before := ok("", "budget", "--years", "3")
	const mine = "kind,cs1_years,cs2_years,cs3_years,source\nstrip seal,1,1,1,study\n"
	ok("", "settings", "set", "price_growth", "0.1", "--dry-run")
	ok(mine, "settings", "table", "import", "life_table", "-", "--dry-run")
	if after := ok("", "budget", "--years", "3"); after != before {
		t.Errorf("dry runs changed the budget:\n%s", after)
	}
	ok("", "settings", "set", "price_growth", "0.1")
	risen := ok("", "budget", "--years", "3")
	list := ok("", "settings", "list")
	if !strings.Contains(list, "cost_error *") || strings.Contains(list, "price_growth *") {
		t.Errorf("the settings do not tell starting values from the agency's own:\n%s", list)
	}
	if csv := ok("", "settings", "list", "--format", "csv"); strings.Contains(csv, "*") || !strings.Contains(csv, "cost_error,0.15,") {
		t.Errorf("as csv:\n%s", csv)
	}
	if !strings.Contains(risen, "Prices rise 10 % a year") || risen == before {
		t.Errorf("prices that rise by 10 %% a year don't show:\n%s", risen)
	}
	ok(mine, "settings", "table", "import", "life_table", "-")
	if after := ok("", "budget", "--years", "3"); after == risen {
		t.Error("another life table leaves the budget as it was")
	}
	if got := ok("", "settings", "table", "list", "life_table", "--format", "csv"); !strings.Contains(got, "strip seal,1,1,1,study,false") {
		t.Errorf("the life table lacks the imported row:\n%s", got)
	}
}

// The forecast is stored for the map, and only that of the whole network today.
func TestForecastIsStored(t *testing.T) {
	reseal := forecastWorld(t)
	for _, test := range []struct{ args, says string }{
		{"forecast --district 2", "nothing was stored"},
		{"forecast --as-of 2026-01-01", "nothing was stored"},
		{"forecast --to 2040", "nothing was stored"},
		{"forecast --dry-run", "nothing was kept"},
		{"forecast --joints --format csv", "the forecasts are stored"},
		{"forecast", "the forecasts are stored"},
	} {
		if _, stderr, code := reseal("", strings.Fields(test.args)...); code != exitDone || !strings.Contains(stderr, test.says) {
			t.Errorf("reseal %s: exit %d, %s; want %q", test.args, code, stderr, test.says)
		}
	}
}
