package money

import (
	"encoding/csv"
	"errors"
	"math"
	"os"
	"strconv"
	"testing"
	"time"
)

func readRows(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open("../../testdata/money/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(rows), err)
	}
	return rows[1:]
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// nhcci is FHWA's National Highway Construction Cost Index as quoted by the Eno
// Center for Transportation.
func nhcci(t *testing.T) Index {
	t.Helper()
	x := Index{Name: "NHCCI", Level: map[Period]float64{}}
	for _, row := range readRows(t, "nhcci.csv") {
		p, err := ParsePeriod(row[0])
		if err != nil {
			t.Fatal(err)
		}
		x.Level[p] = number(t, row[1])
	}
	return x
}

// The published rise from 2020 Q4 to 2024 Q1 is 71.5 %.
func TestPublishedRiseOfConstructionCost(t *testing.T) {
	// With each of the two quarters alone in its year.
	x := Index{Level: map[Period]float64{}}
	for _, p := range []Period{{2020, 4}, {2024, 1}} {
		x.Level[p] = nhcci(t).Level[p]
	}
	got, err := Prices{Index: x}.Factor(2020, 2024)
	if err != nil || math.Abs(got-1.715) > 0.0005 {
		t.Errorf("got %.5f, %v; want 1.715 to three decimals", got, err)
	}
}

// FHWA, Highway Statistics 2008, chart PT-3C: current outlay, index and
// constant outlay, the last to within the rounding of the printed index.
func TestPublishedDeflationOfCapitalOutlay(t *testing.T) {
	x := Index{Name: "PT-3C", Level: map[Period]float64{}}
	rows := readRows(t, "pt3c.csv")
	for _, row := range rows {
		x.Level[Period{Year: int(number(t, row[0]))}] = number(t, row[1])
	}
	for _, row := range rows {
		t.Run(row[0], func(t *testing.T) {
			f, err := Prices{Index: x}.Factor(int(number(t, row[0])), 2003)
			got := number(t, row[2]) * f / x.Level[Period{Year: 2003}] // to the base, where the level is 1
			if err != nil || math.Round(got) != number(t, row[3]) {
				t.Errorf("got %v, %v; want %s million", got, err, row[3])
			}
		})
	}
}

func TestFactorByIndexThenByRate(t *testing.T) {
	october := FiscalCalendar{StartMonth: time.October}
	tests := []struct {
		name     string
		prices   Prices
		from, to int
		want     float64
	}{
		{"zero value", Prices{}, 2020, 2030, 1},
		{"fixed rate", Prices{RatePerYear: 0.03}, 2024, 2026, 1.0609},
		{"fixed rate back", Prices{RatePerYear: 0.03}, 2026, 2024, 1 / 1.0609},
		{"calendar years", Prices{Index: nhcci(t)}, 2021, 2022, (2.2841 + 2.5555 + 2.7820 + 2.7840) / (1.9112 + 2.0363 + 2.1075 + 2.1821)},
		{"fiscal years from October", Prices{Index: nhcci(t), Calendar: october}, 2021, 2022, (2.1821 + 2.2841 + 2.5555 + 2.7820) / (1.8601 + 1.9112 + 2.0363 + 2.1075)},
		{"last year from the quarters there are", Prices{Index: nhcci(t)}, 2023, 2024, 3.1908 * 4 / (2.8426 + 2.9680 + 3.1298 + 3.1156)},
		{"beyond the index", Prices{Index: nhcci(t), RatePerYear: 0.04}, 2024, 2026, 1.0816},
		{"wholly beyond the index", Prices{Index: nhcci(t), RatePerYear: 0.04}, 2030, 2031, 1.04},
		{"yearly values", Prices{Index: Index{Level: map[Period]float64{{Year: 2008}: 1.246, {Year: 2004}: 1.052}}, Calendar: october}, 2004, 2008, 1.246 / 1.052},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := tt.prices.Factor(tt.from, tt.to)
			if err != nil || math.Abs(got-tt.want) > 1e-12 {
				t.Errorf("got %.12f, %v; want %.12f", got, err, tt.want)
			}
		})
	}
}

func TestFactorOutsideTheIndex(t *testing.T) {
	gap := Index{Name: "gap", Level: map[Period]float64{{Year: 2003}: 1, {Year: 2005}: 1.1}}
	bad := Index{Name: "bad", Level: map[Period]float64{{Year: 2003}: math.NaN()}}
	for _, tt := range []struct {
		name  string
		index Index
		from  int
		want  error
	}{
		{"before its start", nhcci(t), 2019, ErrNoPrice},
		{"missing within", gap, 2004, ErrNoPrice},
		{"not a number", bad, 2003, ErrInvalid},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if _, err := (Prices{Index: tt.index}).Factor(tt.from, 2026); !errors.Is(err, tt.want) {
				t.Errorf("got %v, want %v", err, tt.want)
			}
		})
	}
}

func TestPeriods(t *testing.T) {
	for _, text := range []string{"2024", "2024Q1", "1999Q4"} {
		if p, err := ParsePeriod(text); err != nil || p.String() != text {
			t.Errorf("%s: got %v, %v", text, p, err)
		}
	}
	for _, text := range []string{"", "24", "2024Q", "2024Q0", "2024Q5", "2024 Q1", "2024q1", "+2024", "Q1", "2024Q01"} {
		if p, err := ParsePeriod(text); !errors.Is(err, ErrInvalid) {
			t.Errorf("%q: got %v, %v", text, p, err)
		}
	}
}

func TestFiscalCalendar(t *testing.T) {
	tests := []struct {
		name  string
		start time.Month
		year  int
		month time.Month
		want  int
	}{
		{"US federal, first month (31 U.S.C. 1102)", time.October, 2025, time.October, 2026},
		{"US federal, last month", time.October, 2026, time.September, 2026},
		{"from July", time.July, 2026, time.June, 2026},
		{"calendar year", time.January, 2026, time.December, 2026},
		{"zero value", 0, 2026, time.January, 2026},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := FiscalCalendar{StartMonth: tt.start}
			if got := c.YearOf(tt.year, tt.month); got != tt.want {
				t.Errorf("got %d, want %d", got, tt.want)
			}
		})
	}
	for start := time.Month(0); start <= 12; start++ {
		c := FiscalCalendar{StartMonth: start}
		year, month := c.Start(2026)
		if got := c.YearOf(year, month); got != 2026 {
			t.Errorf("start month %d: first month of 2026 lies in %d", start, got)
		}
		before := time.Date(year, month-1, 1, 0, 0, 0, 0, time.UTC)
		if got := c.YearOf(before.Year(), before.Month()); got != 2025 {
			t.Errorf("start month %d: month before 2026 lies in %d", start, got)
		}
	}
}

// US OMB Circular A-94, Appendix C, January 2000: real rates, and the rule for
// other terms.
func TestDiscountRatesBetweenTerms(t *testing.T) {
	curve := Curve{{3, 0.038}, {5, 0.039}, {7, 0.040}, {10, 0.040}, {30, 0.042}}
	for _, tt := range []struct {
		name  string
		years float64
		want  float64
	}{
		{"four years, published rule", 4, 0.0385},
		{"a term itself", 7, 0.040},
		{"twenty years", 20, 0.041},
		{"over thirty years", 50, 0.042},
		{"under three years", 1, 0.038},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, err := curve.At(tt.years)
			if err != nil || math.Abs(got-tt.want) > 1e-12 {
				t.Errorf("got %g, %v; want %g", got, err, tt.want)
			}
		})
	}
	for name, bad := range map[string]Curve{
		"empty": nil, "descending": {{5, 0.06}, {3, 0.059}}, "not a number": {{3, math.NaN()}},
	} {
		if _, err := bad.At(4); !errors.Is(err, ErrInvalid) {
			t.Errorf("%s: got %v, want ErrInvalid", name, err)
		}
	}
}
