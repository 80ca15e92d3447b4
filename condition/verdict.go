package condition

import (
	"slices"

	"reseal/condition/opening"
	"reseal/inventory"
)

// Verdict answers gap readings beside the joint, before they are on record.
type Verdict struct {
	Words          string           `json:"words"` // the opening check with the readings taken in
	Findings       []string         `json:"findings,omitempty"`
	NeedsAttention bool             `json:"needs_attention"`
	Readings       []ReadingVerdict `json:"readings"`
	Assumed        []string         `json:"assumed,omitempty"`
}

// ReadingVerdict holds one reading against what the record lets expect there.
type ReadingVerdict struct {
	GapIn float64         `json:"gap_in"`
	Says  string          `json:"says"` // one of Expects; empty without a temperature
	Band  *ExpectedBandIn `json:"expected,omitempty"`
}

// ExpectedBandIn is what a tape should read at a temperature, in inches: the
// mean, and the band that holds 19 readings of 20.
type ExpectedBandIn struct {
	TempF  float64 `json:"temp_f"`
	GapIn  float64 `json:"gap_in"`
	LowIn  float64 `json:"low_in"`
	HighIn float64 `json:"high_in"`
}

// What a reading is against its band.
const (
	AsExpected = "as expected"
	TooWide    = "wider than expected"
	TooNarrow  = "narrower than expected"
	Nothing    = "nothing to compare with"
)

// bandTail is the chance of a reading beyond either end of its band.
const bandTail = 0.025

// Verdict judges readings of a day with what is on record. It changes nothing.
func (g *Gap) Verdict(r *GapRules, readings []Reading, on inventory.Date) (*Verdict, error) {
	v := &Verdict{Assumed: g.Assumed}
	before, err := g.Line(r)
	known := err == nil
	for _, m := range readings {
		if err := ImpossibleReading(&m); err != nil {
			return nil, err
		}
		v.Readings = append(v.Readings, judgeReading(g, &before, known, r, &m, on))
	}
	with, err := g.with(r, readings, on)
	if err != nil {
		return nil, err
	}
	if with.Problem != "" {
		v.Words = "The opening cannot be checked: " + with.Problem + "."
		return v, nil
	}
	line, err := with.Line(r)
	if err != nil {
		return nil, err
	}
	check := line.Judge(with.Limits, on.DecimalYear(), r.Opening())
	v.Words, v.Findings, v.NeedsAttention = check.Words(), FindingWords(check.Findings), check.Findings.NeedsAttention()
	return v, nil
}

func judgeReading(g *Gap, line *opening.Line, known bool, r *GapRules, m *Reading, on inventory.Date) ReadingVerdict {
	v := ReadingVerdict{GapIn: m.GapIn, Says: Nothing}
	temp, air := m.DeckTempF, false
	if temp == nil {
		temp, air = m.AirTempF, true
	}
	if temp == nil {
		v.Says = ""
		return v
	}
	if !known {
		return v
	}
	band := expectedBand(line, *temp, on.DecimalYear(), air, g.offsetIn(m.Position), r)
	v.Band = &band
	switch {
	case m.GapIn > band.HighIn:
		v.Says = TooWide
	case m.GapIn < band.LowIn:
		v.Says = TooNarrow
	default:
		v.Says = AsExpected
	}
	return v
}

func expectedBand(line *opening.Line, tempF, year float64, air bool, offsetIn float64, r *GapRules) ExpectedBandIn {
	at := line.Shift(offsetIn)
	o := at.ReadingAt(tempF, year, air, r.Opening())
	return ExpectedBandIn{tempF, o.MeanIn(), max(o.QuantileIn(bandTail), 0), o.QuantileIn(1 - bandTail)}
}

// offsetIn is how much wider than the joint's mean opening a position is; 0
// where it was never read.
func (g *Gap) offsetIn(position string) float64 {
	for _, o := range g.Offsets {
		if o.Position == position {
			return o.OffsetIn
		}
	}
	return 0
}

// with is the gap as it will be once the readings are on record.
func (g *Gap) with(r *GapRules, readings []Reading, on inventory.Date) (Gap, error) {
	out := *g
	all := slices.Clone(g.measured)
	for _, m := range readings {
		m.ReadOn = on
		all = append(all, m)
	}
	out.LeftOut = 0
	if err := out.pool(all, r.Settings.Opening()); err != nil {
		return out, err
	}
	if out.Problem == noReading && len(out.Readings) > 0 {
		out.Problem = ""
	}
	return out, nil
}
