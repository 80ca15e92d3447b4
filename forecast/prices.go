package forecast

import (
	"cmp"
	"fmt"
	"slices"

	"github.com/uptrace/bun"

	"reseal/forecast/money"
)

// CostFactor is what work costs in a district beside the table of treatments.
type CostFactor struct {
	bun.BaseModel `bun:"table:cost_factors"`

	District     string  `bun:"district"`
	Factor       float64 `bun:"factor"`
	Illustrative bool    `bun:"illustrative"`
}

// indexLevel is a row of the price index.
type indexLevel struct {
	bun.BaseModel `bun:"table:cost_index"`

	Period string  `bun:"period"`
	Level  float64 `bun:"level"`
}

// discountRate is the real rate a year for programmes of one length.
type discountRate struct {
	bun.BaseModel `bun:"table:discount_rates"`

	Years float64 `bun:"years"`
	Rate  float64 `bun:"rate"`
}

// prices rise by the index as far as it reaches, and by the settings after it.
func prices(s *Settings, index []indexLevel) (money.Prices, error) {
	p := money.Prices{RatePerYear: s.PriceGrowth, Calendar: s.Calendar()}
	if len(index) == 0 {
		return p, nil
	}
	p.Index = money.Index{Name: "cost_index", Level: map[money.Period]float64{}}
	for _, row := range index {
		period, err := money.ParsePeriod(row.Period)
		if err != nil {
			return p, fmt.Errorf("table cost_index: %w", err)
		}
		p.Index.Level[period] = row.Level
	}
	return p, nil
}

// realRate is that of a programme as long as the horizon, by the table, or where
// it is empty by the settings.
func realRate(s *Settings, rates []discountRate) (float64, error) {
	if len(rates) == 0 {
		return s.RealDiscountRate, nil
	}
	var curve money.Curve
	for _, r := range rates {
		curve = append(curve, money.Term{Years: r.Years, Rate: r.Rate})
	}
	slices.SortFunc(curve, func(a, b money.Term) int { return cmp.Compare(a.Years, b.Years) })
	rate, err := curve.At(s.HorizonYears)
	if err != nil {
		return 0, fmt.Errorf("table discount_rates: %w", err)
	}
	return rate, nil
}

// PriceWords say how prices rise and dollars are discounted.
func (t *Tables) PriceWords() string {
	rise := fmt.Sprintf("Prices rise %.3g %% a year", 100*t.Prices.RatePerYear)
	if last, ok := t.Prices.LastYear(); ok {
		rise = fmt.Sprintf("Prices go by the table cost_index to %d, and rise %.3g %% a year after it", last, 100*t.Prices.RatePerYear)
	}
	return fmt.Sprintf("%s; constant dollars are discounted at a real %.3g %% a year", rise, 100*t.Settings.RealDiscountRate)
}
