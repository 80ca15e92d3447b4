package forecast

import (
	"context"
	"fmt"
	"strings"

	"github.com/uptrace/bun"

	"reseal/condition"
	"reseal/inventory/setting"
	"reseal/inventory/table"
)

// Fund is money of another's, which pays for some work only.
type Fund struct {
	bun.BaseModel `bun:"table:funds"`

	Name          string  `bun:"name"`
	Treatments    string  `bun:"treatments"`              // that it pays, separated by semicolons; empty: any
	Routes        string  `bun:"routes"`                  // on which, separated by semicolons; empty: any
	MatchShare    float64 `bun:"match_share,nullzero"`    // of a job, paid from the agency's own money
	OverheadShare float64 `bun:"overhead_share,nullzero"` // engineering and inspection, on top of a job
	LastYear      int     `bun:"last_year,nullzero"`      // fiscal, in which it can be drawn; 0: no end
	CarryOver     bool    `bun:"carry_over"`              // what is left of a year can be used later
}

// pays tells whether the fund may pay for a treatment on a route.
func (f *Fund) pays(treatment, route string) bool {
	return (strings.TrimSpace(f.Treatments) == "" || listed(f.Treatments, treatment)) &&
		(strings.TrimSpace(f.Routes) == "" || listed(f.Routes, route))
}

// Delivery is who does a treatment in a district.
type Delivery struct {
	bun.BaseModel `bun:"table:deliveries"`

	Name         string `bun:"name"`
	Treatment    string `bun:"treatment"` // empty: any
	District     string `bun:"district"`  // empty: any
	DoneBy       string `bun:"done_by"`   // InHouse or Contract
	LeadYears    int    `bun:"lead_years,nullzero"`
	MinimumCents int64  `bun:"minimum_cents"` // least that is let in a district and year of obligation, nominal
	LeastJobs    int    `bun:"least_jobs,nullzero"`
	MostJobs     int    `bun:"most_jobs,nullzero"` // of a contract; more make several; 0: no limit
}

// Who does the work.
const (
	InHouse  = "in-house"
	Contract = "contract"
)

// closureLimit is the most bridge visits on a route in a year.
type closureLimit struct {
	bun.BaseModel `bun:"table:closure_limits"`

	Route    string `bun:"route"`
	Year     int    `bun:"year,nullzero"` // fiscal; 0: every year without a row of its own
	Closures int64  `bun:"closures"`
}

// crew is the shifts that a district's own crews have in a year.
type crew struct {
	bun.BaseModel `bun:"table:crews"`

	District string  `bun:"district"`      // empty: shared by the network
	Year     int     `bun:"year,nullzero"` // fiscal; 0: every year without a row of its own
	Shifts   float64 `bun:"shifts"`
}

// yearMoney is a row of the table budgets.
type yearMoney struct {
	bun.BaseModel `bun:"table:budgets"`

	Year        int    `bun:"year"`
	District    string `bun:"district"` // empty: the network
	Fund        string `bun:"fund"`     // empty: the agency's own money
	AmountCents int64  `bun:"amount_cents"`
}

// planTerms are the tables that a plan is held to.
type planTerms struct {
	money      []yearMoney
	funds      []Fund
	closures   []closureLimit
	deliveries []Delivery
	crews      []crew
	seasons    condition.Seasons
}

func loadPlanTerms(ctx context.Context, db bun.IDB) (*planTerms, error) {
	t := &planTerms{}
	for _, rows := range []any{&t.money, &t.funds, &t.closures, &t.deliveries, &t.crews} {
		if err := db.NewSelect().Model(rows).Order("id").Scan(ctx); err != nil {
			return nil, fmt.Errorf("read what a plan is held to: %w", err)
		}
	}
	var err error
	t.seasons, err = condition.LoadSeasons(ctx, db)
	return t, err
}

// delivery is who does a treatment in a district: the row that names both, or
// else the treatment, or else the district, or else neither; without one the
// work is done in-house and paid in its year.
func (t *planTerms) delivery(treatment, district string) Delivery {
	d, ok := setting.Closest(t.deliveries, func(d *Delivery) int {
		return setting.Rank([2]string{d.District, district}, [2]string{d.Treatment, treatment})
	})
	if !ok {
		d.DoneBy = InHouse
	}
	return d
}

// planTables lists the agency's tables that a plan is held to.
func planTables() []setting.Table {
	name := func(example string) table.Column {
		return table.Column{Name: "name", Required: true, Help: "of the row: each has its own, and a row that comes again under it is changed", Example: example}
	}
	year := table.Column{Name: "year", Kind: table.Int, Min: 1990, Max: 2100, Help: "fiscal year; blank is every year without a row of its own"}
	district := table.Column{Name: "district", Help: "blank is the network"}
	share := func(name, help string, most float64) table.Column {
		return table.Column{Name: name, Kind: table.Float, Min: 0, Max: most, Help: help}
	}
	return []setting.Table{
		{
			Name: "budgets", Help: "the money of each fiscal year, nominal dollars",
			Columns: []table.Column{
				name("2028 network"),
				{Name: "year", Kind: table.Int, Required: true, Min: 1990, Max: 2100, Help: "fiscal year", Example: "2028"},
				district,
				{Name: "fund", Help: "a fund of the table funds; blank is the agency's own money"},
				{Name: "amount_usd", Kind: table.Money, Required: true, Min: 0, Max: 1e11, Help: "nominal dollars", Example: "1,500,000"},
				setting.Source, setting.Illustrative,
			},
			Stored:    []string{"name", "year", "district", "fund", "amount_cents", "source", "illustrative"},
			BlankText: []string{"district", "fund"},
		},
		{
			Name: "funds", Help: "money of another's: what it pays, and on what terms",
			Columns: []table.Column{
				name("federal bridge"),
				{Name: "treatments", Help: "that it pays, separated by semicolons; blank is any"},
				{Name: "routes", Help: "on which, separated by semicolons; blank is any", Example: "I 5; I 90"},
				share("match_share", "of a job, paid from the agency's own money (0.2 is 20 %)", 0.99),
				share("overhead_share", "engineering and inspection, on top of a job (0.15 is 15 %)", 2),
				{Name: "last_year", Kind: table.Int, Min: 1990, Max: 2100, Help: "the last fiscal year in which it can be drawn"},
				{Name: "carry_over", Kind: table.Bool, Help: "yes: what is left of a year can be used later; blank is no"},
				setting.Source, setting.Illustrative,
			},
			BlankText: []string{"treatments", "routes"},
		},
		{
			Name: "closure_limits", Help: "the most bridges worked on along a route in a year",
			Columns: []table.Column{
				name("I 5"),
				{Name: "route", Required: true, Example: "I 5"},
				year,
				{Name: "closures", Kind: table.Int, Required: true, Min: 0, Max: 100000, Help: "bridge visits"},
				setting.Source, setting.Illustrative,
			},
		},
		{
			Name: "deliveries", Help: "who does the work, and when it is paid",
			Columns: []table.Column{
				name("replacements by contract"),
				{Name: "treatment", Help: "blank is any"},
				{Name: "district", Help: "blank is any"},
				{Name: "done_by", Required: true, Enum: []string{InHouse, Contract}},
				{Name: "lead_years", Kind: table.Int, Min: 0, Max: 5, Help: "from the obligation of the money to the work"},
				{Name: "minimum_usd", Kind: table.Money, Min: 0, Max: 1e11, Help: "least that is let by contract in a district and fiscal year of obligation; a plan lets as much or nothing"},
				{Name: "least_jobs", Kind: table.Int, Min: 1, Max: 100000, Help: "that a contract of a district and year holds, likewise; blank is no limit"},
				{Name: "most_jobs", Kind: table.Int, Min: 1, Max: 100000, Help: "of one contract; more jobs make several, which a plan tells"},
				setting.Source, setting.Illustrative,
			},
			Stored:    []string{"name", "treatment", "district", "done_by", "lead_years", "minimum_cents", "least_jobs", "most_jobs", "source", "illustrative"},
			BlankText: []string{"treatment", "district"},
		},
		{
			Name: "crews", Help: "the shifts of own crews in a season",
			Columns: []table.Column{
				name("district 2"), district, year,
				{Name: "shifts", Kind: table.Float, Required: true, Min: 0, Max: 1e6, Help: "that the season holds"},
				setting.Source, setting.Illustrative,
			},
			BlankText: []string{"district"},
		},
	}
}
