package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"reseal/inventory/store"
)

// gdal runs a GDAL program, which must have nothing to complain of.
func gdal(t *testing.T, program string, args ...string) string {
	t.Helper()
	if _, err := exec.LookPath(program); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s is not installed", program)
		}
		t.Skipf("%s is not installed", program)
	}
	var out, complaints bytes.Buffer
	cmd := exec.Command(program, args...)
	cmd.Stdout, cmd.Stderr = &out, &complaints
	if err := cmd.Run(); err != nil || complaints.Len() > 0 || strings.Contains(out.String(), "Warning") {
		t.Fatalf("%s %s: %v\n%s%s", program, strings.Join(args, " "), err, complaints.String(), out.String())
	}
	return out.String()
}

// TestOpenData takes FHWA's Alaska inventory of 2019 and Oregon element data
// of 2015 through the whole job. The counts are those of README in
// testdata/open, made by other programs.
func TestOpenData(t *testing.T) {
	db := filepath.Join(t.TempDir(), "network.gpkg")
	open := func(name string) string { return filepath.Join("..", "..", "testdata", "open", name) }
	do := must(t, db)
	do("init")
	do("import", "bridges", open("AK19.txt.gz"))
	do("import", "elements", open("2015OR_ElementData.xml.gz"))
	do("joint", "propose")
	do("joint", "confirm", "--district", "01")
	do("forecast")
	if out := do("worklist", "--year", "2027", "--limit", "5", "--format", "csv"); strings.Count(out, "\n") < 6 {
		t.Errorf("work list:\n%s", out)
	}
	do("budget", "--years", "10")

	s, err := store.Open(t.Context(), db, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		query string
		want  int
	}{
		{"SELECT count(*) FROM bridges WHERE state = '02'", 1595},
		{"SELECT count(*) FROM bridges WHERE state = '02' AND geom IS NULL", 9},
		{"SELECT count(*) FROM joints WHERE scope = 'bridge quantity'", 871},
		{"SELECT count(*) FROM inspections", 871},
		{"SELECT count(*) FROM pragma_foreign_key_check", 0},
		{"SELECT count(*) FROM pragma_integrity_check WHERE integrity_check <> 'ok'", 0},
	} {
		var got int
		if err := s.Read().NewRaw(tt.query).Scan(t.Context(), &got); err != nil || got != tt.want {
			t.Errorf("%s: got %d (%v), want %d", tt.query, got, err, tt.want)
		}
	}
	checkColumnTypes(t, s)
	s.Close()

	gdal(t, "ogrinfo", "-ro", "-al", "-so", db)
	for _, layer := range []string{"bridges", "joints", "joint_condition", "joint_forecast"} {
		to := filepath.Join(t.TempDir(), layer+".geojson")
		gdal(t, "ogr2ogr", to, db, layer)
		var converted struct{ Features []json.RawMessage }
		raw, err := os.ReadFile(to)
		if err != nil || json.Unmarshal(raw, &converted) != nil {
			t.Fatalf("%s: %v", layer, err)
		}
		counted := gdal(t, "ogrinfo", "-ro", "-so", db, layer)
		if want := fmt.Sprintf("Feature Count: %d\n", len(converted.Features)); len(converted.Features) == 0 || !strings.Contains(counted, want) {
			t.Errorf("%s: %d features converted, ogrinfo says otherwise:\n%s", layer, len(converted.Features), counted)
		}
	}
}

// checkColumnTypes holds requirement 5 of OGC 12-128: the columns of tables in
// a GeoPackage have types from its table 1 only.
func checkColumnTypes(t *testing.T, s *store.Store) {
	t.Helper()
	allowed := regexp.MustCompile(`^(BOOLEAN|TINYINT|SMALLINT|MEDIUMINT|INT|INTEGER|FLOAT|DOUBLE|REAL|TEXT(\(\d+\))?|BLOB(\(\d+\))?|DATE|DATETIME|POINT|LINESTRING)$`)
	var columns []struct{ Tbl, Name, Type string }
	err := s.Read().NewRaw(`SELECT m.name AS tbl, c.name, c.type FROM sqlite_schema m JOIN pragma_table_info(m.name) c
		WHERE m.type = 'table' AND m.name NOT LIKE 'sqlite%' AND m.name NOT LIKE 'rtree%' AND m.name NOT LIKE 'gpkg%'`).Scan(t.Context(), &columns)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range columns {
		if !allowed.MatchString(c.Type) {
			t.Errorf("column %s.%s has the type %q", c.Tbl, c.Name, c.Type)
		}
	}
}
