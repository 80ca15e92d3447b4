package money

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"
)

// Period is a quarter, or a whole year where Quarter is 0.
type Period struct {
	Year    int
	Quarter int // 1 to 4; 0 is the year as a whole
}

// String is "2026 Q1" or "2026".
func (p Period) String() string {
	if p.Quarter == 0 {
		return fmt.Sprint(p.Year)
	}
	return fmt.Sprintf("%d Q%d", p.Year, p.Quarter)
}

// Index is a published series of price levels. Series are revised, so the
// vintage (when it was read) belongs to it.
type Index struct {
	Name, Source, Vintage string
	Level                 map[Period]float64 // above zero
}

// Validate reports the earliest period or level that cannot be used.
func (x Index) Validate() error {
	periods := slices.SortedFunc(maps.Keys(x.Level), func(a, b Period) int {
		return cmp.Or(cmp.Compare(a.Year, b.Year), cmp.Compare(a.Quarter, b.Quarter))
	})
	for _, p := range periods {
		if p.Quarter < 0 || p.Quarter > 4 {
			return fmt.Errorf("%w: index %q has a quarter %d in %d", ErrInvalid, x.Name, p.Quarter, p.Year)
		}
		if _, err := x.at(p); err != nil {
			return err
		}
	}
	return nil
}

// Change is the ratio of the price level in period to to that in from.
func (x Index) Change(from, to Period) (float64, error) {
	a, err := x.at(from)
	if err != nil {
		return 0, err
	}
	b, err := x.at(to)
	if err != nil {
		return 0, err
	}
	return b / a, nil
}

// Deflate turns an amount paid in period p into dollars of the index's own
// base, where its level is 1.
func (x Index) Deflate(n Nominal, p Period) (Constant, error) {
	level, err := x.at(p)
	if err != nil {
		return 0, err
	}
	c, err := scale(int64(n), 1/level)
	return Constant(c), err
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

// level is the price level of a fiscal year, on the index's base.
func (p Prices) level(year int) (float64, error) {
	last := math.MinInt
	for q := range p.Index.Level {
		last = max(last, p.fiscalYearOf(q))
	}
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

// ToNominal turns dollars at priceYear's prices into what is paid in spendYear.
func (p Prices) ToNominal(c Constant, priceYear, spendYear int) (Nominal, error) {
	f, err := p.Factor(priceYear, spendYear)
	if err != nil {
		return 0, err
	}
	n, err := scale(int64(c), f)
	return Nominal(n), err
}

// ToConstant turns what was paid in spendYear into dollars at priceYear's
// prices.
func (p Prices) ToConstant(n Nominal, spendYear, priceYear int) (Constant, error) {
	f, err := p.Factor(spendYear, priceYear)
	if err != nil {
		return 0, err
	}
	c, err := scale(int64(n), f)
	return Constant(c), err
}
