package forecast

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"

	"github.com/uptrace/bun"

	"reseal/forecast/money"
	"reseal/inventory/store"
)

// Grouping is by what a budget is broken down.
type Grouping string

// The groupings. A visit for several seal kinds counts in each by length.
const (
	ByDistrict Grouping = "district"
	ByRoute    Grouping = "route"
	ByKind     Grouping = "kind"
)

// of is the joint's group; empty: not on record.
func (g Grouping) of(j *Projected) string {
	switch {
	case g == ByRoute:
		return j.Bridge.Route
	case g == ByKind && j.Forecast != nil:
		return j.Kind
	case g == ByKind:
		return ""
	}
	return j.Bridge.District
}

// BudgetRow is what one group of joints, or the network, is expected to need in
// one fiscal year, or in all years together.
type BudgetRow struct {
	Group    string // by the grouping; empty: not on record, or the network
	Network  bool
	Year     int     // 0: all years together
	Renewals float64 // expected seals renewed
	Feet     float64 // expected feet renewed

	Nominal money.Nominal // mean
	Low     money.Nominal // 10 %
	High    money.Nominal // 90 %; a row of all years has no band
	Present money.Present // mean, at the start of the budget's first year

	Whole WholeBridges // the part of Feet and Nominal
}

// Budget is what renewing every seal in the year in which it fails would cost:
// the need without a limit.
type Budget struct {
	FirstYear    int
	Years        int
	Groups       []BudgetRow // by group and year; each group ends with all its years
	Network      []BudgetRow // by year, then all years
	Joints       int         // looked at
	NoForecast   map[Reason]int
	NoLength     int
	Claims       float64 // expected renewals left to warranties, not in any row
	Steady       Steady
	Illustrative []string
}

// z90 is the 90 % point of the standard normal distribution.
const z90 = 1.2815515655446004

// NewBudget adds up the expected cost of the given number of fiscal years, the
// present one first.
//
// A seal is renewed in the fiscal year in which it fails, with the treatment
// for its kind; what has failed already is renewed in the first year, which so
// carries the backlog. With p_y the probability of the first failure in year y
// and f_k that of a new seal k years after its installation in the middle of a
// year, the probability of a renewal in year y is
//
//	m_y = p_y + Σ_{k≥1} m_{y−k} f_k
//
// (the renewal equation: Cox 1962, Renewal Theory, from memory), the new seal
// keeping its site's pace in part. The joints of a bridge renewed in one year
// share one visit V: with c_j the rest of a joint's cost and q = 1 − Π(1 − m_j)
// the probability of any visit, a bridge's year costs
//
//	mean      Σ m_j c_j + V q
//	variance  Σ m_j (1 − m_j) c_j² + V² q (1 − q) + 2 V Σ c_j m_j (1 − q)
//
// with joints independent of each other. The band is the mean ± 1.2816 standard
// deviations of the sum over bridges, cut at 0, with two more variances: that
// between worlds of other rates (the fit's draws, or the setting life_error), and
// that of an error common to all costs (cost_error). See Tables.BandWords.
//
// Nominal dollars rise by the setting price_growth. Present values discount
// constant dollars spent in the middle of each year at the real rate.
func (m *Model) NewBudget(ctx context.Context, db bun.IDB, o Options, years int, by Grouping) (*Budget, error) {
	if years < 1 || years > 60 {
		return nil, store.Invalid("give 1 to 60 years", "there is no budget of %d years", years)
	}
	b := &Budget{FirstYear: m.YearOf(o.AsOf), Years: years, NoForecast: map[Reason]int{}, Illustrative: m.tables.Illustrative()}
	o.ThroughYear = b.FirstYear + years - 1
	r := newRenewalRun(m, years)
	worlds, err := m.worlds(o.AsOf, o.ThroughYear)
	if err != nil {
		return nil, err
	}
	var others []*renewalRun
	each := []func([]Projected) error{func(joints []Projected) error { return r.addBridge(b, joints, by) }}
	for _, w := range worlds {
		other, counts := newRenewalRun(w.Model, years), &Budget{FirstYear: b.FirstYear, NoForecast: map[Reason]int{}}
		others = append(others, other)
		each = append(each, func(joints []Projected) error { return other.addBridge(counts, w.see(joints), by) })
	}
	if err := m.eachBridgeTo(ctx, db, o, each); err != nil {
		return nil, err
	}
	r.compare(others)
	b.Steady = r.steady()
	return b, m.total(b, r)
}

// total turns the tallies into rows.
func (m *Model) total(b *Budget, r *renewalRun) (err error) {
	for _, group := range slices.Sorted(maps.Keys(r.groups)) {
		rows, err := m.rows(b, r.groups[group])
		if err != nil {
			return err
		}
		for i := range rows {
			rows[i].Group = group
		}
		b.Groups = append(b.Groups, rows...)
	}
	b.Network, err = m.rows(b, r.network)
	for i := range b.Network {
		b.Network[i].Network = true
	}
	return err
}

func (m *Model) rows(b *Budget, t *tally) ([]BudgetRow, error) {
	rows := make([]BudgetRow, 0, b.Years+1)
	var all BudgetRow
	for i := range b.Years {
		year := b.FirstYear + i
		rise, err := m.tables.Prices.Factor(b.FirstYear, year)
		if err != nil {
			return nil, err
		}
		now, err := money.DiscountFactor(m.tables.Settings.RealDiscountRate, float64(i)+0.5)
		if err != nil {
			return nil, err
		}
		sd := math.Hypot(math.Sqrt(t.variance[i]+t.rates[i]), m.tables.Settings.CostError*t.mean[i])
		row := BudgetRow{
			Year: year, Renewals: t.renewals[i], Feet: t.feet[i],
			Nominal: money.Nominal(math.Round(t.mean[i] * rise)),
			Low:     money.Nominal(math.Round(max(0, t.mean[i]-z90*sd) * rise)),
			High:    money.Nominal(math.Round((t.mean[i] + z90*sd) * rise)),
			Present: money.Present(math.Round(t.mean[i] * now)),
			Whole:   WholeBridges{t.wholeFeet[i], money.Nominal(math.Round(t.whole[i] * rise))},
		}
		if !(t.mean[i]*rise < 1<<53) {
			return nil, fmt.Errorf("budget of %d: %w: the sum is no amount of money; check lengths and unit costs", year, money.ErrInvalid)
		}
		all.Renewals, all.Feet = all.Renewals+row.Renewals, all.Feet+row.Feet
		all.Nominal, all.Present = all.Nominal+row.Nominal, all.Present+row.Present
		all.Whole = all.Whole.and(row.Whole)
		rows = append(rows, row)
	}
	return append(rows, all), nil
}
