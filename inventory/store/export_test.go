package store

import (
	"io/fs"
	"testing/fstest"

	"reseal/migrations"
)

// NextVersion are the options of a reseal to come, whose schema has one more
// step.
func NextVersion(name, sql string) (Options, error) {
	next := fstest.MapFS{name: {Data: []byte(sql)}}
	files, err := fs.Glob(migrations.Files, "sqlite/*.sql")
	if err != nil {
		return Options{}, err
	}
	for _, f := range files {
		data, err := migrations.Files.ReadFile(f)
		if err != nil {
			return Options{}, err
		}
		next[f[len("sqlite/"):]] = &fstest.MapFile{Data: data}
	}
	return Options{schema: next}, nil
}
