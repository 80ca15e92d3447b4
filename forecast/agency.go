package forecast

import (
	"slices"

	"reseal/condition"
	"reseal/inventory/setting"
)

// AllSettings are the settings of the whole program, of forecasts and of the
// packages below, with their defaults.
func AllSettings() []setting.Definition {
	all := slices.Concat(new(Settings).Definitions(), new(condition.Settings).Definitions())
	setting.Reset(all)
	return all
}

// AllTables are all tables that the agency fills.
func AllTables() []setting.Table { return slices.Concat(AgencyTables(), condition.AgencyTables()) }
