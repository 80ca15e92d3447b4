package inventory

import (
	"database/sql/driver"
	"fmt"
	"time"
)

// Date is a civil day. The zero value is no date.
type Date struct {
	Year  int
	Month time.Month
	Day   int
}

// ParseDate reads YYYY-MM-DD; the empty string is no date.
func ParseDate(s string) (Date, error) {
	if s == "" {
		return Date{}, nil
	}
	if d, ok := plainDate(s); ok {
		return d, nil
	}
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return Date{}, fmt.Errorf("%q is not a date (YYYY-MM-DD)", s)
	}
	return DateOf(t), nil
}

// plainDate reads what no month is too short for, without the general parser:
// a network has millions of dates.
func plainDate(s string) (Date, bool) {
	if len(s) != len(time.DateOnly) || s[4] != '-' || s[7] != '-' {
		return Date{}, false
	}
	n := [3]int{}
	for i, at := range [3][2]int{{0, 4}, {5, 7}, {8, 10}} {
		for _, c := range []byte(s[at[0]:at[1]]) {
			if c < '0' || c > '9' {
				return Date{}, false
			}
			n[i] = 10*n[i] + int(c-'0')
		}
	}
	d := Date{n[0], time.Month(n[1]), n[2]}
	return d, d.Month >= 1 && d.Month <= 12 && d.Day >= 1 && d.Day <= 28
}

// DateOf is the day of an instant, in the instant's own location.
func DateOf(t time.Time) Date {
	y, m, d := t.Date()
	return Date{y, m, d}
}

// IsZero tells that there is no date.
func (d Date) IsZero() bool { return d == Date{} }

// Time is the day's midnight, UTC.
func (d Date) Time() time.Time { return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC) }

// Before tells whether d is an earlier day than e.
func (d Date) Before(e Date) bool { return d.Compare(e) < 0 }

// Compare is below 0 where d is an earlier day than e, 0 where it is the same.
func (d Date) Compare(e Date) int {
	switch {
	case d.Year != e.Year:
		return d.Year - e.Year
	case d.Month != e.Month:
		return int(d.Month - e.Month)
	}
	return d.Day - e.Day
}

// AddDays returns the day n days later.
func (d Date) AddDays(n int) Date { return DateOf(d.Time().AddDate(0, 0, n)) }

// AddMonths returns the day n months later, never past the end of that month.
func (d Date) AddMonths(n int) Date {
	first := time.Date(d.Year, d.Month+time.Month(n), 1, 0, 0, 0, 0, time.UTC)
	last := first.AddDate(0, 1, -1).Day()
	return Date{first.Year(), first.Month(), min(d.Day, last)}
}

// YearsSince is the time from e to d in years of 365.25 days.
func (d Date) YearsSince(e Date) float64 {
	return d.Time().Sub(e.Time()).Hours() / (24 * 365.25)
}

// String is YYYY-MM-DD, or nothing.
func (d Date) String() string {
	if d.IsZero() {
		return ""
	}
	if d.Year < 0 || d.Year > 9999 {
		return fmt.Sprintf("%04d-%02d-%02d", d.Year, int(d.Month), d.Day)
	}
	digit := func(n int) byte { return '0' + byte(n%10) }
	return string([]byte{
		digit(d.Year / 1000), digit(d.Year / 100), digit(d.Year / 10), digit(d.Year), '-',
		digit(int(d.Month) / 10), digit(int(d.Month)), '-', digit(d.Day / 10), digit(d.Day),
	})
}

// MarshalText and UnmarshalText carry a date through JSON and flags.
func (d Date) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads what MarshalText wrote.
func (d *Date) UnmarshalText(b []byte) (err error) {
	*d, err = ParseDate(string(b))
	return err
}

// Value stores a date as text; no date is NULL.
func (d Date) Value() (driver.Value, error) {
	if d.IsZero() {
		return nil, nil
	}
	return d.String(), nil
}

// Scan reads a DATE column, which the driver may give as text or as an instant.
func (d *Date) Scan(src any) (err error) {
	switch v := src.(type) {
	case nil:
		*d = Date{}
	case time.Time:
		*d = DateOf(v)
	case string:
		*d, err = ParseDate(v[:min(len(v), len(time.DateOnly))])
	case []byte:
		return d.Scan(string(v))
	default:
		err = fmt.Errorf("cannot read a date from %T", src)
	}
	return err
}

// DecimalYear is the date as a year with decimals, 365.25 days to the year.
func (d Date) DecimalYear() float64 { return 2000 + d.YearsSince(Date{2000, time.January, 1}) }
