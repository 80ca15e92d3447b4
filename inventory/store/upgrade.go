package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"github.com/uptrace/bun"
	"github.com/uptrace/bun/migrate"

	"reseal/geo/gpkg"
)

// layers are the tables and views that a GIS shows as places.
var layers = []gpkg.Layer{
	{Table: "bridges", Identifier: "Bridges", Description: "Every bridge on record", GeometryColumn: "geom", GeometryType: "POINT"},
	{Table: "joints", Identifier: "Joints", Description: "Every joint on record; geometry_source tells whether its line is drawn or surveyed", GeometryColumn: "geom", GeometryType: "LINESTRING"},
	{Table: "joint_condition", Identifier: "Joints, latest condition", Description: "Feet in each condition state at the latest inspection", GeometryColumn: "geom", GeometryType: "LINESTRING"},
	{Table: "joint_forecast", Identifier: "Joints, forecast", Description: "Replacement year of joints in service, with the years of 10 and 90 % probability", GeometryColumn: "geom", GeometryType: "LINESTRING"},
}

// indexes are the spatial indexes of the tables among the layers.
var indexes = []gpkg.Index{
	{Table: "bridges", GeometryColumn: "geom", IDColumn: "id"},
	{Table: "joints", GeometryColumn: "geom", IDColumn: "id"},
}

// tables are those without a place of their own that a GIS may show.
var tables = []string{
	"stretches", "seals", "work", "findings", "projects", "element_records", "element_changes",
	"inspections", "inspection_feet", "inspection_defects", "readings",
	"settings", "seal_kinds", "seal_catalogue", "deck_temperatures", "life_table", "treatments", "consequences", "forecasts", "history",
	"decisions", "budgets", "work_lists", "work_list_items", "plans", "plan_items", "plan_years", "closes",
	"funds", "closure_limits", "deliveries", "crews", "seasons", "cost_factors", "cost_index", "discount_rates",
}

// versioned tables keep each row as it was before every update.
var versioned = []string{
	"bridges", "joints", "stretches", "seals", "findings", "projects", "element_changes",
	"settings", "seal_kinds", "seal_catalogue", "deck_temperatures", "life_table", "treatments", "consequences",
	"decisions", "budgets", "work_list_items", "funds", "closure_limits", "deliveries", "crews", "seasons", "cost_factors", "cost_index", "discount_rates",
}

// kept tables refuse to have a row deleted.
var kept = []string{
	"bridges", "joints", "stretches", "seals", "work", "findings", "projects", "element_changes",
	"inspections", "inspection_feet", "inspection_defects", "readings", "history",
	"decisions", "work_lists", "work_list_items", "closes",
}

func migrator(db *bun.DB, schema fs.FS) (*migrate.Migrator, error) {
	m := migrate.NewMigrations()
	if err := m.Discover(schema); err != nil {
		return nil, err
	}
	return migrate.NewMigrator(db, m, migrate.WithMarkAppliedOnSuccess(true)), nil
}

// pending lists the migrations that the file lacks. A file that is no
// inventory, or one from a newer reseal, is an Error.
func pending(ctx context.Context, db *bun.DB, schema fs.FS) ([]string, error) {
	var applied []string
	var ours int
	if err := db.NewRaw("SELECT count(*) FROM sqlite_schema WHERE name = 'bun_migrations'").Scan(ctx, &ours); err != nil {
		return nil, err
	}
	if ours == 0 {
		return nil, Invalid("name an inventory with --db, or make one with reseal init", "the database is not a reseal inventory")
	}
	if err := db.NewRaw("SELECT name FROM bun_migrations ORDER BY name").Scan(ctx, &applied); err != nil {
		return nil, err
	}
	m, err := migrator(db, schema)
	if err != nil {
		return nil, err
	}
	all, err := m.MigrationsWithStatus(ctx)
	if err != nil {
		return nil, err
	}
	known := map[string]bool{}
	var behind []string
	for _, one := range all {
		known[one.Name] = true
		if !one.IsApplied() {
			behind = append(behind, one.Name)
		}
	}
	for _, name := range applied {
		if !known[name] {
			return nil, Invalid("install the reseal that wrote it, or a later one", "the inventory was written by a newer reseal (its schema has %s)", name)
		}
	}
	return behind, nil
}

// upgrade brings the file to this version's schema.
func (s *Store) upgrade(ctx context.Context, isNew bool) error {
	if !isNew {
		empty, err := s.isEmpty(ctx)
		if err != nil {
			return err
		}
		isNew = empty // a creation that was cut short begins again
	}
	if !isNew {
		behind, err := pending(ctx, s.write, s.schema)
		if err != nil {
			return err
		}
		whole, err := s.isDerived(ctx)
		if err != nil || whole && len(behind) == 0 {
			return err
		}
		if whole { // else an upgrade was cut short, and made its copy
			if err := s.backup(ctx, behind[0]); err != nil {
				return err
			}
		}
	}
	m, err := migrator(s.write, s.schema)
	if err != nil {
		return err
	}
	if isNew {
		err = s.write.RunInTx(ctx, nil, func(ctx context.Context, tx bun.Tx) error { return begin(ctx, tx) })
	} else {
		_, err = s.write.ExecContext(ctx, "DROP TRIGGER IF EXISTS "+lastDerived)
	}
	if err != nil {
		return err
	}
	if _, err := m.Migrate(ctx); err != nil {
		return fmt.Errorf("bring the schema up to date: %w", err)
	}
	if err := s.write.RunInTx(ctx, nil, func(ctx context.Context, tx bun.Tx) error { return derive(ctx, tx) }); err != nil {
		return err
	}
	_, err = s.write.ExecContext(ctx, "PRAGMA shrink_memory") // the pages of the whole file, of no more use
	return err
}

// lastDerived is a trigger of derive that is missing from the beginning of an
// upgrade to its end: by it a later start knows one that was cut short.
const lastDerived = "history_kept"

func (s *Store) isDerived(ctx context.Context) (bool, error) {
	var n int
	err := s.write.NewRaw("SELECT count(*) FROM sqlite_schema WHERE type = 'trigger' AND name = ?", lastDerived).Scan(ctx, &n)
	return n == 1, err
}

func (s *Store) isEmpty(ctx context.Context) (bool, error) {
	var n int
	err := s.write.NewRaw("SELECT count(*) FROM sqlite_schema").Scan(ctx, &n)
	return n == 0, err
}

// begin writes what makes a SQLite file a GeoPackage, and the table of the
// migrations in types that a GeoPackage may have.
func begin(ctx context.Context, tx bun.Tx) error {
	for _, q := range append(gpkg.CoreSQL(),
		`CREATE TABLE bun_migrations (id INTEGER PRIMARY KEY AUTOINCREMENT, name TEXT UNIQUE, group_id INTEGER, migrated_at DATETIME DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')) NOT NULL)`,
	) {
		if _, err := tx.Tx.ExecContext(ctx, q); err != nil {
			return err
		}
	}
	return nil
}

// backup copies the inventory as it is beside itself, before the migration
// with the given name.
func (s *Store) backup(ctx context.Context, before string) error {
	to := strings.TrimSuffix(s.path, ".gpkg") + ".before-" + before + ".gpkg"
	if _, err := os.Stat(to); err == nil {
		return nil // an earlier try made it
	}
	part := to + ".part" // so that a copy that was cut short is not taken for one
	if err := os.Remove(part); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if _, err := s.write.DB.ExecContext(ctx, "VACUUM INTO ?", part); err != nil {
		return err
	}
	return os.Rename(part, to)
}

// derive makes anew all that follows from the tables: the layers with their
// spatial index, and the triggers that keep history.
func derive(ctx context.Context, tx bun.Tx) error {
	var script []string
	for _, l := range layers {
		script = append(script, l.RegisterSQL()...)
	}
	for _, t := range tables {
		script = append(script, gpkg.Layer{Table: t}.RegisterSQL()...)
	}
	for _, x := range indexes {
		script = append(append(script, x.DropSQL()...), x.CreateSQL()...)
	}
	for _, t := range kept {
		script = append(script, keepSQL(t)...)
	}
	for _, t := range versioned {
		columns, err := columnsOf(ctx, tx, t)
		if err != nil {
			return err
		}
		script = append(script, historySQL(t, columns)...)
	}
	for _, q := range script {
		if _, err := tx.Tx.ExecContext(ctx, q); err != nil {
			return fmt.Errorf("%w in %s", err, q)
		}
	}
	return nil
}
