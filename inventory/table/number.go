package table

import (
	"math"
	"strconv"
	"strings"
)

// problem is what is wrong with a cell; the zero value is no problem.
type problem struct{ what, remedy string }

// parseNumber reads a decimal number. The comma is a decimal sign where
// decimalComma holds (files separated by semicolons); groups of three are
// accepted only where they cannot be taken for decimals.
func parseNumber(s string, decimalComma bool) (float64, problem) {
	notNumber := problem{"is not a number", "digits and a decimal point"}
	plain, ambiguous := ungroup(s, decimalComma)
	if ambiguous {
		return 0, problem{"is ambiguous: a decimal sign or thousands", "write it without thousands separators, or with another number of decimals"}
	}
	for i := 0; i < len(plain); i++ {
		if c := plain[i]; (c < '0' || c > '9') && c != '.' && c != '-' && c != '+' && c != 'e' && c != 'E' {
			if word := strings.ToLower(strings.TrimLeft(plain, "+-")); word == "nan" || strings.HasPrefix(word, "inf") {
				return 0, problem{"is not a finite number", "leave the cell blank where nothing is known"}
			}
			if c := s[len(s)-1]; plain[0] >= '0' && plain[0] <= '9' && (c < '0' || c > '9') {
				return 0, problem{"is not a number", "digits only: the unit belongs in the header"}
			}
			return 0, notNumber
		}
	}
	v, err := strconv.ParseFloat(plain, 64)
	if math.IsInf(v, 0) {
		return 0, problem{"is too large", "check the number"}
	}
	if err != nil {
		return 0, notNumber
	}
	return v, problem{}
}

// ungroup writes a number with a decimal point and without thousands
// separators, or reports that it could be meant in two ways.
func ungroup(s string, decimalComma bool) (plain string, ambiguous bool) {
	comma := strings.IndexByte(s, ',')
	if comma < 0 && !decimalComma {
		return s, false
	}
	points, commas := strings.Count(s, "."), strings.Count(s, ",")
	last := max(strings.LastIndexByte(s, '.'), strings.LastIndexByte(s, ','))
	switch {
	case last < 0:
		return s, false
	case points > 0 && commas > 0:
		// Both signs: the last is the decimal one, the others group.
		if strings.Count(s, s[last:last+1]) > 1 || !grouped(s[:last]) {
			return s, false
		}
		return digits(s[:last]) + "." + s[last+1:], false
	case points+commas > 1:
		if !grouped(s) {
			return s, false
		}
		return digits(s), false
	case decimalComma && commas == 1:
		return strings.Replace(s, ",", ".", 1), false
	}
	// One sign that this file does not use for decimals, and it could group.
	return s, grouped(s)
}

// grouped reports digits in groups of three by commas or points: 1,234,567.
func grouped(s string) bool {
	parts := strings.FieldsFunc(strings.TrimLeft(s, "+-"), func(r rune) bool { return r == ',' || r == '.' })
	if len(parts) < 2 || len(parts[0]) > 3 || parts[0] == "0" {
		return false
	}
	for i, p := range parts {
		if i > 0 && len(p) != 3 || strings.Trim(p, "0123456789") != "" {
			return false
		}
	}
	return true
}

func digits(s string) string { return strings.NewReplacer(",", "", ".", "").Replace(s) }

// parseCents reads dollars as whole cents, exactly. A dollar sign may lead,
// and one group of three is thousands, since no amount has three decimals.
func parseCents(s string, decimalComma bool) (int64, problem) {
	rest := strings.Replace(s, "$", "", 1)
	if rest != s && strings.Trim(s[:strings.IndexByte(s, '$')], "+- ") != "" {
		return 0, problem{"is not an amount of money", "1234.50"}
	}
	rest = strings.ReplaceAll(rest, " ", "")
	separator := ","
	if decimalComma {
		separator = "."
	}
	if without := strings.ReplaceAll(rest, separator, ""); without != rest && grouped(rest) && without == digits(rest) {
		rest = without
	}
	v, bad := parseNumber(rest, decimalComma)
	if bad.what != "" {
		if bad.what == "is not a number" {
			bad = problem{"is not an amount of money", "1234.50"}
		}
		return 0, bad
	}
	if math.Abs(v) > 1e13 {
		return 0, problem{"is too large", "check the amount"}
	}
	cents := math.Round(v * 100)
	if math.Abs(v*100-cents) > 1e-6*max(1, math.Abs(v)) {
		return 0, problem{"has parts of a cent", "two decimals"}
	}
	return int64(cents), problem{}
}
