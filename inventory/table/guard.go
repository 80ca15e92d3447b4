package table

import "strings"

// A spreadsheet that opens a CSV file takes a cell that begins with = + - @ or
// a control character for a formula, and may run it (CWE-1236, "Improper
// Neutralization of Formula Elements in a CSV File"). An apostrophe before such
// a text stops that; this package's reader takes it away again.

// guard makes a text safe in a CSV cell. Plain numbers stay as they are.
func guard(s string) string {
	if s == "" || s[0] > '@' || !formula(s) {
		return s
	}
	if _, bad := parseNumber(s, false); bad.what == "" {
		return s
	}
	return "'" + s
}

// unguard undoes guard.
func unguard(s string) string {
	if s != "" && s[0] == '\'' && formula(s) {
		return s[1:]
	}
	return s
}

// formula reports a text that could be run, or one that is guarded already.
func formula(s string) bool {
	s = strings.TrimLeft(s, "'")
	return s != "" && strings.IndexByte("=+-@\t\r\n", s[0]) >= 0
}
