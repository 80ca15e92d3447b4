package main

import (
	"fmt"
	"reflect"
	"strconv"
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
		if err := setField(row, column, strings.TrimSpace(c.String(name))); err != nil {
			return given, usagef("--%s: %w", name, err)
		}
	}
	return given, nil
}

func setField(row any, column, value string) error {
	v := reflect.ValueOf(row).Elem()
	for i := range v.NumField() {
		if name, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("bun"), ","); name == column {
			return setValue(v.Field(i), value)
		}
	}
	return fmt.Errorf("no column %s", column)
}

func setValue(field reflect.Value, value string) error {
	if field.Kind() == reflect.Pointer {
		if value == "" {
			field.SetZero()
			return nil
		}
		p := reflect.New(field.Type().Elem())
		if err := setValue(p.Elem(), value); err != nil {
			return err
		}
		field.Set(p)
		return nil
	}
	if d, ok := field.Addr().Interface().(*inventory.Date); ok {
		return d.UnmarshalText([]byte(value))
	}
	if value == "" {
		field.SetZero()
		return nil
	}
	switch field.Kind() {
	case reflect.String:
		field.SetString(value)
	case reflect.Int, reflect.Int64:
		n, err := strconv.ParseInt(value, 10, 64)
		if err != nil {
			return fmt.Errorf("%q is not a whole number", value)
		}
		field.SetInt(n)
	case reflect.Float64:
		n, err := strconv.ParseFloat(value, 64)
		if err != nil || n != n || n-n != 0 {
			return fmt.Errorf("%q is not a number", value)
		}
		field.SetFloat(n)
	case reflect.Bool:
		b, ok := map[string]bool{"yes": true, "true": true, "no": false, "false": false}[strings.ToLower(value)]
		if !ok {
			return fmt.Errorf("%q is not yes or no", value)
		}
		field.SetBool(b)
	default:
		return fmt.Errorf("cannot be set")
	}
	return nil
}
