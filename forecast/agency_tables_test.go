package forecast_test

import (
	"bytes"
	"context"
	"errors"
	"math"
	"strings"
	"testing"

	"reseal/forecast"
	"reseal/inventory/setting"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

func importTable(t *testing.T, s *store.Store, name, file string) (int, error) {
	t.Helper()
	agency, err := setting.FindTable(forecast.AgencyTables(), name)
	if err != nil {
		t.Fatal(err)
	}
	r, err := table.NewReader(strings.NewReader(file), name+".csv", agency.Columns, table.Options{})
	if err != nil {
		return 0, err
	}
	defer r.Close()
	changed := 0
	err = s.Update(context.Background(), "planner", func(ctx context.Context, tx *store.Tx) (err error) {
		changed, err = agency.Import(ctx, tx, r)
		return err
	})
	return changed, err
}

func exportTable(t *testing.T, s *store.Store, agency setting.Table) string {
	t.Helper()
	var out bytes.Buffer
	w, err := table.NewCSV(&out, agency.Columns)
	if err != nil {
		t.Fatal(err)
	}
	if err := agency.Export(context.Background(), s.Read(), w); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// What is exported and imported again changes nothing.
func TestAgencyTablesRoundTrip(t *testing.T) {
	s := invented(t, 0)
	for name, file := range map[string]string{
		"budgets":        "name,year,district,fund,amount usd,source\n2027,2027,,,500000,x\n2027 north,2027,north,,1,x\nf,2028,,federal,2.50,x\n",
		"funds":          "name,treatments,routes,match share,overhead share,last year,carry over,source\nfederal,reseal; cap,I 5,0.2,0.15,2030,yes,x\nstate,,,,,,,x\nother,,,0,,,,x\n",
		"closure_limits": "name,route,year,closures,source\na,I 5,,3,x\nb,I 5,2028,0,x\nc,I 90,,1,x\n",
		"deliveries":     "name,treatment,district,done by,lead years,minimum usd,least jobs,most jobs,source\na,,,in-house,,,,,x\nb,reseal,,contract,1,100000,3,20,x\nc,reseal,2,contract,,,,8,x\n",
		"crews":          "name,district,year,shifts,source\na,,,12.5,x\nb,2,,8,x\nc,2,2028,0,x\n",
		"cost_factors":   "district,factor,source\n1,1.1,x\n2,0.9,x\n3,1,x\n",
		"cost_index":     "period,level,source\n2024,1.5,x\n2025Q1,1.6,x\n2025Q2,1.7,x\n",
		"discount_rates": "years,rate,source\n3,0.01,x\n10,0.015,x\n30,0.02,x\n",
	} {
		if changed, err := importTable(t, s, name, file); err != nil || changed != 3 {
			t.Fatalf("%s: changed %d rows (%v), want 3", name, changed, err)
		}
	}
	for _, agency := range forecast.AgencyTables() {
		before := exportTable(t, s, agency)
		if strings.Count(before, "\n") < 4 {
			t.Errorf("%s: starts almost empty:\n%s", agency.Name, before)
		}
		if changed, err := importTable(t, s, agency.Name, before); err != nil || changed != 0 {
			t.Errorf("%s: importing what was exported changed %d rows (%v)", agency.Name, changed, err)
		}
	}
}

func TestImportTable(t *testing.T) {
	s := invented(t, 0)
	const mine = "Name,Cost per ft (USD),Fixed USD,Visit USD,Price year,Source\nreseal,\"1,234.50\",10,20,2025,bids of 2025\ncaulk,1,,,2025,bids of 2025\n"
	changed, err := importTable(t, s, "treatments", mine)
	if err != nil || changed != 2 {
		t.Fatalf("changed %d (%v), want 2", changed, err)
	}
	if changed, err := importTable(t, s, "treatments", mine); err != nil || changed != 0 {
		t.Errorf("importing it twice changed %d rows (%v)", changed, err)
	}
	tables, err := forecast.LoadTables(context.Background(), s.Read())
	if err != nil {
		t.Fatal(err)
	}
	got, err := tables.TreatmentFor("foam seal")
	if err != nil || got.CostPerFtCents != 123450 || got.FixedCents != 1000 || got.Illustrative || len(tables.Treatments) != 13 {
		t.Errorf("got %+v of %d treatments (%v)", got, len(tables.Treatments), err)
	}
	var before string
	if err := s.Read().NewRaw("SELECT before FROM history WHERE table_name = 'treatments'").Scan(context.Background(), &before); err != nil || !strings.Contains(before, "9000") {
		t.Errorf("history: got %q (%v), want the row with 9000 cents a foot", before, err)
	}
}

func TestImportTableRefuses(t *testing.T) {
	s := invented(t, 0)
	agency, _ := setting.FindTable(forecast.AgencyTables(), "life_table")
	before := exportTable(t, s, agency)
	_, err := importTable(t, s, "life_table", "kind,cs1_years,cs2_years,cs3_years,source\nfoam seal,3,2,2,study\nfoam seal,4,2,2,study\nplug,0,2,NaN,study\n,1,1,1,study\n")
	for _, want := range []string{
		`life_table.csv line 3, column kind: "foam seal" stands on line 2 already`,
		`line 4, column cs1_years: "0" is under 0.05`, `line 4, column cs3_years: "NaN"`, "line 5, column kind: is blank",
	} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %s", err, want)
		}
	}
	_, err = importTable(t, s, "budgets", "name,year,amount_usd,source\nnetwork,2027,1,a\nnetwork,2028,1,a\n")
	if want := "give each row a name of its own, for example 2028 network"; err == nil || !strings.Contains(err.Error(), want) {
		t.Errorf("got %v, want %s", err, want)
	}
	if after := exportTable(t, s, agency); after != before {
		t.Errorf("a refused file changed the table:\n%s", after)
	}
	if _, err := setting.FindTable(forecast.AgencyTables(), "lives"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("unknown table: got %v", err)
	}
}

func set(s *store.Store, name, value string) error {
	return s.Update(context.Background(), "planner", func(ctx context.Context, tx *store.Tx) error {
		return setting.Set(ctx, tx, new(forecast.Settings).Definitions(), name, value)
	})
}

func TestSettings(t *testing.T) {
	s := invented(t, 0)
	ctx := context.Background()
	if got, err := forecast.LoadSettings(ctx, s.Read()); err != nil || got != forecast.DefaultSettings() {
		t.Fatalf("new inventory: got %+v (%v), want the defaults", got, err)
	}
	for _, v := range []string{"0.2", "0.2", "0.25"} {
		if err := set(s, "failed_share", v); err != nil {
			t.Fatal(err)
		}
	}
	want := forecast.DefaultSettings()
	want.FailedShare = 0.25
	if got, err := forecast.LoadSettings(ctx, s.Read()); err != nil || got != want {
		t.Errorf("got %+v (%v), want %+v", got, err, want)
	}
	var changes int
	if err := s.Read().NewRaw("SELECT count(*) FROM history WHERE table_name = 'settings'").Scan(ctx, &changes); err != nil || changes != 1 {
		t.Errorf("history has %d changes (%v), want 1", changes, err)
	}
	for _, bad := range [][2]string{
		{"failed_share", "0"}, {"failed_share", "NaN"}, {"failed_share", "ten"}, {"horizon_years", "30.5"}, {"fiscal_year_start", "13"},
	} {
		if err := set(s, bad[0], bad[1]); !errors.Is(err, store.ErrInvalid) {
			t.Errorf("%s = %s: got %v, want it refused", bad[0], bad[1], err)
		}
	}
	if err := set(s, "failed_shares", "0.1"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("unknown setting: got %v", err)
	}
}

// Each definition has its own field, and its default is within its range.
func TestDefinitions(t *testing.T) {
	names := map[string]bool{}
	defaults := forecast.DefaultSettings()
	for _, d := range defaults.Definitions() {
		if d.Meaning == "" || d.Unit == "" || d.Source == "" || names[d.Name] || !(d.Default >= d.Min && d.Default <= d.Max) {
			t.Errorf("definition %+v", d)
		}
		names[d.Name] = true
		if got := *d.Value; got != d.Default {
			t.Errorf("%s: the defaults hold %v, want %v: another definition shares its field", d.Name, got, d.Default)
		}
	}
}

func FuzzDefinitionParse(f *testing.F) {
	f.Add("0.1", 0)
	f.Add("1e400", 3)
	f.Fuzz(func(t *testing.T, text string, which int) {
		all := new(forecast.Settings).Definitions()
		d := all[max(which, 0)%len(all)]
		v, err := d.Parse(text)
		if err == nil && (!(v >= d.Min && v <= d.Max) || math.IsInf(v, 0)) {
			t.Errorf("%s: %q was read as %v", d.Name, text, v)
		}
	})
}
