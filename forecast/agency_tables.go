package forecast

import (
	"reseal/forecast/money"
	"reseal/inventory/setting"
	"reseal/inventory/table"
)

// AgencyTables lists the tables that a forecast works by, and the seal kinds.
func AgencyTables() []setting.Table {
	kind := table.Column{Name: "kind", Required: true, Help: "seal kind", Example: "strip seal"}
	years := func(state string) table.Column {
		return table.Column{
			Name: state + "_years", Kind: table.Float, Required: true, Min: 0.05, Max: 200,
			Help: "years within which half of the feet leave this state", Example: "6",
		}
	}
	dollars := func(name, help string) table.Column {
		return table.Column{Name: name, Kind: table.Money, Min: 0, Max: 1e9, Help: help}
	}
	return append([]setting.Table{
		{
			Name: "life_table", Help: "median years in each state by seal kind",
			Columns: []table.Column{kind, years("cs1"), years("cs2"), years("cs3"), setting.Source, setting.Illustrative},
		},
		{
			Name: "treatments", Help: "what can be done to a joint, and what it costs",
			Columns: []table.Column{
				{Name: "name", Required: true, Example: "reseal"},
				{Name: "for_kinds", Help: "seal kinds, separated by semicolons; blank is any", Example: "strip seal; modular joint"},
				dollars("cost_per_ft_usd", "per foot along the joint"), dollars("fixed_usd", "per joint"),
				dollars("visit_usd", "mobilisation, once a bridge visit"),
				dollars("traffic_usd", "traffic control, once a bridge visit; blank where visit_usd holds it"),
				dollars("night_usd", "traffic control of each night of a joint after the first"),
				{Name: "price_year", Kind: table.Int, Required: true, Min: 1990, Max: 2100, Help: "fiscal year of these prices"},
				{Name: "effect", Enum: effects, Help: "on the seal's condition; blank is renews"},
				{Name: "repairs_share", Kind: table.Float, Min: 0.01, Max: 1, Help: "of one that repairs: the most of the length that is made new"},
				{Name: "new_kind", Help: "seal kind that goes in; blank is the same kind"},
				{Name: "for_findings", Help: "only where one of these is open, separated by semicolons; blank is any joint"},
				{Name: "only_decided", Kind: table.Bool, Help: "yes: done only where a person decides so; blank is no"},
				{Name: "feet_per_shift", Kind: table.Float, Min: 0.1, Max: 10000, Help: "that a crew does in one closure; blank is by the crew sheet's feet an hour and the setting closure_hours"},
				setting.Source, setting.Illustrative,
			},
			Stored: []string{
				"name", "for_kinds", "cost_per_ft_cents", "fixed_cents", "visit_cents", "traffic_cents", "night_cents", "price_year",
				"effect", "repairs_share", "new_kind", "for_findings", "only_decided",
				"feet_per_shift", "source", "illustrative",
			},
			BlankText: []string{"for_kinds", "effect", "new_kind", "for_findings"},
		},
		{
			Name: "cost_factors", Help: "what work costs in a district, beside the treatments' unit costs",
			Columns: []table.Column{
				{Name: "district", Required: true},
				{Name: "factor", Kind: table.Float, Required: true, Min: 0.1, Max: 10, Help: "on all unit costs (1.08 is 8 % more); cost --review shows what work really cost"},
				setting.Source, setting.Illustrative,
			},
		},
		{
			Name: "cost_index", Help: "a published index of construction prices, which brings unit costs from their price year to now",
			Columns: []table.Column{
				{Name: "period", Required: true, Help: "a year, or a quarter of the calendar year", Example: "2026Q1"},
				{Name: "level", Kind: table.Float, Required: true, Min: 1e-6, Max: 1e9, Help: "on any base"},
				setting.Source, setting.Illustrative,
			},
			Check: func(cells []any) error {
				_, err := money.ParsePeriod(cells[0].(string))
				return err
			},
		},
		{
			Name: "discount_rates", Help: "published real discount rates by length of programme; the one for horizon_years is used",
			Columns: []table.Column{
				{Name: "years", Kind: table.Float, Required: true, Min: 0.1, Max: 200, Example: "30"},
				{Name: "rate", Kind: table.Float, Required: true, Min: -0.5, Max: 0.5, Help: "real, a year (0.02 is 2 %)"},
				setting.Source, setting.Illustrative,
			},
		},
		{
			Name: "consequences", Help: "what a failed seal costs a year",
			Columns: []table.Column{
				{Name: "cause", Required: true, Example: "water on what is below, heavy deicing"},
				{Name: "dollars_a_year", Kind: table.Float, Required: true, Min: 0, Max: 1e9},
				{Name: "per", Required: true, Enum: []string{"joint", "ft", "1000 vehicles a day"}},
				{Name: "deicing", Enum: []string{"none", "light", "moderate", "heavy"}, Help: "of the bridge; blank is any"},
				setting.Source, setting.Illustrative,
			},
		},
		{
			Name: "seal_kinds", Help: "the seal kind of each element number",
			Columns: []table.Column{{Name: "element", Kind: table.Int, Required: true, Min: 1, Max: 99999, Help: "300-306, or the agency's own"}, kind},
		},
	}, planTables()...)
}
