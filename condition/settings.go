package condition

import (
	"reseal/condition/opening"
	"reseal/condition/sheet"
	"reseal/inventory/setting"
	"reseal/inventory/table"
)

// Settings are the agency's choices behind the opening check and the crew
// sheet. The meaning of each is in Definitions.
type Settings struct {
	TapeIn              float64
	DeckTempErrorF      float64
	AirTempErrorF       float64
	ReadingNoise        float64 // 0: estimated from all readings
	MovementLoadFactor  float64
	SealConfidence      float64
	ShrinkageInPer100Ft float64

	SheetWasteShare      float64
	SheetBeads           float64
	SheetBeadIn          float64
	SheetTubeOz          float64
	SheetSealFtPerHour   float64
	SheetHeaderFtPerHour float64
	SheetSetUpHours      float64
	SheetCureHours       float64
	SheetHeaderCureHours float64
	ClosureHours         float64
}

// Definitions lists the settings, with their values in s.
func (s *Settings) Definitions() []setting.Definition {
	const practice = "common practice, no source; the product's own data sheet overrides it"
	const method = "a method of our own choosing"
	return []setting.Definition{
		{
			Name: "tape_in", Meaning: "standard deviation of a tape reading of a gap", Unit: "in",
			Default: 0.0625, Min: 0.001, Max: 2, Source: method, Value: &s.TapeIn,
		},
		{
			Name: "deck_temp_error_f", Meaning: "standard deviation of the bridge's mean temperature about a measured deck temperature", Unit: "°F",
			Default: 6, Min: 0.1, Max: 50, Source: method, Value: &s.DeckTempErrorF,
		},
		{
			Name: "air_temp_error_f", Meaning: "the same where only the air temperature was read", Unit: "°F",
			Default: 12, Min: 0.1, Max: 80, Source: method, Value: &s.AirTempErrorF,
		},
		{
			Name: "reading_noise", Meaning: "factor on the variance of every reading; 0: estimated from all of the agency's readings", Unit: "factor",
			Default: 0, Min: 0, Max: 100, Source: method, Value: &s.ReadingNoise,
		},
		{
			Name: "movement_load_factor", Meaning: "factor on thermal movement; AASHTO LRFD Table 3.4.1-1 has 1.2 for design", Unit: "factor",
			Default: 1, Min: 0.5, Max: 2, Source: "1 for checking an existing opening", Value: &s.MovementLoadFactor,
		},
		{
			Name: "seal_confidence", Meaning: "probability with which a seal that fits must hold its limits", Unit: "probability",
			Default: 0.9, Min: 0.5, Max: 0.999, Source: method, Value: &s.SealConfidence,
		},
		{
			Name: "shrinkage_in_per_100ft", Meaning: "shortening still to come of a concrete superstructure, per 100 ft of expansion length", Unit: "in",
			Default: 0, Min: 0, Max: 5, Source: "0 for a bridge of some years", Value: &s.ShrinkageInPer100Ft,
		},
		{
			Name: "sheet_waste_share", Meaning: "crew sheet: waste on lengths and volumes", Unit: "share",
			Default: 0.05, Min: 0.001, Max: 1, Source: practice, Value: &s.SheetWasteShare,
		},
		{
			Name: "sheet_beads", Meaning: "crew sheet: beads of adhesive over the length of a preformed gland", Unit: "beads",
			Default: 4, Min: 1, Max: 20, Whole: true, Source: practice, Value: &s.SheetBeads,
		},
		{
			Name: "sheet_bead_in", Meaning: "crew sheet: diameter of a bead of adhesive", Unit: "in",
			Default: 0.375, Min: 0.05, Max: 3, Source: practice, Value: &s.SheetBeadIn,
		},
		{
			Name: "sheet_tube_oz", Meaning: "crew sheet: adhesive in a tube", Unit: "US fluid oz",
			Default: 20, Min: 1, Max: 1000, Source: practice, Value: &s.SheetTubeOz,
		},
		{
			Name: "sheet_seal_ft_per_hour", Meaning: "crew sheet: length cleaned, primed and sealed in an hour", Unit: "ft an hour",
			Default: 12, Min: 0.1, Max: 1000, Source: practice, Value: &s.SheetSealFtPerHour,
		},
		{
			Name: "sheet_header_ft_per_hour", Meaning: "crew sheet: length of header cut out and replaced in an hour", Unit: "ft an hour",
			Default: 4, Min: 0.1, Max: 1000, Source: practice, Value: &s.SheetHeaderFtPerHour,
		},
		{
			Name: "sheet_set_up_hours", Meaning: "crew sheet: to close the lane and to open it again", Unit: "hours",
			Default: 1.5, Min: 0.01, Max: 24, Source: practice, Value: &s.SheetSetUpHours,
		},
		{
			Name: "sheet_cure_hours", Meaning: "crew sheet: cure of the seal before traffic", Unit: "hours",
			Default: 1, Min: 0.01, Max: 200, Source: practice, Value: &s.SheetCureHours,
		},
		{
			Name: "sheet_header_cure_hours", Meaning: "crew sheet: cure of a header repair before traffic", Unit: "hours",
			Default: 3, Min: 0.01, Max: 200, Source: practice, Value: &s.SheetHeaderCureHours,
		},
		{
			Name: "closure_hours", Meaning: "crew sheet and plan: length of the lane closure that traffic allows in a night; 0: not given", Unit: "hours",
			Default: 8, Min: 0, Max: 1000, Source: practice, Value: &s.ClosureHours,
		},
	}
}

// Opening are the settings as the opening line takes them.
func (s *Settings) Opening() opening.Settings {
	return opening.Settings{
		TapeIn: s.TapeIn, DeckTempErrF: s.DeckTempErrorF, AirTempErrF: s.AirTempErrorF, NoiseFactor: s.ReadingNoise,
		LoadFactor: s.MovementLoadFactor, Confidence: s.SealConfidence,
	}
}

// Practice are the settings as the crew sheet takes them.
func (s *Settings) Practice() sheet.Practice {
	return sheet.Practice{
		WasteShare: s.SheetWasteShare, Beads: s.SheetBeads, BeadIn: s.SheetBeadIn, TubeOz: s.SheetTubeOz,
		SealFtPerHour: s.SheetSealFtPerHour, HeaderFtPerHour: s.SheetHeaderFtPerHour,
		SetUpHours: s.SheetSetUpHours, CureHours: s.SheetCureHours, HeaderCureHours: s.SheetHeaderCureHours,
	}
}

// AgencyTables lists the tables that the opening check works by.
func AgencyTables() []setting.Table {
	inches := func(name, help string) table.Column {
		return table.Column{Name: name, Kind: table.Length, Min: 0, Max: 100, Help: help}
	}
	share := func(name, help string) table.Column {
		return table.Column{Name: name, Kind: table.Float, Min: 0, Max: 10, Help: help}
	}
	degrees := func(name, help string, required bool) table.Column {
		return table.Column{Name: name, Kind: table.Temperature, Min: MinDeckTempF, Max: MaxDeckTempF, Help: help, Required: required}
	}
	return []setting.Table{
		{
			Name: "seal_catalogue", Help: "seals to choose from, with what each can take",
			Columns: []table.Column{
				{Name: "name", Required: true, Example: "strip seal, 4 in"},
				{Name: "kind", Required: true, Help: "seal kind", Example: "strip seal"},
				{Name: "size", Required: true, Example: "4 in"},
				inches("min_open_in", "smallest opening it works at, square to the joint"), inches("max_open_in", "largest opening it works at"),
				share("open_share", "poured: how far it may open, as a share of its width when installed"),
				share("close_share", "poured: how far it may close"), share("movement_share", "poured: the whole movement it may follow"),
				inches("movement_in", "the whole movement it may follow"),
				{Name: "cells", Kind: table.Int, Min: 2, Max: 50, Help: "of a modular joint"},
				inches("width_in", "uncompressed"), inches("install_min_in", "smallest opening to install it at"), inches("install_max_in", "largest opening to install it at"),
				inches("racking_in", "movement along the joint that it allows"),
				{Name: "skew_max_deg", Kind: table.Float, Min: 0, Max: 90},
				degrees("install_deck_temp_min_f", "lowest deck temperature to install it at", false), setting.Source, setting.Illustrative,
			},
		},
		{
			Name: "deck_temperatures", Help: "the agency's own range of deck temperatures by district",
			Columns: []table.Column{
				{Name: "district", Required: true, Help: "* is all districts without a row", Example: "3"},
				degrees("deck_temp_min_f", "", true), degrees("deck_temp_max_f", "", true), setting.Source,
			},
		},
		{
			Name: "seasons", Help: "the months in which a kind of seal can be installed",
			Columns: []table.Column{
				{Name: "name", Required: true, Example: "poured, cold"},
				{Name: "seal_kind", Help: "blank is any", Example: "pourable seal"},
				{Name: "climate", Enum: []string{"moderate", "cold"}, Help: "class of AASHTO LRFD 3.12.2.1; blank is any"},
				{Name: "first_month", Kind: table.Int, Required: true, Min: 1, Max: 12, Example: "5"},
				{Name: "last_month", Kind: table.Int, Required: true, Min: 1, Max: 12, Help: "before the first it is of the next year", Example: "9"},
				setting.Source, setting.Illustrative,
			},
			BlankText: []string{"seal_kind", "climate"},
		},
	}
}

// orNone is a limit as the catalogue holds it: one that is not given is 0.
func orNone(v *float64) float64 {
	if v == nil {
		return 0
	}
	return *v
}
