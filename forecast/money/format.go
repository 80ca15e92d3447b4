package money

import (
	"fmt"
	"strconv"
	"strings"
)

// Label is the heading of a column of nominal dollars.
func (Nominal) Label() string { return "nominal dollars" }

// Label is the heading of a column of constant dollars of a price year.
func (Constant) Label(priceYear int) string { return fmt.Sprintf("constant %d dollars", priceYear) }

// Label is the heading of a column of present values at the start of a year.
func (Present) Label(baseYear int) string { return fmt.Sprintf("present value, %d", baseYear) }

// String is dollars and cents with thousands separators: 1,234,567.89.
func (n Nominal) String() string { return Format(int64(n)) }

// String is dollars and cents with thousands separators: 1,234,567.89.
func (c Constant) String() string { return Format(int64(c)) }

// String is dollars and cents with thousands separators: 1,234,567.89.
func (p Present) String() string { return Format(int64(p)) }

// Format writes cents as dollars and cents with thousands separators:
// 1,234,567.89, or -0.05.
func Format(cents int64) string {
	sign, u := magnitude(cents)
	return fmt.Sprintf("%s%s.%02d", sign, group(u/100), u%100)
}

// FormatDollars writes cents as whole dollars, half a dollar rounded away from
// zero: 1,234,568.
func FormatDollars(cents int64) string {
	sign, u := magnitude(cents)
	dollars := u / 100
	if u%100 >= 50 {
		dollars++
	}
	if dollars == 0 {
		sign = ""
	}
	return sign + group(dollars)
}

// magnitude splits off the sign; unsigned so that the least int64 has one too.
func magnitude(cents int64) (sign string, u uint64) {
	if cents < 0 {
		return "-", -uint64(cents)
	}
	return "", uint64(cents)
}

func group(dollars uint64) string {
	s := strconv.FormatUint(dollars, 10)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// Parse reads an amount in dollars as people and spreadsheets write it into
// cents: 1234.5, $1,234.50, -12. Separators must stand in their places; more
// than two decimals are refused, not rounded. The largest amount is 90
// trillion dollars. Errors wrap [ErrInvalid].
func Parse(s string) (cents int64, err error) {
	bad := fmt.Errorf("%w: %q is not an amount in dollars, such as 1,234.50", ErrInvalid, s)
	rest, negative := strings.CutPrefix(strings.TrimSpace(s), "-")
	rest = strings.TrimPrefix(rest, "$")
	whole, decimals, hasPoint := strings.Cut(rest, ".")
	if hasPoint && (len(decimals) < 1 || len(decimals) > 2) {
		return 0, bad
	}
	digits := strings.ReplaceAll(whole, ",", "")
	if len(digits) == 0 || len(digits) > 14 {
		return 0, bad
	}
	dollars, err := strconv.ParseUint(digits, 10, 64)
	if err != nil || strings.Contains(whole, ",") && whole != group(dollars) {
		return 0, bad
	}
	hundredths, err := strconv.ParseUint((decimals + "00")[:2], 10, 8)
	if err != nil {
		return 0, bad
	}
	u := dollars*100 + hundredths
	if u > maxCents {
		return 0, bad
	}
	if negative {
		return -int64(u), nil
	}
	return int64(u), nil
}
