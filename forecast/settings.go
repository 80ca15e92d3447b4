package forecast

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"time"

	"github.com/uptrace/bun"

	"reseal/forecast/markov"
	"reseal/forecast/money"
	"reseal/inventory/store"
)

// Settings are the agency's choices behind a forecast. DefaultSettings holds
// the starting values; the meaning of each is in Definitions.
type Settings struct {
	FailedShare         float64
	Pieces              float64
	PaceK               float64
	SiteShare           float64
	HorizonYears        float64
	FiscalYearStart     float64
	RealDiscountRate    float64
	PriceGrowth         float64
	WorkListProbability float64
}

// Definition is what one setting means and may be.
type Definition struct {
	Name         string
	Meaning      string
	Unit         string
	Default      float64
	Min, Max     float64
	Whole        bool // a whole number
	Source       string
	Illustrative bool // the default is a guess, to be replaced by the agency's own

	field func(*Settings) *float64
}

// Definitions lists the settings. Nothing else defines one.
func Definitions() []Definition {
	return []Definition{
		{
			Name: "failed_share", Meaning: "a seal has failed when this share of its length is in CS4", Unit: "share of length",
			Default: 0.10, Min: 0.001, Max: 1, Source: "starting value", Illustrative: true,
			field: func(s *Settings) *float64 { return &s.FailedShare },
		},
		{
			Name: "pieces", Meaning: "pieces of a joint that wear independently, about one per lane", Unit: "pieces",
			Default: 3, Min: 0.1, Max: 100, Source: "starting value", Illustrative: true,
			field: func(s *Settings) *float64 { return &s.Pieces },
		},
		{
			Name: "pace_k", Meaning: "how alike joints of a kind wear: the variance of their pace is 1/k", Unit: "k",
			Default: 4, Min: 0.1, Max: 1e6, Source: "starting value", Illustrative: true,
			field: func(s *Settings) *float64 { return &s.PaceK },
		},
		{
			Name: "site_share", Meaning: "probability that a new seal keeps the pace of the one before it", Unit: "probability",
			Default: 0.5, Min: 0, Max: 1, Source: "starting value", Illustrative: true,
			field: func(s *Settings) *float64 { return &s.SiteShare },
		},
		{
			Name: "horizon_years", Meaning: "how far a replacement year is looked for", Unit: "years",
			Default: 30, Min: 1, Max: 60, Whole: true, Source: "common practice",
			field: func(s *Settings) *float64 { return &s.HorizonYears },
		},
		{
			Name: "fiscal_year_start", Meaning: "month in which the fiscal year starts; the year of its end names it", Unit: "month",
			Default: 1, Min: 1, Max: 12, Whole: true, Source: "the calendar year",
			field: func(s *Settings) *float64 { return &s.FiscalYearStart },
		},
		{
			Name: "real_discount_rate", Meaning: "rate at which constant dollars are discounted (0.02 is 2 %)", Unit: "a year",
			Default: 0.02, Min: 0, Max: 0.2, Source: "starting value; federal work follows OMB Circular A-94", Illustrative: true,
			field: func(s *Settings) *float64 { return &s.RealDiscountRate },
		},
		{
			Name: "price_growth", Meaning: "rise of construction prices, for nominal dollars (0.03 is 3 %)", Unit: "a year",
			Default: 0.03, Min: -0.1, Max: 0.3, Source: "starting value", Illustrative: true,
			field: func(s *Settings) *float64 { return &s.PriceGrowth },
		},
		{
			Name: "worklist_probability", Meaning: "candidates have failed by the end of the year at least this probably", Unit: "probability",
			Default: 0.10, Min: 0, Max: 1, Source: "the early end of the 10-90 % band",
			field: func(s *Settings) *float64 { return &s.WorkListProbability },
		},
	}
}

// DefaultSettings are the starting values.
func DefaultSettings() (s Settings) {
	for _, d := range Definitions() {
		*d.field(&s) = d.Default
	}
	return s
}

// Of is the setting's value among s.
func (d Definition) Of(s Settings) float64 { return *d.field(&s) }

// Parse reads a value and refuses one out of range.
func (d Definition) Parse(text string) (float64, error) {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !(v >= d.Min && v <= d.Max) || d.Whole && v != math.Trunc(v) {
		kind := "a number"
		if d.Whole {
			kind = "a whole number"
		}
		return 0, store.Invalid(fmt.Sprintf("give %s from %g to %g", kind, d.Min, d.Max), "%s cannot be %q", d.Name, text)
	}
	return v, nil
}

// Define returns the definition of a setting by its name.
func Define(name string) (Definition, error) {
	for _, d := range Definitions() {
		if d.Name == name {
			return d, nil
		}
	}
	return Definition{}, store.NotFound("list them with: reseal settings list", "there is no setting %q", name)
}

// LoadSettings reads the settings; those never set have their defaults.
func LoadSettings(ctx context.Context, db bun.IDB) (Settings, error) {
	var rows []struct{ Key, Value string }
	if err := db.NewRaw("SELECT key, value FROM settings").Scan(ctx, &rows); err != nil {
		return Settings{}, fmt.Errorf("read the settings: %w", err)
	}
	stored := map[string]string{}
	for _, r := range rows {
		stored[r.Key] = r.Value
	}
	s := DefaultSettings()
	for _, d := range Definitions() {
		text, ok := stored[d.Name]
		if !ok {
			continue
		}
		v, err := d.Parse(text)
		if err != nil {
			return s, err
		}
		*d.field(&s) = v
	}
	return s, nil
}

// Set changes a setting; history keeps the value before. Setting the value
// that it has changes nothing.
func Set(ctx context.Context, tx *store.Tx, name, text string) error {
	d, err := Define(name)
	if err != nil {
		return err
	}
	v, err := d.Parse(text)
	if err != nil {
		return err
	}
	_, err = upsert(ctx, tx, "settings", []string{"key", "value"}, []any{name, strconv.FormatFloat(v, 'f', -1, 64)})
	return err
}

// Calendar is the fiscal calendar.
func (s Settings) Calendar() money.FiscalCalendar {
	return money.FiscalCalendar{StartMonth: time.Month(s.FiscalYearStart)}
}

// Prices is how prices rise.
func (s Settings) Prices() money.Prices {
	return money.Prices{RatePerYear: s.PriceGrowth, Calendar: s.Calendar()}
}

// Failure is the rule of failure.
func (s Settings) Failure() markov.Failure {
	return markov.Failure{ShareLimit: s.FailedShare, Pieces: s.Pieces}
}
