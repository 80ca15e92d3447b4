package gpkg

import (
	"fmt"

	"github.com/mattn/go-sqlite3"
)

// Register defines ST_IsEmpty, ST_MinX, ST_MaxX, ST_MinY and ST_MaxY on a
// connection (OGC 12-128r19, annex F.3), as pure functions, so that the
// triggers of a spatial index can run. NULL in gives NULL out, and so does the
// side of an empty geometry; bytes that are not a geometry fail the statement.
// Call it from the ConnectHook of a driver registered under a name of its own.
func Register(conn *sqlite3.SQLiteConn) error {
	functions := []struct {
		name string
		call func(blob []byte) (any, error)
	}{
		{"ST_IsEmpty", func(blob []byte) (any, error) { return IsEmpty(blob) }},
		{"ST_MinX", func(blob []byte) (any, error) { return nullable(MinX(blob)) }},
		{"ST_MaxX", func(blob []byte) (any, error) { return nullable(MaxX(blob)) }},
		{"ST_MinY", func(blob []byte) (any, error) { return nullable(MinY(blob)) }},
		{"ST_MaxY", func(blob []byte) (any, error) { return nullable(MaxY(blob)) }},
	}
	for _, f := range functions {
		call := func(v any) (any, error) {
			blob, ok := v.([]byte)
			if !ok {
				return nil, fmt.Errorf("%s: %w: it is a %T", f.name, ErrInvalid, v)
			}
			if blob == nil { // how the driver hands over NULL
				return nil, nil
			}
			return f.call(blob)
		}
		if err := conn.RegisterFunc(f.name, call, true); err != nil {
			return fmt.Errorf("defining %s: %w", f.name, err)
		}
	}
	return nil
}

func nullable(v float64, ok bool, err error) (any, error) {
	if !ok {
		return nil, err
	}
	return v, err
}
