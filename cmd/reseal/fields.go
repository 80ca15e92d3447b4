package main

import (
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/inventory"
)

// fieldFlags makes a flag of each named column of a row, as --column-name.
func fieldFlags(help map[string]string, columns ...string) []cli.Flag {
	flags := make([]cli.Flag, len(columns))
	for i, c := range columns {
		usage := help[c]
		if usage == "" {
			usage = strings.ReplaceAll(c, "_", " ")
		}
		flags[i] = &cli.StringFlag{Name: flagName(c), Usage: usage}
	}
	return flags
}

func flagName(column string) string { return strings.ReplaceAll(column, "_", "-") }

// setFields puts the values of the flags that were given into the row's
// fields of the same column. An empty value clears a field that may be
// unknown. It returns how many were given.
func setFields(c *cli.Context, row any, columns ...string) (int, error) {
	given := 0
	for _, column := range columns {
		name := flagName(column)
		if !c.IsSet(name) {
			continue
		}
		given++
		if err := inventory.SetColumn(row, column, strings.TrimSpace(c.String(name))); err != nil {
			return given, usagef("--%s: %w", name, err)
		}
	}
	return given, nil
}
