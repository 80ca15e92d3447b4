package gpkg

import "strings"

// Index is the spatial index of one geometry column of a feature table: the
// R-tree extension of OGC 12-128r19 annex F.3, kept up to date by triggers.
//
// The index holds 32-bit numbers, rounded outwards: it finds candidates, and
// the geometry decides. INSERT OR REPLACE with no geometry leaves the box of the
// replaced row behind, because SQLite then runs no delete trigger unless PRAGMA
// recursive_triggers is on: use INSERT ... ON CONFLICT DO UPDATE.
type Index struct {
	Table          string
	GeometryColumn string
	IDColumn       string // the INTEGER PRIMARY KEY; "id" when blank
}

// CreateSQL returns the statements that create the index, fill it from the
// rows that are there, create its triggers and enter it in gpkg_extensions.
// They need the functions of Register, and so does every later change of the
// table. For a bulk load into a table run DropSQL, load, and run CreateSQL in
// one transaction: the tree is filled in one pass.
func (x Index) CreateSQL() []string {
	statements := make([]string, 0, len(indexSQL))
	for _, s := range indexSQL {
		statements = append(statements, x.replacer().Replace(s))
	}
	return statements
}

// DropSQL returns the statements that remove the index, its triggers and its
// row in gpkg_extensions. An index that is not there is no error.
func (x Index) DropSQL() []string {
	statements := make([]string, 0, len(triggers)+2)
	for _, trigger := range triggers {
		statements = append(statements, x.replacer().Replace("DROP TRIGGER IF EXISTS <rtree_"+trigger+">"))
	}
	for _, s := range []string{
		"DROP TABLE IF EXISTS <rtree>",
		"DELETE FROM gpkg_extensions WHERE table_name = <t text> AND column_name = <c text> AND extension_name = 'gpkg_rtree_index'",
	} {
		statements = append(statements, x.replacer().Replace(s))
	}
	return statements
}

// triggers are the names of the triggers of version 1.4.0, in which update6
// and update7 took the place of update1, and update5 that of update3. Those
// two are in the list so that DropSQL clears an index of an older version.
var triggers = [...]string{"insert", "update1", "update2", "update3", "update4", "update5", "update6", "update7", "delete"}

func (x Index) replacer() *strings.Replacer {
	id := x.IDColumn
	if id == "" {
		id = "id"
	}
	tree := "rtree_" + x.Table + "_" + x.GeometryColumn
	pairs := []string{
		"<t>", name(x.Table), "<c>", name(x.GeometryColumn), "<i>", name(id),
		"<t text>", text(x.Table), "<c text>", text(x.GeometryColumn),
		"<rtree>", name(tree),
	}
	for _, trigger := range triggers {
		pairs = append(pairs, "<rtree_"+trigger+">", name(tree+"_"+trigger))
	}
	return strings.NewReplacer(pairs...)
}

// indexSQL is the template of annex F.3 with the names quoted. Its wording is
// kept (new.<c> NOT NULL here, NEW.<c> NOTNULL there), because the conformance
// test of the standard compares texts.
var indexSQL = [...]string{
	"CREATE VIRTUAL TABLE <rtree> USING rtree(id, minx, maxx, miny, maxy)",
	`INSERT OR REPLACE INTO <rtree>
  SELECT <i>, ST_MinX(<c>), ST_MaxX(<c>), ST_MinY(<c>), ST_MaxY(<c>) FROM <t>
  WHERE <c> NOT NULL AND NOT ST_IsEmpty(<c>)`,
	`CREATE TRIGGER <rtree_insert> AFTER INSERT ON <t>
  WHEN (new.<c> NOT NULL AND NOT ST_IsEmpty(NEW.<c>))
BEGIN
  INSERT OR REPLACE INTO <rtree> VALUES (NEW.<i>,
    ST_MinX(NEW.<c>), ST_MaxX(NEW.<c>), ST_MinY(NEW.<c>), ST_MaxY(NEW.<c>));
END`,
	`CREATE TRIGGER <rtree_update2> AFTER UPDATE OF <c> ON <t>
  WHEN OLD.<i> = NEW.<i> AND (NEW.<c> ISNULL OR ST_IsEmpty(NEW.<c>))
BEGIN
  DELETE FROM <rtree> WHERE id = OLD.<i>;
END`,
	`CREATE TRIGGER <rtree_update4> AFTER UPDATE ON <t>
  WHEN OLD.<i> != NEW.<i> AND (NEW.<c> ISNULL OR ST_IsEmpty(NEW.<c>))
BEGIN
  DELETE FROM <rtree> WHERE id IN (OLD.<i>, NEW.<i>);
END`,
	`CREATE TRIGGER <rtree_update5> AFTER UPDATE ON <t>
  WHEN OLD.<i> != NEW.<i> AND (NEW.<c> NOTNULL AND NOT ST_IsEmpty(NEW.<c>))
BEGIN
  DELETE FROM <rtree> WHERE id = OLD.<i>;
  INSERT OR REPLACE INTO <rtree> VALUES (NEW.<i>,
    ST_MinX(NEW.<c>), ST_MaxX(NEW.<c>), ST_MinY(NEW.<c>), ST_MaxY(NEW.<c>));
END`,
	`CREATE TRIGGER <rtree_update6> AFTER UPDATE OF <c> ON <t>
  WHEN OLD.<i> = NEW.<i> AND
    (NEW.<c> NOTNULL AND NOT ST_IsEmpty(NEW.<c>)) AND
    (OLD.<c> NOTNULL AND NOT ST_IsEmpty(OLD.<c>))
BEGIN
  UPDATE <rtree> SET minx = ST_MinX(NEW.<c>), maxx = ST_MaxX(NEW.<c>),
    miny = ST_MinY(NEW.<c>), maxy = ST_MaxY(NEW.<c>) WHERE id = NEW.<i>;
END`,
	`CREATE TRIGGER <rtree_update7> AFTER UPDATE OF <c> ON <t>
  WHEN OLD.<i> = NEW.<i> AND
    (NEW.<c> NOTNULL AND NOT ST_IsEmpty(NEW.<c>)) AND
    (OLD.<c> ISNULL OR ST_IsEmpty(OLD.<c>))
BEGIN
  INSERT INTO <rtree> VALUES (NEW.<i>,
    ST_MinX(NEW.<c>), ST_MaxX(NEW.<c>), ST_MinY(NEW.<c>), ST_MaxY(NEW.<c>));
END`,
	`CREATE TRIGGER <rtree_delete> AFTER DELETE ON <t>
  WHEN old.<c> NOT NULL
BEGIN
  DELETE FROM <rtree> WHERE id = OLD.<i>;
END`,
	`INSERT INTO gpkg_extensions (table_name, column_name, extension_name, definition, scope)
  VALUES (<t text>, <c text>, 'gpkg_rtree_index', 'http://www.geopackage.org/spec140/#extension_rtree', 'write-only')`,
}
