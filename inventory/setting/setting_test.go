package setting_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"reseal/inventory/setting"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

// prices are settings as a package declares them.
type prices struct{ perFoot, lanes float64 }

func (p *prices) definitions() []setting.Definition {
	return []setting.Definition{
		{Name: "per_foot", Meaning: "dollars a foot", Unit: "$", Default: 90, Min: 1, Max: 1000, Source: "invented", Value: &p.perFoot},
		{Name: "lanes", Meaning: "lanes closed at once", Unit: "lanes", Default: 1, Min: 1, Max: 4, Whole: true, Source: "invented", Value: &p.lanes},
	}
}

func Example() {
	var p prices
	setting.Reset(p.definitions())
	d, _ := setting.Find(p.definitions(), "lanes")
	_, err := d.Parse("1.5")
	fmt.Println(p.perFoot, p.lanes)
	fmt.Println(err)
	// Output:
	// 90 1
	// lanes cannot be "1.5"
}

func open(t *testing.T) *store.Store {
	t.Helper()
	s, err := store.Open(context.Background(), filepath.Join(t.TempDir(), "t.gpkg"), store.Options{Create: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func TestSetAndLoad(t *testing.T) {
	s, ctx := open(t), context.Background()
	set := func(name, text string) error {
		return s.Update(ctx, "planner", func(ctx context.Context, tx *store.Tx) error {
			return setting.Set(ctx, tx, new(prices).definitions(), name, text)
		})
	}
	for _, test := range []struct {
		name, value string
		want        error
	}{
		{"per_foot", "120.5", nil},
		{"per_foot", "120.5", nil},
		{"lanes", "2", nil},
		{"lanes", "2.5", store.ErrInvalid},
		{"lanes", "5", store.ErrInvalid},
		{"per_foot", "NaN", store.ErrInvalid},
		{"per_foot", "Inf", store.ErrInvalid},
		{"per_foot", "", store.ErrInvalid},
		{"feet", "1", store.ErrNotFound},
	} {
		if err := set(test.name, test.value); !errors.Is(err, test.want) || (test.want == nil) != (err == nil) {
			t.Errorf("%s = %q: got %v, want %v", test.name, test.value, err, test.want)
		}
	}
	var p prices
	if err := setting.Load(ctx, s.Read(), p.definitions()); err != nil || p != (prices{120.5, 2}) {
		t.Errorf("got %+v (%v), want 120.5 and 2", p, err)
	}
}

// A blank cell of a table comes back blank, and what is exported and imported
// again changes nothing.
func TestTableRoundTrip(t *testing.T) {
	s, ctx := open(t), context.Background()
	agency := setting.Table{Name: "deck_temperatures", Columns: []table.Column{
		{Name: "district", Required: true},
		{Name: "deck_temp_min_f", Kind: table.Temperature, Min: -60, Max: 180, Required: true},
		{Name: "deck_temp_max_f", Kind: table.Temperature, Min: -60, Max: 180, Required: true},
		setting.Source,
	}}
	take := func(file string) (changed int, err error) {
		r, err := table.NewReader(strings.NewReader(file), "t.csv", agency.Columns, table.Options{})
		if err != nil {
			return 0, err
		}
		defer r.Close()
		err = s.Update(ctx, "planner", func(ctx context.Context, tx *store.Tx) (err error) {
			changed, err = agency.Import(ctx, tx, r)
			return err
		})
		return changed, err
	}
	if n, err := take("district,deck temp min c,deck temp max f,source\n3,-20,120,invented\n*,-10,110,invented\n"); err != nil || n != 2 {
		t.Fatalf("took %d rows (%v), want 2", n, err)
	}
	var out bytes.Buffer
	w, err := table.NewCSV(&out, agency.Columns)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(agency.Export(ctx, s.Read(), w), w.Close()); err != nil {
		t.Fatal(err)
	}
	if want := "3,-4,120,invented\n*,14,110,invented\n"; !strings.HasSuffix(out.String(), want) {
		t.Errorf("got %s, want %s", out.String(), want)
	}
	if n, err := take(out.String()); err != nil || n != 0 {
		t.Errorf("importing what was exported changed %d rows (%v)", n, err)
	}
	if _, err := take("district,deck temp min f,deck temp max f,source\n3,1,2,a\n3,1,2,a\n,1,2,a\n4,x,2,a\n"); err == nil ||
		!strings.Contains(err.Error(), "line 3") || !strings.Contains(err.Error(), "line 4") || !strings.Contains(err.Error(), "line 5") {
		t.Errorf("got %v, want a fault for each of lines 3, 4 and 5", err)
	}
	if _, err := setting.FindTable([]setting.Table{agency}, "temperatures"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("unknown table: got %v", err)
	}
}

func FuzzParse(f *testing.F) {
	f.Add("0.1")
	f.Add("1e400")
	f.Add("0x1p-2")
	f.Fuzz(func(t *testing.T, text string) {
		for _, d := range new(prices).definitions() {
			v, err := d.Parse(text)
			if err == nil && (!(v >= d.Min && v <= d.Max) || d.Whole && v != math.Trunc(v)) {
				t.Errorf("%s: %q was read as %v", d.Name, text, v)
			}
		}
	})
}

// TestSetRow changes one row as a form does, and finds in the history who
// changed what.
func TestSetRow(t *testing.T) {
	s, ctx := open(t), context.Background()
	agency := setting.Table{Name: "deck_temperatures", Columns: []table.Column{
		{Name: "district", Required: true},
		{Name: "deck_temp_min_f", Kind: table.Temperature, Min: -60, Max: 180, Required: true},
		{Name: "deck_temp_max_f", Kind: table.Temperature, Min: -60, Max: 180, Required: true},
		setting.Source,
	}}
	set := func(actor string, cells ...string) (changed bool, err error) {
		err = s.Update(ctx, actor, func(ctx context.Context, tx *store.Tx) (err error) {
			changed, err = agency.SetRow(ctx, tx, cells)
			return err
		})
		return changed, err
	}
	for _, test := range []struct {
		name, actor string
		cells       []string
		changed     bool
		wrong       string // a part of the fault
	}{
		{"new", "Alder", []string{"3", "-4", "120", "invented, \"as told\""}, true, ""},
		{"the same again", "Birch", []string{"3", "-4", "120", "invented, \"as told\""}, false, ""},
		{"changed", "Birch", []string{"3", "-10", "120", "invented"}, true, ""},
		{"no number", "Birch", []string{"3", "cold", "120", "invented"}, false, "column deck_temp_min_f"},
		{"too few cells", "Birch", []string{"3"}, false, "4 columns"},
	} {
		changed, err := set(test.actor, test.cells...)
		if changed != test.changed || (err == nil) != (test.wrong == "") || err != nil && !strings.Contains(err.Error(), test.wrong) {
			t.Errorf("%s: got %v (%v), want %v and %q", test.name, changed, err, test.changed, test.wrong)
		}
	}
	rows, err := agency.Texts(ctx, s.Read())
	if want := "3|-10|120|invented"; err != nil || len(rows) != 1 || strings.Join(rows[0], "|") != want {
		t.Errorf("got %q (%v), want %s", rows, err, want)
	}
	events, err := store.TableHistory(ctx, s.Read(), "deck_temperatures", "district")
	if err != nil || len(events) != 2 {
		t.Fatalf("got %d events (%v), want 2", len(events), err)
	}
	last, first := events[0], events[1]
	if last.By != "Birch" || last.New || last.Row != "3" || fmt.Sprint(last.Fields) != "[{deck_temp_min_f -4 -10} {source invented, \"as told\" invented}]" {
		t.Errorf("got %+v, want Birch's change", last)
	}
	if first.By != "Alder" || !first.New {
		t.Errorf("got %+v, want Alder's new row", first)
	}
}
