// Package migrations holds the schema as SQL, one folder a database. Only the
// store imports it. A file is never changed once it has landed: a change to
// the schema is a new file with a later number.
package migrations

import "embed"

// Files holds one folder of SQL migrations for each database.
//
//go:embed sqlite/*.sql
var Files embed.FS
