package table

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// CivilDate is a day of the calendar, or only its month or year where the
// record holds no more. The zero value is no date.
type CivilDate struct {
	Year  int
	Month time.Month // 0 when only the year is known
	Day   int        // 0 when only the month is known
}

// DateOf returns the date of t in t's own zone.
func DateOf(t time.Time) CivilDate {
	y, m, d := t.Date()
	return CivilDate{y, m, d}
}

// IsZero reports no date.
func (d CivilDate) IsZero() bool { return d == CivilDate{} }

// String returns the date as ISO 8601 at its precision: 2021-03-04, 2021-03 or
// 2021; empty for no date.
func (d CivilDate) String() string {
	switch {
	case d.IsZero():
		return ""
	case d.Month == 0:
		return fmt.Sprintf("%04d", d.Year)
	case d.Day == 0:
		return fmt.Sprintf("%04d-%02d", d.Year, d.Month)
	}
	return fmt.Sprintf("%04d-%02d-%02d", d.Year, d.Month, d.Day)
}

// First returns midnight UTC of the first day that the date can mean.
func (d CivilDate) First() time.Time {
	return time.Date(d.Year, max(d.Month, 1), max(d.Day, 1), 0, 0, 0, 0, time.UTC)
}

// The years that a record of a bridge can hold. Outside them a date is a slip.
const (
	firstYear = 1700
	lastYear  = 2200
)

// ParseDate reads ISO 8601: YYYY-MM-DD, YYYY-MM or YYYY, with the years 1700 to
// 2200. A time of day is accepted when it is midnight, as spreadsheets and
// scripts write it.
func ParseDate(s string) (CivilDate, error) {
	d, bad := parseDate(s)
	if bad.what != "" {
		return CivilDate{}, fmt.Errorf("%q %s (%s)", s, bad.what, bad.remedy)
	}
	return d, nil
}

func parseDate(s string) (CivilDate, problem) {
	const form = "YYYY-MM-DD"
	notDate := problem{"is not a date", form}
	if len(s) > 10 && (s[10] == 'T' || s[10] == ' ') {
		if strings.Trim(s[11:], "0:.Z") != "" {
			return CivilDate{}, problem{"has a time of day", form}
		}
		s = s[:10]
	}
	d := CivilDate{}
	ok := len(s) == 4 || len(s) == 7 && s[4] == '-' || len(s) == 10 && s[4] == '-' && s[7] == '-'
	if ok {
		d.Year, ok = decimal(s[:4])
	}
	if ok && len(s) >= 7 {
		var month int
		month, ok = decimal(s[5:7])
		d.Month, ok = time.Month(month), ok && month >= 1 && month <= 12
	}
	if ok && len(s) == 10 {
		d.Day, ok = decimal(s[8:10])
		ok = ok && d.Day >= 1 && d.Day <= daysIn(d.Year, d.Month)
	}
	if !ok {
		if reading := bothReadings(s); reading != "" {
			return CivilDate{}, problem{reading, form}
		}
		if day, ok := serialDay(s); ok {
			return CivilDate{}, problem{"is a spreadsheet's number of a day", fmt.Sprintf("perhaps %s; write %s", day, form)}
		}
		return CivilDate{}, notDate
	}
	if d.Year < firstYear || d.Year > lastYear {
		return CivilDate{}, problem{fmt.Sprintf("is outside the years %d to %d", firstYear, lastYear), form}
	}
	return d, problem{}
}

// serialDay is the day of a spreadsheet's serial number, counted from 1900 as
// ECMA-376 Part 1, section 18.17.4.1, has it: five digits are 1927 to 2173.
func serialDay(s string) (CivilDate, bool) {
	n, ok := decimal(s)
	if !ok || len(s) != 5 {
		return CivilDate{}, false
	}
	return DateOf(time.Date(1899, 12, 30+n, 0, 0, 0, 0, time.UTC)), true
}

func daysIn(year int, month time.Month) int {
	return time.Date(year, month+1, 0, 0, 0, 0, 0, time.UTC).Day()
}

// decimal reads digits only, unlike strconv.Atoi, which takes a sign.
func decimal(s string) (n int, ok bool) {
	for i := 0; i < len(s); i++ {
		if s[i] < '0' || s[i] > '9' {
			return 0, false
		}
		n = n*10 + int(s[i]-'0')
	}
	return n, true
}

// bothReadings spells out the two days that 03/04/2021 can mean, or returns "".
func bothReadings(s string) string {
	parts := strings.FieldsFunc(s, func(r rune) bool { return r == '/' || r == '.' || r == '-' })
	if len(parts) != 3 {
		return ""
	}
	a, errA := strconv.Atoi(parts[0])
	b, errB := strconv.Atoi(parts[1])
	if errA != nil || errB != nil || a < 1 || a > 12 || b < 1 || b > 12 || a == b {
		return ""
	}
	return fmt.Sprintf("could be %v %d or %v %d", time.Month(a), b, time.Month(b), a)
}
