package gpkg

import (
	"fmt"
	"strings"
)

// applicationID is "GPKG" and userVersion is 1.3.0, as requirement 2 of
// OGC 12-128r18 has them. A file of ours has nothing that 1.3.0 lacks, and
// programs of some years ago warn of 1.4.0. The triggers of the R-tree are
// those of 1.4.0, which mend 1.3.0's under upserts.
const (
	applicationID = 0x47504B47
	userVersion   = 10300
)

// wgs84Definition is the well-known text of EPSG 4326 (OGC 01-009, IOGP
// registry).
const wgs84Definition = `GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],` +
	`AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],` +
	`UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],AUTHORITY["EPSG","4326"]]`

// CoreSQL returns the statements that turn an empty SQLite file into an empty
// GeoPackage: its two pragmas, the four metadata tables, and the three
// reference systems that every GeoPackage has (OGC 12-128r19 annex C).
func CoreSQL() []string {
	return []string{
		fmt.Sprintf("PRAGMA application_id = %d", applicationID),
		fmt.Sprintf("PRAGMA user_version = %d", userVersion),
		`CREATE TABLE gpkg_spatial_ref_sys (
  srs_name TEXT NOT NULL,
  srs_id INTEGER PRIMARY KEY,
  organization TEXT NOT NULL,
  organization_coordsys_id INTEGER NOT NULL,
  definition TEXT NOT NULL,
  description TEXT
)`,
		`CREATE TABLE gpkg_contents (
  table_name TEXT NOT NULL PRIMARY KEY,
  data_type TEXT NOT NULL,
  identifier TEXT UNIQUE,
  description TEXT DEFAULT '',
  last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  min_x DOUBLE,
  min_y DOUBLE,
  max_x DOUBLE,
  max_y DOUBLE,
  srs_id INTEGER,
  CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id)
)`,
		`CREATE TABLE gpkg_geometry_columns (
  table_name TEXT NOT NULL,
  column_name TEXT NOT NULL,
  geometry_type_name TEXT NOT NULL,
  srs_id INTEGER NOT NULL,
  z TINYINT NOT NULL,
  m TINYINT NOT NULL,
  CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
  CONSTRAINT uk_gc_table_name UNIQUE (table_name),
  CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
  CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id)
)`,
		`CREATE TABLE gpkg_extensions (
  table_name TEXT,
  column_name TEXT,
  extension_name TEXT NOT NULL,
  definition TEXT NOT NULL,
  scope TEXT NOT NULL,
  CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name)
)`,
		"INSERT INTO gpkg_spatial_ref_sys VALUES\n" +
			"  ('Undefined Cartesian SRS', -1, 'NONE', -1, 'undefined', 'undefined Cartesian coordinate reference system'),\n" +
			"  ('Undefined geographic SRS', 0, 'NONE', 0, 'undefined', 'undefined geographic coordinate reference system'),\n" +
			"  ('WGS 84 geodetic', 4326, 'EPSG', 4326, " + text(wgs84Definition) +
			", 'longitude and latitude in decimal degrees on the WGS 84 spheroid')",
	}
}

// Layer is a table or a view as a GIS is to see it: one row of gpkg_contents
// and, with a geometry column, one of gpkg_geometry_columns. Coordinates are
// WGS 84 without heights or measures.
//
// A feature table has an INTEGER PRIMARY KEY; a view has such a key as its
// first column. A layer without a GeometryColumn is a plain table of
// attributes.
type Layer struct {
	Table          string // of the table or view
	Identifier     string // title for people; Table when blank
	Description    string
	GeometryColumn string // blank for attributes
	GeometryType   string // POINT, LINESTRING, ...; GEOMETRY when blank
}

// RegisterSQL returns the statements that make the layer known, or known
// anew when it is already.
func (l Layer) RegisterSQL() []string {
	identifier, dataType, srsID := l.Identifier, "features", fmt.Sprint(WGS84)
	if identifier == "" {
		identifier = l.Table
	}
	if l.GeometryColumn == "" {
		dataType, srsID = "attributes", "NULL"
	}
	statements := l.UnregisterSQL()
	statements = append(statements, fmt.Sprintf(
		"INSERT INTO gpkg_contents (table_name, data_type, identifier, description, srs_id) VALUES (%s, '%s', %s, %s, %s)",
		text(l.Table), dataType, text(identifier), text(l.Description), srsID))
	if l.GeometryColumn == "" {
		return statements
	}
	geometryType := strings.ToUpper(l.GeometryType)
	if geometryType == "" {
		geometryType = "GEOMETRY"
	}
	return append(statements, fmt.Sprintf(
		"INSERT INTO gpkg_geometry_columns (table_name, column_name, geometry_type_name, srs_id, z, m) VALUES (%s, %s, %s, %s, 0, 0)",
		text(l.Table), text(l.GeometryColumn), text(geometryType), srsID))
}

// UnregisterSQL returns the statements that make a GIS forget the layer. The
// table itself stays, and so does its spatial index: drop that first.
func (l Layer) UnregisterSQL() []string {
	return []string{
		"DELETE FROM gpkg_geometry_columns WHERE table_name = " + text(l.Table),
		"DELETE FROM gpkg_contents WHERE table_name = " + text(l.Table),
	}
}

// ExtentSQL returns the statement that brings the box of the layer and the
// instant of its last change in gpkg_contents up to date. It reads every row
// and needs the functions of Register. The box is informative: a GIS zooms to
// it. With no geometry in the layer it is NULL.
func (l Layer) ExtentSQL() string {
	const now = "last_change = strftime('%Y-%m-%dT%H:%M:%fZ','now')"
	if l.GeometryColumn == "" {
		return "UPDATE gpkg_contents SET " + now + " WHERE table_name = " + text(l.Table)
	}
	c, t := name(l.GeometryColumn), name(l.Table)
	return fmt.Sprintf(`UPDATE gpkg_contents SET (min_x, min_y, max_x, max_y) = (
  SELECT min(ST_MinX(%[1]s)), min(ST_MinY(%[1]s)), max(ST_MaxX(%[1]s)), max(ST_MaxY(%[1]s)) FROM %[2]s
), %[3]s WHERE table_name = %[4]s`, c, t, now, text(l.Table))
}

// name quotes an identifier.
func name(s string) string { return `"` + strings.ReplaceAll(s, `"`, `""`) + `"` }

// text quotes a string.
func text(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }
