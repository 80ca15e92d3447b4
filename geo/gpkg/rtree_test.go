package gpkg_test

import (
	"database/sql"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"reseal/geo/gpkg"
)

func TestFileIsSound(t *testing.T) {
	db, _ := newFile(t)
	for pragma, want := range map[string]string{
		"PRAGMA application_id":    "1196444487", // requirement 2
		"PRAGMA user_version":      "10300",      // requirement 2
		"PRAGMA integrity_check":   "ok",         // requirement 6
		"PRAGMA foreign_key_check": "",           // requirement 7
		"SELECT count(*) FROM gpkg_spatial_ref_sys WHERE srs_id IN (-1, 0, 4326)":                                                 "3", // requirement 11
		"SELECT scope FROM gpkg_extensions WHERE table_name = 'lines' AND extension_name = 'gpkg_rtree_index'":                    "write-only",
		"SELECT group_concat(data_type, ' ') FROM (SELECT data_type FROM gpkg_contents ORDER BY table_name)":                      "features features attributes",
		"SELECT group_concat(name, ' ') FROM (SELECT substr(name, 18) name FROM sqlite_master WHERE type = 'trigger' ORDER BY 1)": "delete insert update2 update4 update5 update6 update7",
	} {
		var got string
		if err := db.QueryRow(pragma).Scan(&got); err != nil && err != sql.ErrNoRows {
			t.Fatal(err)
		}
		if got != want {
			t.Errorf("%s: got %q, want %q", pragma, got, want)
		}
	}
}

// TestNamesAreQuoted: a table called like a keyword, with quotes and spaces.
func TestNamesAreQuoted(t *testing.T) {
	db, _ := newFile(t)
	layer := gpkg.Layer{Table: `order "by" it's`, GeometryColumn: "group"}
	index := gpkg.Index{Table: layer.Table, GeometryColumn: layer.GeometryColumn, IDColumn: "select"}
	exec1(t, db, `CREATE TABLE "order ""by"" it's" ("select" INTEGER PRIMARY KEY, "group" GEOMETRY)`)
	for range 2 { // registering again replaces
		exec1(t, db, layer.RegisterSQL()...)
	}
	for range 2 { // dropping what is not there is no error
		exec1(t, db, index.DropSQL()...)
	}
	exec1(t, db, index.CreateSQL()...)
	exec1(t, db, layer.ExtentSQL())
	exec1(t, db, index.DropSQL()...)
	exec1(t, db, layer.UnregisterSQL()...)
	exec1(t, db, `DROP TABLE "order ""by"" it's"`)
}

// TestBadGeometryIsRefused: bytes that are not a geometry cannot get past the
// triggers into an indexed layer.
func TestBadGeometryIsRefused(t *testing.T) {
	db, _ := newFile(t)
	for _, bad := range []any{[]byte{1, 2, 3}, []byte{}, "text", 7} {
		if _, err := db.Exec("INSERT INTO lines (geom) VALUES (?)", bad); err == nil {
			t.Errorf("insert of %v: no error", bad)
		} else if !strings.Contains(err.Error(), "not a valid GeoPackage geometry") {
			t.Errorf("insert of %v: got %v", bad, err)
		}
	}
}

// TestTriggersKeepIndex: after any changes the index is what filling it anew
// gives.
func TestTriggersKeepIndex(t *testing.T) {
	db, _ := newFile(t)
	db.SetMaxOpenConns(1) // the pragmas are of one connection
	exec1(t, db, "PRAGMA recursive_triggers = ON", "PRAGMA synchronous = OFF", "PRAGMA journal_mode = MEMORY")
	blob := func(t *rapid.T) any {
		switch g := rapid.SampledFrom([]string{"none", "empty", "line", "line"}).Draw(t, "kind"); g {
		case "none":
			return nil
		default:
			line := orb.LineString{}
			for range map[string]int{"line": 2}[g] {
				line = append(line, orb.Point{float64(rapid.IntRange(-180, 180).Draw(t, "x")), float64(rapid.IntRange(-90, 90).Draw(t, "y"))})
			}
			b, err := gpkg.AppendBlob(nil, line, gpkg.WGS84)
			if err != nil {
				t.Fatal(err)
			}
			return b
		}
	}
	id := rapid.IntRange(1, 6)
	rapid.Check(t, func(rt *rapid.T) {
		exec1(t, db, "DELETE FROM lines")
		for range rapid.IntRange(1, 15).Draw(rt, "changes") {
			var err error
			switch rapid.SampledFrom([]string{"insert", "replace", "upsert", "move", "both", "geom", "delete"}).Draw(rt, "change") {
			case "insert":
				_, err = db.Exec("INSERT OR IGNORE INTO lines (id, geom) VALUES (?, ?)", id.Draw(rt, "id"), blob(rt))
			case "replace":
				_, err = db.Exec("INSERT OR REPLACE INTO lines (id, geom) VALUES (?, ?)", id.Draw(rt, "id"), blob(rt))
			case "upsert":
				_, err = db.Exec("INSERT INTO lines (id, geom) VALUES (?, ?) ON CONFLICT (id) DO UPDATE SET geom = excluded.geom",
					id.Draw(rt, "id"), blob(rt))
			case "move":
				_, err = db.Exec("UPDATE OR IGNORE lines SET id = ? WHERE id = ?", id.Draw(rt, "to"), id.Draw(rt, "from"))
			case "both":
				_, err = db.Exec("UPDATE OR IGNORE lines SET id = ?, geom = ? WHERE id = ?", id.Draw(rt, "to"), blob(rt), id.Draw(rt, "from"))
			case "geom":
				_, err = db.Exec("UPDATE lines SET geom = ? WHERE id = ?", blob(rt), id.Draw(rt, "id"))
			case "delete":
				_, err = db.Exec("DELETE FROM lines WHERE id = ?", id.Draw(rt, "id"))
			}
			if err != nil {
				rt.Fatal(err)
			}
		}
		kept := tree(t, db)
		exec1(t, db, append(linesIndex.DropSQL(), linesIndex.CreateSQL()...)...)
		if diff := cmp.Diff(tree(t, db), kept); diff != "" {
			rt.Fatalf("(-filled anew +kept by triggers):\n%s", diff)
		}
	})
}

// BenchmarkLoad compares loading lines through the triggers with filling the
// index afterwards.
func BenchmarkLoad(b *testing.B) {
	for _, n := range []int{1_000, 10_000, 100_000} {
		for _, after := range []bool{false, true} {
			name := map[bool]string{false: "triggers", true: "filled-after"}[after]
			b.Run(fmt.Sprintf("%s/%d", name, n), func(b *testing.B) {
				rng := rand.New(rand.NewPCG(1, 2))
				b.ReportAllocs()
				for b.Loop() {
					b.StopTimer()
					db, _ := newFile(b)
					db.SetMaxOpenConns(1)
					b.StartTimer()
					load(b, db, n, after, rng)
				}
				b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
			})
		}
	}
}

func load(b *testing.B, db *sql.DB, n int, after bool, rng *rand.Rand) {
	tx, err := db.Begin()
	if err != nil {
		b.Fatal(err)
	}
	run := func(statements []string) {
		for _, s := range statements {
			if _, err := tx.Exec(s); err != nil {
				b.Fatal(err)
			}
		}
	}
	if after {
		run(linesIndex.DropSQL())
	}
	insert, err := tx.Prepare("INSERT INTO lines (name, geom) VALUES ('x', ?)")
	if err != nil {
		b.Fatal(err)
	}
	var blob []byte
	for range n {
		p := orb.Point{-125 + 10*rng.Float64(), 45 + 4*rng.Float64()}
		if blob, err = gpkg.AppendBlob(blob[:0], orb.LineString{p, {p[0] + 1e-4, p[1]}}, gpkg.WGS84); err != nil {
			b.Fatal(err)
		}
		if _, err := insert.Exec(blob); err != nil {
			b.Fatal(err)
		}
	}
	if after {
		run(linesIndex.CreateSQL())
	}
	if err := tx.Commit(); err != nil {
		b.Fatal(err)
	}
}
