package inventory

import (
	"fmt"
	"reflect"
	"strconv"
	"strings"
)

// SetColumn puts a value as people write it into the field of that column of a
// row, given as a pointer to its struct. An empty value clears a field that may
// be unknown. The error says what the value is not.
func SetColumn(row any, column, value string) error {
	field, ok := columnField(row, column)
	if !ok {
		return fmt.Errorf("no column %s", column)
	}
	return setValue(field, value)
}

// ColumnText is the value of a row's column as SetColumn takes it; empty is not
// known.
func ColumnText(row any, column string) string {
	field, ok := columnField(row, column)
	if !ok {
		return ""
	}
	if field.Kind() == reflect.Pointer {
		if field.IsNil() {
			return ""
		}
		field = field.Elem()
	}
	switch v := field.Interface().(type) {
	case Date:
		return v.String()
	case float64:
		return strconv.FormatFloat(v, 'f', -1, 64)
	case bool:
		return map[bool]string{true: "yes", false: "no"}[v]
	}
	if field.IsZero() {
		return ""
	}
	return fmt.Sprint(field.Interface())
}

func columnField(row any, column string) (reflect.Value, bool) {
	v := reflect.ValueOf(row).Elem()
	for i := range v.NumField() {
		if name, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("bun"), ","); name == column {
			return v.Field(i), true
		}
	}
	return reflect.Value{}, false
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
	if d, ok := field.Addr().Interface().(*Date); ok {
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
