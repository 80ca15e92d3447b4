package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"reseal/cmd/reseal/layer"
	"reseal/cmd/reseal/layer/layertest"
	"reseal/inventory"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

// reseal runs the program on an inventory and returns its exit code and what
// it wrote.
func reseal(t *testing.T, db string, args ...string) (code int, out, messages string) {
	t.Helper()
	var stdout, stderr bytes.Buffer
	now := func() time.Time { return time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC) }
	code = run(t.Context(), append([]string{"reseal", "--db", db, "--by", "tester"}, args...),
		world{in: strings.NewReader(""), out: &stdout, err: &stderr, now: now})
	return code, stdout.String(), stderr.String()
}

// exportNetwork is an invented inventory of 30 joints on 10 bridges, one of
// which has no place, with a finding open and one closed, and a forecast.
func exportNetwork(t *testing.T) *store.Store {
	t.Helper()
	s := layertest.Network(t, 30)
	err := s.Update(t.Context(), "invented", func(ctx context.Context, tx *store.Tx) error {
		for _, q := range []string{
			"UPDATE bridges SET geom = NULL, position_problem = 'blank', truck_pct = 12.5, lanes = 0, continuous = 1 WHERE id = 4",
			"UPDATE joints SET geom = NULL, geometry_source = NULL, label = '=1+1 \"north, 2\" <b>' WHERE id = 10",
			"INSERT INTO findings (joint_id, kind, found_on, urgency, from_ft) VALUES (10, 'leak', '2026-11-15', 'severe', 0)",
			"INSERT INTO findings (joint_id, kind, found_on, closed_on) VALUES (11, 'leak', '2026-01-01', '2026-01-11')",
			"INSERT INTO forecasts VALUES (3, '2026-11-25', 'invented', 0.5, 0.25, 0.25, 0, 0.125, 2031, 2028, NULL, '2026-11-25T12:00:00.000Z')",
		} {
			if _, err := tx.ExecContext(ctx, q); err != nil {
				return fmt.Errorf("%s: %w", q, err)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// feature is a GeoJSON feature as a stranger would read it.
type feature struct {
	Type       string                     `json:"type"`
	ID         json.Number                `json:"id"`
	Geometry   *geometryDoc               `json:"geometry"`
	Properties map[string]json.RawMessage `json:"properties"`
}

type geometryDoc struct {
	Type        string          `json:"type"`
	Coordinates json.RawMessage `json:"coordinates"`
}

// rfc7946 checks a FeatureCollection against the rules of RFC 7946 that bind a
// writer: the members of each object (3, 7.1), positions (3.1.1, 4), and the
// geometry member that is there also when it is null (3.2).
func rfc7946(t *testing.T, doc []byte) []feature {
	t.Helper()
	var members map[string]json.RawMessage
	if err := json.Unmarshal(doc, &members); err != nil {
		t.Fatalf("not JSON: %v", err)
	}
	if got := string(members["type"]); got != `"FeatureCollection"` || len(members) != 2 {
		t.Errorf("collection: type %s, %d members; want FeatureCollection with type and features", got, len(members))
	}
	var raw []json.RawMessage
	if err := json.Unmarshal(members["features"], &raw); err != nil {
		t.Fatal(err)
	}
	out := make([]feature, len(raw))
	for i, r := range raw {
		out[i] = rfc7946Feature(t, r)
	}
	return out
}

func rfc7946Feature(t *testing.T, doc []byte) feature {
	t.Helper()
	var members map[string]json.RawMessage
	var f feature
	if err := json.Unmarshal(doc, &members); err != nil {
		t.Fatalf("not JSON: %v: %s", err, doc)
	}
	for name := range members {
		if !slices.Contains([]string{"type", "id", "geometry", "properties"}, name) {
			t.Errorf("feature has a member %q", name)
		}
	}
	if _, there := members["geometry"]; !there {
		t.Errorf("feature without geometry member: %s", doc)
	}
	d := json.NewDecoder(bytes.NewReader(doc))
	d.DisallowUnknownFields()
	if err := d.Decode(&f); err != nil {
		t.Fatalf("%v: %s", err, doc)
	}
	if f.Type != "Feature" || f.Properties == nil {
		t.Errorf("feature of type %q, properties %v", f.Type, f.Properties)
	}
	if f.Geometry == nil {
		return f
	}
	positions := [][]float64{nil}
	switch f.Geometry.Type {
	case "Point":
		if err := json.Unmarshal(f.Geometry.Coordinates, &positions[0]); err != nil {
			t.Fatal(err)
		}
	case "LineString":
		if err := json.Unmarshal(f.Geometry.Coordinates, &positions); err != nil || len(positions) < 2 {
			t.Errorf("line of %d positions: %v", len(positions), err)
		}
	default:
		t.Errorf("geometry of type %q", f.Geometry.Type)
	}
	for _, p := range positions {
		if len(p) != 2 || math.Abs(p[0]) > 180 || math.Abs(p[1]) > 90 {
			t.Errorf("position %v is not longitude and latitude", p)
		}
	}
	return f
}

func TestExportGeojson(t *testing.T) {
	s := exportNetwork(t)
	due := 0 // feet in CS3 shorten the cycle to a year, a severe finding to a month
	err := s.Read().NewRaw(`SELECT count(*) FROM joint_condition v WHERE date(inspected_on, CASE
		WHEN EXISTS (SELECT 1 FROM findings f WHERE f.joint_id = v.id AND f.urgency = 'severe') THEN '1 month'
		WHEN cs3_ft > 0 THEN '12 months' ELSE '24 months' END) <= '2027-06-30'`).Scan(t.Context(), &due)
	if err != nil || due == 0 {
		t.Fatal(due, err)
	}
	for _, tt := range []struct {
		name  string
		args  []string
		want  int
		first map[string]string // some properties of the feature with most of them known
		kind  string
	}{
		{
			"bridges",
			[]string{"bridges", "--bridge", "00/INV0000004"},
			1,
			map[string]string{"structure_number": `"INV0000004"`, "truck_pct": "12.5", "lanes": "0", "continuous": "true", "milepost": "0.4", "name": "null", "adt": "null"},
			"",
		},
		{
			"joints as lines",
			[]string{"joints"},
			30,
			map[string]string{"tag": `"J000001"`, "length_ft": "21", "sequence": "1", "label": "null", "seal_kind": `"pourable seal"`},
			"LineString",
		},
		{"joints as points", []string{"joints", "--points", "--fields", "tag, length_ft"}, 30, map[string]string{"tag": `"J000001"`, "length_ft": "21"}, "Point"},
		{"joints of a route", []string{"joints", "--route", "R 4"}, 3, map[string]string{"tag": `"J000010"`, "label": `"=1+1 \"north, 2\" \u003cb\u003e"`}, ""},
		{"due", []string{"due", "--due-by", "2027-06-30"}, due, nil, "LineString"},
		{"findings", []string{"findings"}, 1, map[string]string{"kind": `"leak"`, "found_on": `"2026-11-15"`, "days_open": "10", "from_ft": "0", "to_ft": "null", "tag": `"J000010"`}, ""},
		{"closed findings too", []string{"findings", "--closed"}, 2, nil, ""},
		{"forecast", []string{"forecast"}, 1, map[string]string{"tag": `"J000003"`, "cs4_share": "0", "failed_probability": "0.125", "replace_year": "2031", "replace_year_90": "null"}, "LineString"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			code, out, messages := reseal(t, s.Path(), append([]string{"export", "geojson"}, tt.args...)...)
			if want := map[string]string{"due": layer.DueCaution + "\n"}[tt.name]; code != exitDone || messages != want {
				t.Fatalf("exit %d: %q, want %q", code, messages, want)
			}
			features := rfc7946(t, []byte(out))
			if len(features) != tt.want {
				t.Fatalf("got %d features, want %d", len(features), tt.want)
			}
			f := features[0]
			for name, want := range tt.first {
				if got := string(f.Properties[name]); got != want {
					t.Errorf("%s: got %s, want %s", name, got, want)
				}
			}
			kind := ""
			if f.Geometry != nil {
				kind = f.Geometry.Type
			}
			if kind != tt.kind {
				t.Errorf("geometry: got %q, want %q", kind, tt.kind)
			}
		})
	}
}

func TestExportLines(t *testing.T) {
	s := exportNetwork(t)
	_, whole, _ := reseal(t, s.Path(), "export", "geojson", "joints")
	_, lines, _ := reseal(t, s.Path(), "export", "geojson", "joints", "--lines")
	want := rfc7946(t, []byte(whole))
	var got []feature
	for line := range strings.Lines(lines) {
		got = append(got, rfc7946Feature(t, []byte(line)))
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("lines and collection differ (-collection +lines):\n%s", diff)
	}
}

// TestExportWithGDAL: GDAL reads each layer without a word, with as many
// features as SQL counts and the geometry of the inventory.
func TestExportWithGDAL(t *testing.T) {
	gdal := func(tool string, args ...string) string {
		t.Helper()
		path, err := exec.LookPath(tool)
		if err != nil {
			if os.Getenv("CI") == "true" {
				t.Fatal(tool + " is not installed")
			}
			t.Skip(tool + " is not installed")
		}
		out, err := exec.CommandContext(t.Context(), path, args...).CombinedOutput()
		if err != nil || strings.Contains(string(out), "Warning") || strings.Contains(string(out), "ERROR") {
			t.Fatalf("%s %v: %v\n%s", tool, args, err, out)
		}
		return string(out)
	}
	s := exportNetwork(t)
	dir := t.TempDir()
	inventory := filepath.Join(dir, "inventory.gpkg")
	if err := s.CopyTo(t.Context(), inventory); err != nil {
		t.Fatal(err)
	}
	for layer, count := range map[string]string{
		"joints": "SELECT count(*) FROM joints WHERE status = 'in service'", "bridges": "SELECT count(*) FROM bridges",
		"findings": "SELECT count(*) FROM findings WHERE closed_on IS NULL", "forecast": "SELECT count(*) FROM forecasts",
	} {
		var want int
		if err := s.Read().NewRaw(count).Scan(t.Context(), &want); err != nil {
			t.Fatal(err)
		}
		for _, file := range []string{layer + ".geojson", layer + ".geojsonl"} {
			path := filepath.Join(dir, file)
			args := []string{"export", "geojson", layer, "--output", path}
			if strings.HasSuffix(file, "l") {
				args = append(args, "--lines")
			}
			if code, _, messages := reseal(t, s.Path(), args...); code != exitDone {
				t.Fatalf("exit %d: %s", code, messages)
			}
			if info := gdal("ogrinfo", "-al", "-so", path); !strings.Contains(info, fmt.Sprintf("Feature Count: %d\n", want)) || !strings.Contains(info, "WGS 84") {
				t.Errorf("%s: want %d features in WGS 84, got\n%s", file, want, info)
			}
		}
	}
	// The same points from the inventory and from the export, by GDAL both.
	points := func(path, layer string) map[string][]float64 {
		out := filepath.Join(t.TempDir(), "points.csv")
		gdal("ogr2ogr", "-f", "CSV", "-lco", "GEOMETRY=AS_WKT", "-lco", "SEPARATOR=SEMICOLON", "-select", "tag", out, path, layer)
		f, err := os.Open(out)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		r := csv.NewReader(f)
		r.Comma = ';'
		rows, err := r.ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		byTag := map[string][]float64{}
		for _, row := range rows[1:] {
			if row[0] == "" {
				byTag[row[1]] = nil
				continue
			}
			var p [4]float64
			if _, err := fmt.Sscanf(row[0], "LINESTRING (%g %g,%g %g)", &p[0], &p[1], &p[2], &p[3]); err != nil {
				t.Fatalf("%s: %v", row[0], err)
			}
			byTag[row[1]] = p[:]
		}
		return byTag
	}
	want, got := points(inventory, "joints"), points(filepath.Join(dir, "joints.geojson"), "joints")
	if len(want) != 30 || len(got) != len(want) {
		t.Fatalf("got %d joints, want %d", len(got), len(want))
	}
	for tag, w := range want {
		for i := range w {
			if math.Abs(got[tag][i]-w[i]) > 1e-7 {
				t.Errorf("%s: got %v, want %v", tag, got[tag], w)
			}
		}
	}
}

// TestExportTables: both formats hold the same typed values.
func TestExportTables(t *testing.T) {
	s := exportNetwork(t)
	columns := []table.Column{
		{Name: "tag"},
		{Name: "label"},
		{Name: "length_ft", Kind: table.Length},
		{Name: "installed_on", Kind: table.Date},
		{Name: "worst_state", Kind: table.Int},
		{Name: "lon", Kind: table.Float},
	}
	var written [2][]string
	for i, format := range []string{"csv", "xlsx"} {
		path := filepath.Join(t.TempDir(), "joints."+format)
		code, _, messages := reseal(t, s.Path(), "export", format, "joints", "--fields", "tag,length_ft,installed_on,worst_state", "-o", path)
		if code != exitDone {
			t.Fatalf("exit %d: %s", code, messages)
		}
		r, err := table.Open(path, columns, table.Options{})
		if err != nil {
			t.Fatal(err)
		}
		defer r.Close()
		for row := range r.Rows() {
			lon, ok := row.Float(5)
			length, _ := row.Float(2)
			on, _ := row.Date(3)
			worst, _ := row.Int(4)
			tag, _ := row.Text(0)
			written[i] = append(written[i], fmt.Sprint(tag, length, on, worst, lon, ok))
		}
		if err := r.Err(); err != nil {
			t.Fatal(err)
		}
	}
	if diff := cmp.Diff(written[0], written[1]); diff != "" || len(written[0]) != 30 {
		t.Errorf("%d rows (-csv +xlsx):\n%s", len(written[0]), diff)
	}
	_, out, _ := reseal(t, s.Path(), "export", "csv", "joints", "--fields", "tag,label,length_ft", "--route", "R 4", "--wkt")
	rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"J000010", `'=1+1 "north, 2" <b>`, "30", ""}
	if diff := cmp.Diff(want, rows[1]); diff != "" || len(rows) != 4 {
		t.Errorf("%d rows (-want +got):\n%s", len(rows), diff)
	}
	if !strings.HasPrefix(rows[2][3], "LINESTRING(") {
		t.Errorf("got %q, want well-known text", rows[2][3])
	}
}

func TestExportCopy(t *testing.T) {
	s := exportNetwork(t)
	path := filepath.Join(t.TempDir(), "copy.gpkg")
	if code, _, messages := reseal(t, s.Path(), "export", "gpkg", "-o", path); code != exitDone {
		t.Fatalf("exit %d: %s", code, messages)
	}
	copied, err := store.Open(t.Context(), path, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer copied.Close()
	for _, s := range []*store.Store{s, copied} {
		joints, err := inventory.Joints(t.Context(), s.Read(), inventory.Filter{})
		if err != nil || len(joints) != 30 {
			t.Errorf("%s: got %d joints, want 30 (%v)", s.Path(), len(joints), err)
		}
	}
	var check string
	if err := copied.Read().NewRaw("PRAGMA integrity_check").Scan(t.Context(), &check); err != nil || check != "ok" {
		t.Errorf("integrity: %s %v", check, err)
	}
}

func TestExportRefuses(t *testing.T) {
	s := layertest.Network(t, 3)
	dir := t.TempDir()
	for _, tt := range []struct {
		name string
		args []string
		code int
		say  string
	}{
		{"no layer", []string{"geojson"}, exitUsage, "one of: bridges, joints"},
		{"unknown layer", []string{"csv", "rivers"}, exitUsage, "one of: bridges, joints"},
		{"unknown field", []string{"geojson", "joints", "--fields", "tag,colour"}, exitUsage, "no field \"colour\"; the fields are: tag, label"},
		{"bad day", []string{"csv", "due", "--due-by", "soon"}, exitUsage, "not a date"},
		{"no forecast yet", []string{"csv", "forecast"}, exitFailed, "reseal forecast"},
		{"no folder", []string{"csv", "joints", "-o", filepath.Join(dir, "none", "j.csv")}, exitFailed, "cannot be written"},
		{"copy without a name", []string{"gpkg"}, exitUsage, "--output"},
		{"copy onto itself", []string{"gpkg", "-o", s.Path()}, exitFailed, "is the inventory itself"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			code, _, messages := reseal(t, s.Path(), append([]string{"export"}, tt.args...)...)
			if code != tt.code || !strings.Contains(messages, tt.say) {
				t.Errorf("exit %d, want %d; messages %q, want %q in it", code, tt.code, messages, tt.say)
			}
		})
	}
	left, _ := filepath.Glob(filepath.Join(dir, "*"))
	if len(left) != 0 {
		t.Errorf("left behind: %v", left)
	}
}

// TestExportEachField: a field asked for alone is the same as among all.
func TestExportEachField(t *testing.T) {
	s := exportNetwork(t)
	_, out, _ := reseal(t, s.Path(), "export", "geojson", "joints")
	all := rfc7946(t, []byte(out))
	columns, err := layer.Named("joints").Columns(nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range columns {
		name := c.Name
		code, out, messages := reseal(t, s.Path(), "export", "geojson", "joints", "--fields", name)
		if code != exitDone {
			t.Fatalf("%s: exit %d: %s", name, code, messages)
		}
		one := rfc7946(t, []byte(out))
		for i := range all {
			if len(one[i].Properties) != 1 || string(one[i].Properties[name]) != string(all[i].Properties[name]) {
				t.Fatalf("%s of joint %d: got %s, want %s", name, i, one[i].Properties[name], all[i].Properties[name])
			}
		}
	}
	if !strings.Contains(out, "seal") {
		t.Error("no seal kinds at all")
	}
}
