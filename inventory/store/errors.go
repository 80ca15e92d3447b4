package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"github.com/mattn/go-sqlite3"
)

// What went wrong, for the program; the text beside it is for the person.
var (
	ErrNotFound    = errors.New("not found")
	ErrInvalid     = errors.New("invalid")
	ErrConflict    = errors.New("conflict")
	ErrUnavailable = errors.New("unavailable")
)

// Error is a failure that a person can act on: what happened, and in Hint what
// to do next. Kind is one of the sentinels of this package.
type Error struct {
	Kind error
	Text string
	Hint string
	Err  error // the cause, if another error lies below
}

func (e *Error) Error() string { return e.Text }

// Unwrap makes errors.Is see both the kind and the cause.
func (e *Error) Unwrap() []error {
	if e.Err == nil {
		return []error{e.Kind}
	}
	return []error{e.Kind, e.Err}
}

// Invalid is an Error of kind ErrInvalid.
func Invalid(hint, format string, args ...any) *Error {
	return &Error{Kind: ErrInvalid, Text: fmt.Sprintf(format, args...), Hint: hint}
}

// NotFound is an Error of kind ErrNotFound.
func NotFound(hint, format string, args ...any) *Error {
	return &Error{Kind: ErrNotFound, Text: fmt.Sprintf(format, args...), Hint: hint}
}

// Hinted adds advice to an error.
func Hinted(err error, hint string) *Error {
	return &Error{Kind: ErrInvalid, Text: err.Error(), Hint: hint, Err: err}
}

// Hint returns the advice that the first Error in err's chain carries.
func Hint(err error) string {
	var e *Error
	if errors.As(err, &e) {
		return e.Hint
	}
	return ""
}

// translate turns a driver's error into one that a person can act on.
func translate(path string, err error) error {
	if err == nil || errors.Is(err, context.Canceled) {
		return err
	}
	if errors.Is(err, sql.ErrNoRows) {
		return &Error{Kind: ErrNotFound, Text: "no such row", Err: err}
	}
	var e sqlite3.Error
	if !errors.As(err, &e) {
		return err
	}
	fail := func(kind error, hint, format string, args ...any) error {
		return &Error{Kind: kind, Text: fmt.Sprintf(format, args...), Hint: hint, Err: err}
	}
	switch e.Code {
	case sqlite3.ErrInterrupt:
		return context.Canceled
	case sqlite3.ErrBusy, sqlite3.ErrLocked:
		return fail(ErrUnavailable, "wait until it has finished, then run the command again",
			"%s: another program is writing to the database", path)
	case sqlite3.ErrFull:
		return fail(ErrUnavailable, "free some space, then run the command again; nothing was changed",
			"%s: the disk is full", path)
	case sqlite3.ErrReadonly, sqlite3.ErrPerm:
		return readOnly(path, err)
	case sqlite3.ErrCantOpen:
		return fail(ErrUnavailable, "check the path given with --db or RESEAL_DB, and that you may write there",
			"%s: cannot be opened", path)
	case sqlite3.ErrNotADB:
		return fail(ErrInvalid, "name an inventory with --db, or make one with reseal init",
			"%s: is not a database", path)
	case sqlite3.ErrCorrupt:
		return fail(ErrUnavailable, "restore the last backup; reseal keeps one beside the file at each upgrade",
			"%s: the database is damaged", path)
	case sqlite3.ErrConstraint:
		if e.ExtendedCode == sqlite3.ErrConstraintUnique || e.ExtendedCode == sqlite3.ErrConstraintPrimaryKey {
			return fail(ErrConflict, "", "a row like this one exists already (%s)", e.Error())
		}
		return fail(ErrInvalid, "", "a value cannot be stored (%s)", e.Error())
	}
	return err
}

// readOnly says that a file can be read but not changed.
func readOnly(path string, cause error) error {
	return &Error{
		Kind: ErrUnavailable, Text: path + ": the file or its folder is read-only", Err: cause,
		Hint: "copy the file to a folder that you may write to, and name it with --db",
	}
}
