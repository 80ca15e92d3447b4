package forecast_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"reseal/forecast"
	"reseal/forecast/forecasttest"
	"reseal/inventory"
	"reseal/inventory/store"
)

var asOf = inventory.Date{Year: 2026, Month: 3, Day: 1}

// invented opens an inventory with an invented network.
func invented(t testing.TB, bridges int) *store.Store {
	t.Helper()
	ctx := context.Background()
	now := func() time.Time { return asOf.Time() }
	s, err := store.Open(ctx, filepath.Join(t.TempDir(), "network.gpkg"), store.Options{Create: true, Now: now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	if err := forecasttest.Fill(ctx, s, bridges, 1); err != nil {
		t.Fatal(err)
	}
	return s
}

func model(t testing.TB, s *store.Store) *forecast.Model {
	t.Helper()
	tables, err := forecast.LoadTables(context.Background(), s.Read())
	if err != nil {
		t.Fatal(err)
	}
	m, err := forecast.NewModel(tables)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// sql runs a statement on the inventory.
func sql(t testing.TB, s *store.Store, query string, args ...any) {
	t.Helper()
	err := s.Update(context.Background(), "test", func(ctx context.Context, tx *store.Tx) error {
		_, err := tx.ExecContext(ctx, query, args...)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

func forecasts(t testing.TB, s *store.Store) []string {
	t.Helper()
	var out []string
	err := s.Read().NewRaw(`SELECT joint_id || ' ' || as_of || ' ' || basis || ' ' || format('%.17g %.17g %.17g %.17g %.17g', cs1, cs2, cs3, cs4, failed_probability)
		|| coalesce(replace_year, '-') || coalesce(replace_year_10, '-') || coalesce(replace_year_90, '-') FROM forecasts ORDER BY joint_id`).Scan(context.Background(), &out)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Save, the work list and the budget give the same bytes on any number of
// processors.
func TestSameOnAnyNumberOfProcessors(t *testing.T) {
	s := invented(t, 150)
	m := model(t, s)
	ctx := context.Background()
	answers := map[int]string{}
	for _, processors := range []int{1, 2, 7} {
		before := runtime.GOMAXPROCS(processors)
		err := m.Save(ctx, s, "test", forecast.Options{AsOf: asOf}, func(forecast.Projected) {})
		list, err2 := m.NewWorkList(ctx, s.Read(), forecast.WorkListOptions{Options: forecast.Options{AsOf: asOf}, Year: 2027, BudgetCents: 100_000_00})
		budget, err3 := m.NewBudget(ctx, s.Read(), forecast.Options{AsOf: asOf}, 10, forecast.ByDistrict)
		runtime.GOMAXPROCS(before)
		if err := errors.Join(err, err2, err3); err != nil {
			t.Fatal(err)
		}
		if len(list.Ranked) < 20 || list.Line == 0 || list.Line == len(list.Ranked) {
			t.Fatalf("%d ranked, line at %d: the network tests nothing", len(list.Ranked), list.Line)
		}
		text, err := json.Marshal([]any{forecasts(t, s), list, budget})
		if err != nil {
			t.Fatal(err)
		}
		answers[processors] = string(text)
	}
	if answers[2] != answers[1] || answers[7] != answers[1] {
		t.Error("answers differ with the number of processors")
	}
}

// What a filter chooses is projected as it is in the whole network.
func TestFilterChoosesFromTheSame(t *testing.T) {
	s := invented(t, 60)
	m := model(t, s)
	ctx := context.Background()
	all := map[string]string{}
	describe := func(j forecast.Projected) string {
		if j.Forecast == nil {
			return string(j.Reason)
		}
		return fmt.Sprint(j.Failed, j.Basis, j.ReplaceYear)
	}
	order := []int64{}
	if err := m.Each(ctx, s.Read(), forecast.Options{AsOf: asOf}, func(j forecast.Projected) error {
		all[j.Tag] = describe(j)
		order = append(order, j.Bridge.ID)
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	if len(all) != 60*forecasttest.JointsPerBridge {
		t.Fatalf("got %d joints, want %d", len(all), 60*forecasttest.JointsPerBridge)
	}
	for i := range order[1:] {
		if order[i+1] < order[i] {
			t.Fatalf("bridge %d comes after %d", order[i+1], order[i])
		}
	}
	n := 0
	o := forecast.Options{AsOf: asOf, Filter: inventory.Filter{District: "2", Sort: "length"}}
	if err := m.Each(ctx, s.Read(), o, func(j forecast.Projected) error {
		n++
		if j.Bridge.District != "2" {
			t.Errorf("%s lies in district %s", j.Tag, j.Bridge.District)
		}
		if got := describe(j); got != all[j.Tag] {
			t.Errorf("%s: got %s, want %s", j.Tag, got, all[j.Tag])
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	if n != 12*forecasttest.JointsPerBridge {
		t.Errorf("got %d joints in district 2, want %d", n, 12*forecasttest.JointsPerBridge)
	}
}

// Nothing is lost or doubled where pages of whole bridges meet, one bridge of
// more joints than a page among them.
func TestPagesMeet(t *testing.T) {
	s := invented(t, 400)
	sql(t, s, "UPDATE joints SET bridge_id = 7 WHERE bridge_id BETWEEN 8 AND 200")
	sql(t, s, "UPDATE joints SET status = 'retired' WHERE id % 11 = 0")
	var want int
	if err := s.Read().NewRaw("SELECT count(*) FROM joints WHERE status = 'in service'").Scan(context.Background(), &want); err != nil {
		t.Fatal(err)
	}
	budgets := map[string]string{}
	for name, f := range map[string]inventory.Filter{"all": {}, "filtered": {Text: "B"}} {
		seen := map[string]bool{}
		err := model(t, s).Each(context.Background(), s.Read(), forecast.Options{AsOf: asOf, Filter: f}, func(j forecast.Projected) error {
			if seen[j.Tag] {
				return fmt.Errorf("%s comes twice", j.Tag)
			}
			seen[j.Tag] = true
			return nil
		})
		if err != nil || len(seen) != want {
			t.Errorf("%s: got %d joints (%v), want %d", name, len(seen), err, want)
		}
		b, err := model(t, s).NewBudget(context.Background(), s.Read(), forecast.Options{AsOf: asOf, Filter: f}, 2, forecast.ByDistrict)
		if err != nil {
			t.Fatal(err)
		}
		budgets[name] = fmt.Sprint(b.Network)
	}
	// A bridge that fell apart between two pages would pay for two visits.
	if budgets["all"] != budgets["filtered"] {
		t.Errorf("budget of all: got %s\nof a filter that chooses all: %s", budgets["all"], budgets["filtered"])
	}
}

// What was put on record for later days does not count.
func TestAsOf(t *testing.T) {
	s := invented(t, 1)
	sql(t, s, "INSERT INTO inspections (joint_id, inspected_on) VALUES (1, '2026-02-20'), (1, '2026-04-01'), (1, '2026-02-25')")
	sql(t, s, `INSERT INTO inspection_feet (inspection_id, stretch_id, cs2_ft, cs4_ft)
		SELECT id, 1, CASE WHEN inspected_on < '2026-02-24' THEN 28 ELSE 0 END, CASE WHEN inspected_on < '2026-02-24' THEN 0 ELSE 28 END
		  FROM inspections WHERE inspected_on > '2026-01-01'`)
	// the inspection of 25 February was corrected to 20 February
	sql(t, s, `UPDATE inspections SET replaces_id = (SELECT id FROM inspections WHERE inspected_on = '2026-02-25') WHERE inspected_on = '2026-02-20'`)
	m := model(t, s)
	for _, test := range []struct {
		asOf, since string
	}{{"2026-03-01", "2026-02-20"}, {"2026-04-01", "2026-04-01"}} {
		d, err := inventory.ParseDate(test.asOf)
		if err != nil {
			t.Fatal(err)
		}
		j, err := m.One(context.Background(), s.Read(), 1, forecast.Options{AsOf: d})
		if err != nil || j.Forecast == nil {
			t.Fatalf("%v %s", err, j.Reason)
		}
		if j.Since.String() != test.since {
			t.Errorf("as of %s: starts from %v, want %s", test.asOf, j.Since, test.since)
		}
	}
}

// A joint split from a bridge's quantity starts from the quantity's shares
// until it has an inspection of its own.
func TestSplitJoint(t *testing.T) {
	s := invented(t, 2)
	sql(t, s, "UPDATE joints SET status = 'split', scope = 'bridge quantity' WHERE id = 1")
	sql(t, s, "UPDATE joints SET split_from_id = 1 WHERE id IN (2, 3)")
	sql(t, s, "INSERT INTO inspections (id, joint_id, inspected_on, date_known) VALUES (900, 1, '2026-01-10', 'no later than'), (901, 3, '2026-01-20', 'day')")
	sql(t, s, "INSERT INTO inspection_feet (inspection_id, stretch_id, cs3_ft) VALUES (900, 1, 28), (901, 3, 10)")
	sql(t, s, "UPDATE inspections SET inspected_on = '1999-01-01' WHERE joint_id = 2")
	sql(t, s, "DROP TRIGGER IF EXISTS inspection_feet_kept")
	sql(t, s, "DELETE FROM inspection_feet WHERE inspection_id IN (SELECT id FROM inspections WHERE joint_id = 2)")
	for id, want := range map[int64]string{
		2: "submitted with the element data dated 2026-01-10, as part of the bridge's quantity; ",
		3: "inspected 2026-01-20; ",
	} {
		j, err := model(t, s).One(context.Background(), s.Read(), id, forecast.Options{AsOf: asOf})
		if err != nil || j.Forecast == nil {
			t.Fatalf("joint %d: %v %s", id, err, j.Reason)
		}
		if !strings.HasPrefix(j.Basis, want) {
			t.Errorf("joint %d: basis %q, want %q", id, j.Basis, want)
		}
	}
}

// A forecast that is interrupted leaves the last one in place.
func TestSaveIsAllOrNothing(t *testing.T) {
	s := invented(t, 200)
	m := model(t, s)
	if err := m.Save(context.Background(), s, "test", forecast.Options{AsOf: asOf}, func(forecast.Projected) {}); err != nil {
		t.Fatal(err)
	}
	before := forecasts(t, s)
	ctx, cancel := context.WithCancel(context.Background())
	n := 0
	err := m.Save(ctx, s, "test", forecast.Options{AsOf: asOf.AddDays(400)}, func(forecast.Projected) {
		if n++; n == 300 {
			cancel()
		}
	})
	if !errors.Is(err, context.Canceled) {
		t.Fatalf("got %v, want context canceled", err)
	}
	if after := forecasts(t, s); strings.Join(after, "\n") != strings.Join(before, "\n") {
		t.Error("an interrupted forecast changed the stored one")
	}
}

func TestErrorOfTheCallerEnds(t *testing.T) {
	s := invented(t, 300)
	stop := errors.New("enough")
	err := model(t, s).Each(context.Background(), s.Read(), forecast.Options{AsOf: asOf}, func(forecast.Projected) error { return stop })
	if !errors.Is(err, stop) {
		t.Errorf("got %v, want %v", err, stop)
	}
}
