package forecast

import (
	"context"
	"fmt"

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

// loadRates reads the published discount rates; the one for a programme as long as the
// horizon stands in place of the setting.
func (t *Tables) loadRates(ctx context.Context, db bun.IDB) error {
	var rates []discountRate
	if err := db.NewSelect().Model(&rates).Order("years").Scan(ctx); err != nil {
		return fmt.Errorf("read the discount rates: %w", err)
	}
	if len(rates) == 0 {
		return nil
	}
	for _, r := range rates {
		t.Rates = append(t.Rates, money.Term{Years: r.Years, Rate: r.Rate})
	}
	var err error
	if t.Settings.RealDiscountRate, err = t.Rates.At(t.Settings.HorizonYears); err != nil {
		return fmt.Errorf("table discount_rates: %w", err)
	}
	return nil
}

// PriceWords say how prices rise and dollars are discounted, and by what.
func (t *Tables) PriceWords() string {
	rise := fmt.Sprintf("Prices rise %.3g %% a year (setting price_growth)", 100*t.Prices.RatePerYear)
	if last, ok := t.Prices.LastYear(); ok {
		rise = fmt.Sprintf("Prices go by the table cost_index to %d, and rise %.3g %% a year after it (setting price_growth)", last, 100*t.Prices.RatePerYear)
	}
	by := "setting real_discount_rate"
	if len(t.Rates) > 0 {
		by = fmt.Sprintf("table discount_rates, for %.3g years", t.Settings.HorizonYears)
	}
	return fmt.Sprintf("%s; constant dollars are discounted at a real %.3g %% a year from the middle of each year (%s)", rise, 100*t.Settings.RealDiscountRate, by)
}
