package money

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Period is a quarter, or a whole year where Quarter is 0.
type Period struct {
	Year    int
	Quarter int // 1 to 4; 0 is the year as a whole
}

// String is "2026Q1" or "2026".
func (p Period) String() string {
	if p.Quarter == 0 {
		return fmt.Sprint(p.Year)
	}
	return fmt.Sprintf("%dQ%d", p.Year, p.Quarter)
}

// ParsePeriod reads what [Period.String] writes, of the years from 1900 to 2200.
func ParsePeriod(text string) (Period, error) {
	year, quarter, quarterly := strings.Cut(text, "Q")
	y, err := strconv.Atoi(year)
	q := 0
	if err == nil && quarterly {
		q, err = strconv.Atoi(quarter)
	}
	p := Period{y, q}
	if err != nil || y < 1900 || y > 2200 || q > 4 || p.String() != text {
		return Period{}, fmt.Errorf("%w: %q is neither a year nor a quarter; write 2026 or 2026Q1", ErrInvalid, text)
	}
	return p, nil
}

// Index is a published series of price levels.
type Index struct {
	Name  string
	Level map[Period]float64 // above zero
}

func (x Index) at(p Period) (float64, error) {
	v, ok := x.Level[p]
	if !ok {
		return 0, fmt.Errorf("%w: index %q has no value for %s", ErrNoPrice, x.Name, p)
	}
	if !(v > 0) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%w: index %q has %g in %s", ErrInvalid, x.Name, v, p)
	}
	return v, nil
}

// Prices brings costs from one fiscal year's prices to another's: by an index
// as far as it reaches, and by a fixed yearly rate after its last year. The
// zero value leaves prices as they are.
type Prices struct {
	Index       Index          // may be empty: the fixed rate alone
	RatePerYear float64        // 0.03 is 3 % a year; used after the index ends
	Calendar    FiscalCalendar // which quarters make up a year
}

// Factor is the ratio of prices in fiscal year to to those in fiscal year from.
//
// A year's level is its whole-year value where the index has one, else the mean
// of those of its quarters that the index has, each counted in the year of its
// middle month. Between years that the index does not reach at its end, the
// fixed rate applies; a year missing within it or before its start is
// [ErrNoPrice].
func (p Prices) Factor(from, to int) (float64, error) {
	if !(p.RatePerYear > -1) || math.IsInf(p.RatePerYear, 0) {
		return 0, fmt.Errorf("%w: price rise of %g a year", ErrInvalid, p.RatePerYear)
	}
	f := p.rise(to - from)
	if len(p.Index.Level) > 0 {
		a, err := p.level(from)
		if err != nil {
			return 0, err
		}
		b, err := p.level(to)
		if err != nil {
			return 0, err
		}
		f = b / a
	}
	if !(f > 0) || math.IsInf(f, 0) {
		return 0, fmt.Errorf("%w: prices from %d to %d at %g a year", ErrInvalid, from, to, p.RatePerYear)
	}
	return f, nil
}

func (p Prices) rise(years int) float64 { return math.Pow(1+p.RatePerYear, float64(years)) }

// LastYear is the last fiscal year of the index; false where there is none.
func (p Prices) LastYear() (year int, ok bool) {
	for q := range p.Index.Level {
		if of := p.fiscalYearOf(q); !ok || of > year {
			year, ok = of, true
		}
	}
	return year, ok
}

// level is the price level of a fiscal year, on the index's base.
func (p Prices) level(year int) (float64, error) {
	last, _ := p.LastYear()
	v, err := p.yearMean(min(year, last))
	if err != nil {
		return 0, err
	}
	if year > last {
		v *= p.rise(year - last)
	}
	return v, nil
}

func (p Prices) yearMean(year int) (float64, error) {
	if _, ok := p.Index.Level[Period{Year: year}]; ok {
		return p.Index.at(Period{Year: year})
	}
	sum, n := 0.0, 0
	// Fiscal years straddle two calendar years, never more.
	for calendarYear := year - 1; calendarYear <= year+1; calendarYear++ {
		for quarter := 1; quarter <= 4; quarter++ {
			q := Period{calendarYear, quarter}
			if _, ok := p.Index.Level[q]; !ok || p.fiscalYearOf(q) != year {
				continue
			}
			v, err := p.Index.at(q)
			if err != nil {
				return 0, err
			}
			sum, n = sum+v, n+1
		}
	}
	if n == 0 {
		return 0, fmt.Errorf("%w: index %q has no value for fiscal year %d; add it or choose another price year", ErrNoPrice, p.Index.Name, year)
	}
	return sum / float64(n), nil
}

func (p Prices) fiscalYearOf(q Period) int {
	if q.Quarter == 0 {
		return q.Year
	}
	return p.Calendar.YearOf(q.Year, time.Month(3*q.Quarter-1))
}
