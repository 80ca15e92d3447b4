package web

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"reseal/inventory"
)

// number writes a number of any kind with at most two decimals; what is not
// known is a dash.
func number(v any) string {
	switch v := v.(type) {
	case *float64:
		if v != nil {
			return number(*v)
		}
	case *int:
		if v != nil {
			return strconv.Itoa(*v)
		}
	case float64:
		if !math.IsNaN(v) {
			text := strconv.FormatFloat(v, 'f', 2, 64)
			return strings.TrimRight(strings.TrimRight(text, "0"), ".")
		}
	case int:
		return strconv.Itoa(v)
	case string:
		if v != "" {
			return v
		}
	case inventory.Date:
		if !v.IsZero() {
			return v.String()
		}
	}
	return "–"
}

// yearWords is a year that may lie beyond the last one looked at.
func yearWords(year, last int) string {
	if year == 0 {
		return fmt.Sprintf("after %d", last)
	}
	return strconv.Itoa(year)
}

// columnWords is a column's name for people.
func columnWords(column string) string {
	for short, long := range map[string]string{"_ft": " (ft)", "_in": " (in)", "_deg": " (°)", "_f": " (°F)"} {
		if name, ok := strings.CutSuffix(column, short); ok {
			column = name + long
			break
		}
	}
	return strings.ReplaceAll(column, "_", " ")
}
