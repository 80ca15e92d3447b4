package opening

// Settings are the agency's figures for the opening line. A zero field means
// its default, so the zero value works.
type Settings struct {
	TapeIn           float64 // standard deviation of a tape reading, in; 1/16
	DeckTempErrF     float64 // standard deviation of the bridge's mean temperature about a measured deck temperature, °F; 6
	AirTempErrF      float64 // the same where only air temperature was read, °F; 12
	NoiseFactor      float64 // multiplies every reading's variance, agency-wide, from EstimateNoiseFactor; 1
	OpeningSDIn      float64 // prior standard deviation of the opening at the readings' mean, in; 10
	SlopeSpread      float64 // prior standard deviation of a free slope, as a share of theory; 0.25
	StuckSpread      float64 // prior standard deviation of a stuck slope, as a share of theory; 0.1
	StuckShare       float64 // share of joints that are stuck; 0.03
	SteadyInPerYr    float64 // prior standard deviation of drift where steady, in/yr; 0.01
	DriftInPerYr     float64 // prior standard deviation of drift where drifting, in/yr; 0.1
	DriftShare       float64 // share of joints that drift; 0.1
	StraySlopeInPerF float64 // prior standard deviation of slope of a fixed or longitudinal joint that moves, in/°F; 0.005
	LoadFactor       float64 // on movement away from the readings' mean temperature; 1 (AASHTO LRFD Table 3.4.1-1 has 1.20 for design)
	Confidence       float64 // asked of a seal that fits; 0.9
}

// DefaultSettings returns the defaults named at each field: methods of our own
// choosing, not published values, except the load factor.
func DefaultSettings() Settings {
	return Settings{
		TapeIn: 1.0 / 16, DeckTempErrF: 6, AirTempErrF: 12, NoiseFactor: 1,
		OpeningSDIn: 10, SlopeSpread: 0.25, StuckSpread: 0.1, StuckShare: 0.03,
		SteadyInPerYr: 0.01, DriftInPerYr: 0.1, DriftShare: 0.1,
		StraySlopeInPerF: 0.005, LoadFactor: 1, Confidence: 0.9,
	}
}

func (s Settings) filled() Settings {
	d := DefaultSettings()
	set := func(v *float64, def float64) {
		if !(*v > 0) {
			*v = def
		}
	}
	set(&s.TapeIn, d.TapeIn)
	set(&s.DeckTempErrF, d.DeckTempErrF)
	set(&s.AirTempErrF, d.AirTempErrF)
	set(&s.NoiseFactor, d.NoiseFactor)
	set(&s.OpeningSDIn, d.OpeningSDIn)
	set(&s.SlopeSpread, d.SlopeSpread)
	set(&s.StuckSpread, d.StuckSpread)
	set(&s.StuckShare, d.StuckShare)
	set(&s.SteadyInPerYr, d.SteadyInPerYr)
	set(&s.DriftInPerYr, d.DriftInPerYr)
	set(&s.DriftShare, d.DriftShare)
	set(&s.StraySlopeInPerF, d.StraySlopeInPerF)
	set(&s.LoadFactor, d.LoadFactor)
	set(&s.Confidence, d.Confidence)
	return s
}
