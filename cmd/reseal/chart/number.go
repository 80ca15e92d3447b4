package chart

import (
	"math"
	"strconv"
	"strings"
)

// Number is a value in few characters: 0.25, 1,200, 35k, 1.2M.
func Number(v float64) string {
	a := math.Abs(v)
	switch {
	case a >= 999_500_000:
		return short(v/1e9) + "B"
	case a >= 999_500:
		return short(v/1e6) + "M"
	case a >= 10_000:
		return short(v/1e3) + "k"
	case a >= 1000:
		s := strconv.FormatFloat(a, 'f', 0, 64)
		s = s[:len(s)-3] + "," + s[len(s)-3:]
		if v < 0 {
			s = "-" + s
		}
		return s
	}
	return short(v)
}

// Dollars is a sum of money in few characters: $350, $1.2M.
func Dollars(v float64) string {
	if v < 0 {
		return "-$" + Number(-v)
	}
	return "$" + Number(v)
}

// Percent is a share as per cent: 0.25 is 25 %.
func Percent(share float64) string { return short(100*share) + " %" }

// Year is a year as it is written.
func Year(v float64) string { return strconv.FormatFloat(v, 'f', 0, 64) }

// short is three significant digits without trailing zeros.
func short(v float64) string {
	decimals := 2
	switch a := math.Abs(v); {
	case a >= 99.95:
		decimals = 0
	case a >= 9.995:
		decimals = 1
	}
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}
