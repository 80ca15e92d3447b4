package gpkg_test

import (
	"bytes"
	"context"
	"database/sql"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/mattn/go-sqlite3"
	"github.com/paulmach/orb"

	"reseal/geo/gpkg"
)

func init() {
	sql.Register("sqlite3_gpkg_test", &sqlite3.SQLiteDriver{ConnectHook: gpkg.Register})
}

// tool returns the path of a GDAL program; without it the test is skipped, or
// fails where CI=true promises that it is there.
func tool(t *testing.T, program string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s is not installed", program)
		}
		t.Skipf("%s is not installed", program)
	}
	return path
}

// run runs a GDAL program and fails on anything on stderr: a warning is one.
func run(t *testing.T, program string, args ...string) string {
	t.Helper()
	var stdout, stderr bytes.Buffer
	cmd := exec.CommandContext(context.Background(), tool(t, program), args...)
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	err := cmd.Run()
	if complaint := stderr.String(); err != nil || complaint != "" {
		t.Fatalf("%s %s: %v\n%s%s", program, strings.Join(args, " "), err, complaint, stdout.String())
	}
	return stdout.String()
}

func open(t testing.TB, path string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite3_gpkg_test", path+"?_synchronous=OFF") // no test survives a power cut
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

func exec1(t testing.TB, db *sql.DB, statements ...string) {
	t.Helper()
	for _, s := range statements {
		if _, err := db.Exec(s); err != nil {
			t.Fatalf("%v\n%s", err, s)
		}
	}
}

func insert(t testing.TB, db *sql.DB, name string, g orb.Geometry) {
	t.Helper()
	var blob any
	if g != nil {
		b, err := gpkg.AppendBlob(nil, g, gpkg.WGS84)
		if err != nil {
			t.Fatal(err)
		}
		blob = b
	}
	if _, err := db.Exec("INSERT INTO lines (name, geom) VALUES (?, ?)", name, blob); err != nil {
		t.Fatal(err)
	}
}

var (
	linesLayer = gpkg.Layer{Table: "lines", GeometryColumn: "geom", GeometryType: "LINESTRING", Description: "invented lines"}
	longLayer  = gpkg.Layer{Table: "named_lines", GeometryColumn: "geom", GeometryType: "LINESTRING"}
	notesLayer = gpkg.Layer{Table: "notes", Identifier: "Notes", Description: "it's an attribute table"}
	west       = orb.Bound{Min: orb.Point{-122.25, 47.5}, Max: orb.Point{-122.2499, 47.5001}}
	linesIndex = gpkg.Index{Table: "lines", GeometryColumn: "geom"}
)

// newFile creates a GeoPackage with an indexed table, a view of it and a table
// of attributes, and four rows: two lines, an empty line, no geometry.
func newFile(t testing.TB) (*sql.DB, string) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "test.gpkg")
	db := open(t, path)
	exec1(t, db, gpkg.CoreSQL()...)
	exec1(t, db,
		"CREATE TABLE lines (id INTEGER PRIMARY KEY, name TEXT, geom LINESTRING)",
		"CREATE VIEW named_lines AS SELECT id AS OGC_FID, name, geom FROM lines WHERE name <> ''",
		"CREATE TABLE notes (id INTEGER PRIMARY KEY, note TEXT)",
		"INSERT INTO notes (note) VALUES ('one')",
	)
	for _, l := range []gpkg.Layer{linesLayer, longLayer, notesLayer} {
		exec1(t, db, l.RegisterSQL()...)
	}
	exec1(t, db, linesIndex.CreateSQL()...)
	insert(t, db, "west", orb.LineString{west.Min, west.Max})
	insert(t, db, "east", orb.LineString{{-117.5, 47.6}, {-117.4, 47.7}, {-117.3, 47.6}})
	insert(t, db, "empty", orb.LineString{})
	insert(t, db, "none", nil)
	exec1(t, db, linesLayer.ExtentSQL(), longLayer.ExtentSQL(), notesLayer.ExtentSQL())
	return db, path
}

// tree returns the rows of the spatial index.
func tree(t testing.TB, db *sql.DB) map[int64][4]float64 {
	t.Helper()
	rows, err := db.Query("SELECT id, minx, maxx, miny, maxy FROM rtree_lines_geom")
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	out := map[int64][4]float64{}
	for rows.Next() {
		var id int64
		var b [4]float64
		if err := rows.Scan(&id, &b[0], &b[1], &b[2], &b[3]); err != nil {
			t.Fatal(err)
		}
		out[id] = b
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return out
}

// TestGDALReads: an independent reader opens the file without a warning.
func TestGDALReads(t *testing.T) {
	tool(t, "ogrinfo")
	db, path := newFile(t)
	db.Close()
	got := run(t, "ogrinfo", "-al", "-so", path)
	for _, want := range []string{
		"Layer name: lines", "Layer name: named_lines", "Layer name: notes",
		"Geometry: Line String", "Feature Count: 4",
		"Extent: (-122.250000, 47.500000) - (-117.300000, 47.700000)",
		`ID["EPSG",4326]`,
	} {
		if !strings.Contains(got, want) {
			t.Errorf("ogrinfo does not show %q:\n%s", want, got)
		}
	}
	got = run(t, "ogrinfo", "-q", "-spat", "-118", "47", "-117", "48", path, "lines")
	if !strings.Contains(got, "east") || strings.Contains(got, "west") {
		t.Errorf("features inside the eastern box:\n%s", got)
	}
	out := filepath.Join(t.TempDir(), "out.csv")
	run(t, "ogr2ogr", "-f", "CSV", "-lco", "GEOMETRY=AS_WKT", out, path, "lines")
	csv, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	if want := `"LINESTRING (-122.25 47.5,-122.2499 47.5001)",west`; !strings.Contains(string(csv), want) {
		t.Errorf("ogr2ogr wrote\n%s\nwant a line %s", csv, want)
	}
}

// TestGDALEdits: what a GIS changes in the file keeps our index right.
func TestGDALEdits(t *testing.T) {
	tool(t, "ogrinfo")
	db, path := newFile(t)
	db.Close()
	run(t, "ogrinfo", path, "-sql", "UPDATE lines SET geom = (SELECT geom FROM lines WHERE name = 'west') WHERE name IN ('east', 'none')")
	run(t, "ogrinfo", path, "-sql", "DELETE FROM lines WHERE name = 'west'")
	got := tree(t, open(t, path))
	if len(got) != 2 || !around(got[2], west) || !around(got[4], west) {
		t.Errorf("index after the edit: got %v, want 2 and 4 around %v", got, west)
	}
}

// around tells whether a box of the index holds the box it stands for, and is
// wider by no more than 32-bit numbers force it to be.
func around(got [4]float64, want orb.Bound) bool {
	const slack = 5e-5 // degrees; a 32-bit number near 122 has steps of 8e-6
	return got[0] <= want.Min[0] && want.Min[0] < got[0]+slack &&
		got[1] >= want.Max[0] && want.Max[0] > got[1]-slack &&
		got[2] <= want.Min[1] && want.Min[1] < got[2]+slack &&
		got[3] >= want.Max[1] && want.Max[1] > got[3]-slack
}
