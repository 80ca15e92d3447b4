package forecast

import (
	"context"
	"fmt"
	"time"

	"github.com/uptrace/bun"

	"reseal/forecast/markov"
	"reseal/forecast/money"
	"reseal/inventory/setting"
)

// Settings are the agency's choices behind a forecast. DefaultSettings holds
// the starting values; the meaning of each is in
// Definitions.
type Settings struct {
	FailedShare         float64
	Pieces              float64
	PaceK               float64
	SiteShare           float64
	HorizonYears        float64
	FiscalYearStart     float64
	RealDiscountRate    float64
	PriceGrowth         float64
	ContingencyShare    float64
	WorkListProbability float64
	BacklogAfterYears   float64
	CostError           float64
	LifeError           float64
	ClosureMiles        float64
	ClosureSavingShare  float64
}

// Definitions lists the settings of forecasts, with their values in s.
func (s *Settings) Definitions() []setting.Definition {
	return []setting.Definition{
		{
			Name: "failed_share", Meaning: "a seal has failed when this share of its length is in CS4", Unit: "share of length",
			Default: 0.10, Min: 0.001, Max: 1, Source: "starting value", Illustrative: true, Value: &s.FailedShare,
		},
		{
			Name: "pieces", Meaning: "pieces of a joint that wear independently, about one per lane", Unit: "pieces",
			Default: 3, Min: 0.1, Max: 100, Source: "starting value", Illustrative: true, Value: &s.Pieces,
		},
		{
			Name: "pace_k", Meaning: "how alike joints of a kind wear: the variance of their pace is 1/k", Unit: "k",
			Default: 4, Min: 0.1, Max: 1e6, Source: "starting value", Illustrative: true, Value: &s.PaceK,
		},
		{
			Name: "site_share", Meaning: "probability that a new seal keeps the pace of the one before it, where no fit has estimated it", Unit: "probability",
			Default: 0.5, Min: 0, Max: 1, Source: "starting value", Illustrative: true, Value: &s.SiteShare,
		},
		{
			Name: "horizon_years", Meaning: "how far a replacement year is looked for", Unit: "years",
			Default: 30, Min: 1, Max: 60, Whole: true, Source: "common practice", Value: &s.HorizonYears,
		},
		{
			Name: "fiscal_year_start", Meaning: "month in which the fiscal year starts; the year of its end names it", Unit: "month",
			Default: 1, Min: 1, Max: 12, Whole: true, Source: "the calendar year", Value: &s.FiscalYearStart,
		},
		{
			Name: "real_discount_rate", Meaning: "rate at which constant dollars are discounted (0.02 is 2 %), where the table discount_rates is empty", Unit: "a year",
			Default: 0.02, Min: 0, Max: 0.2, Source: "starting value; federal work follows OMB Circular A-94", Illustrative: true, Value: &s.RealDiscountRate,
		},
		{
			Name: "price_growth", Meaning: "rise of construction prices (0.03 is 3 %), after the last year of the table cost_index", Unit: "a year",
			Default: 0.03, Min: -0.1, Max: 0.3, Source: "starting value", Illustrative: true, Value: &s.PriceGrowth,
		},
		{
			Name: "contingency_share", Meaning: "added to every estimate for what is not foreseen (0.1 is 10 %)", Unit: "share of cost",
			Default: 0, Min: 0, Max: 2, Source: "none is added", Value: &s.ContingencyShare,
		},
		{
			Name: "worklist_probability", Meaning: "candidates have failed by the end of the year at least this probably", Unit: "probability",
			Default: 0.10, Min: 0, Max: 1, Source: "the early end of the 10-90 % band", Value: &s.WorkListProbability,
		},
		{
			Name: "backlog_after_years", Meaning: "a failed seal that was not renewed is backlog after so many years", Unit: "years",
			Default: 0, Min: 0, Max: 10, Whole: true, Source: "all that has failed", Value: &s.BacklogAfterYears,
		},
		{
			Name: "cost_error", Meaning: "standard deviation of what work costs against the tables, common to all jobs (0.15 is 15 %); see cost --review", Unit: "share of cost",
			Default: 0.15, Min: 0, Max: 1, Source: "starting value", Illustrative: true, Value: &s.CostError,
		},
		{
			Name: "life_error", Meaning: "standard deviation of the log of the life table's years, common to all (0.2 is about 20 %); a fit has its own", Unit: "log",
			Default: 0.2, Min: 0, Max: 1, Source: "starting value", Illustrative: true, Value: &s.LifeError,
		},
		{
			Name: "closure_miles", Meaning: "bridges of a route this near to the next can be done in one closure", Unit: "miles",
			Default: 2, Min: 0, Max: 100, Source: "starting value", Illustrative: true, Value: &s.ClosureMiles,
		},
		{
			Name: "closure_saving_share", Meaning: "share of a bridge's visit that is saved in the closure of a dearer one", Unit: "share of cost",
			Default: 0.4, Min: 0, Max: 1, Source: "starting value", Illustrative: true, Value: &s.ClosureSavingShare,
		},
	}
}

// DefaultSettings are the starting values.
func DefaultSettings() (s Settings) {
	setting.Reset(s.Definitions())
	return s
}

// LoadSettings reads the settings; those never set have their defaults.
func LoadSettings(ctx context.Context, db bun.IDB) (s Settings, err error) {
	err = setting.Load(ctx, db, s.Definitions())
	return s, err
}

// Backlog defines the backlog in words, as a figure of it must say.
func (s Settings) Backlog() string {
	since := "at the end of the year"
	if s.BacklogAfterYears > 0 {
		since = fmt.Sprintf("%.0f years before the end of the year or earlier", s.BacklogAfterYears)
	}
	return fmt.Sprintf("backlog: seals expected to have failed %s and not renewed, in feet of joint and at the nominal cost of their usual renewal, the visit shared by a bridge's joints; failed is %.3g %% of the length in CS4, or an opening out of the seal's range (settings backlog_after_years and failed_share)",
		since, 100*s.FailedShare)
}

// Calendar is the fiscal calendar.
func (s Settings) Calendar() money.FiscalCalendar {
	return money.FiscalCalendar{StartMonth: time.Month(s.FiscalYearStart)}
}

// Failure is the rule of failure.
func (s Settings) Failure() markov.Failure {
	return markov.Failure{ShareLimit: s.FailedShare, Pieces: s.Pieces}
}
