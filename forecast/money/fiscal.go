package money

import "time"

// FiscalCalendar says in which month the agency's fiscal year starts. A fiscal
// year bears the name of the calendar year in which it ends, as those of the US
// federal government do (31 U.S.C. 1102): with a start in October, October 2025
// is in fiscal year 2026. The zero value is the calendar year.
type FiscalCalendar struct {
	StartMonth time.Month // 1 to 12; 0 is January
}

// YearOf is the fiscal year that a calendar month lies in.
func (c FiscalCalendar) YearOf(year int, month time.Month) int {
	if c.StartMonth > time.January && month >= c.StartMonth {
		return year + 1
	}
	return year
}

// Start is the first calendar month of a fiscal year.
func (c FiscalCalendar) Start(fiscalYear int) (year int, month time.Month) {
	if c.StartMonth > time.January {
		return fiscalYear - 1, c.StartMonth
	}
	return fiscalYear, time.January
}
