package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/condition"
	"reseal/condition/opening"
	"reseal/inventory"
	"reseal/inventory/store"
)

// gapAnswer is all that `gap JOINT` says, as its JSON has it.
type gapAnswer struct {
	Tag             string        `json:"tag"`
	StructureNumber string        `json:"structure_number"`
	Place           string        `json:"place"`
	Seal            string        `json:"seal"`
	Verdict         string        `json:"verdict"`
	Findings        []string      `json:"findings"`
	NeedsAttention  bool          `json:"needs_attention"`
	Theory          gapTheory     `json:"theory"`
	Line            gapLine       `json:"line"`
	Limits          gapLimits     `json:"limits"`
	Margins         []gapMargin   `json:"margins"`
	Openings        []gapOpening  `json:"openings"`
	AtTemp          *gapOpening   `json:"at_temp,omitempty"`
	Readings        []gapReading  `json:"readings"`
	Positions       []gapPosition `json:"positions,omitempty"`
	Assumed         []string      `json:"assumed,omitempty"`
	Choice          []sealTrial   `json:"seals,omitempty"`

	check     opening.Check // of the year asked for
	line      opening.Line
	gap       *condition.Gap
	choice    *opening.Choice // all seals held against the line
	proposed  int             // of choice; -1: none
	otherKind bool
}

type gapTheory struct {
	Material          string  `json:"material"`
	ExpansionLengthFt float64 `json:"expansion_length_ft"`
	SkewDeg           float64 `json:"skew_deg"`
	AlphaPerF         float64 `json:"alpha_per_f"`
	DeckTempMinF      float64 `json:"deck_temp_min_f"`
	DeckTempMaxF      float64 `json:"deck_temp_max_f"`
	RangeFrom         string  `json:"range_from"`
	LoadFactor        float64 `json:"load_factor"`
	ShrinkageIn       float64 `json:"shrinkage_in"`
	SlopeInPerF       float64 `json:"slope_in_per_f"`
	MovementIn        float64 `json:"movement_in"` // square to the joint, over the range
	RackingIn         float64 `json:"racking_in"`
	Still             bool    `json:"still"`
}

type gapLine struct {
	Readings        int     `json:"readings"`
	LeftOut         int     `json:"readings_left_out"`
	SlopeInPerF     float64 `json:"slope_in_per_f"`
	DriftInPerYr    float64 `json:"drift_in_per_year"`
	StuckWeight     float64 `json:"stuck_probability"`
	StrayWeight     float64 `json:"stray_probability"`
	DriftWeight     float64 `json:"drift_probability"`
	NoiseFactor     float64 `json:"noise_factor"`
	NoiseEstimated  bool    `json:"noise_estimated"`
	NoiseFromJoints int     `json:"noise_from_joints"`
}

type gapLimits struct {
	MinIn     *float64 `json:"min_in"`
	MaxIn     *float64 `json:"max_in"`
	RackingIn *float64 `json:"racking_in"`
	From      string   `json:"from"`
}

// gapMargin is what is left at both ends of the temperature range.
type gapMargin struct {
	Year      string  `json:"year"`
	ColdIn    float64 `json:"cold_in"`
	ColdLowIn float64 `json:"cold_10_in"`
	ColdHiIn  float64 `json:"cold_90_in"`
	ColdOut   float64 `json:"cold_out_probability"`
	HotIn     float64 `json:"hot_in"`
	HotLowIn  float64 `json:"hot_10_in"`
	HotHiIn   float64 `json:"hot_90_in"`
	HotOut    float64 `json:"hot_out_probability"`
	Out       float64 `json:"out_probability"` // by then, at either end
}

type gapOpening struct {
	DeckTempF float64 `json:"deck_temp_f"`
	GapIn     float64 `json:"gap_in"`
	LowIn     float64 `json:"gap_10_in"`
	HighIn    float64 `json:"gap_90_in"`
}

type gapReading struct {
	Year       float64 `json:"year"`
	DeckTempF  float64 `json:"temp_f"`
	AirTemp    bool    `json:"air_temp"`
	GapIn      float64 `json:"gap_in"`
	ExpectedIn float64 `json:"expected_in"`
}

type gapPosition struct {
	Position string  `json:"position"`
	WiderIn  float64 `json:"wider_in"`
	Readings int     `json:"readings"`
}

func gapJoint(c *cli.Context, w world, ref string) error {
	return gapping(c, w, func(s *store.Store, r *condition.GapRules, o condition.GapOptions) error {
		j, err := inventory.FindJoint(c.Context, s.Read(), ref)
		if err != nil {
			return err
		}
		g, err := condition.OneGap(c.Context, s.Read(), r, j.ID, o.AsOf)
		if err != nil {
			return err
		}
		if g.Problem != "" {
			return store.Invalid(gapRemedy(g), "joint %s cannot be checked: %s", g.Tag, g.Problem)
		}
		a, err := answerGap(g, r, o)
		if err != nil {
			return err
		}
		if c.IsSet("at-temp") {
			at := a.line.At(c.Float64("at-temp"), o.Year)
			a.AtTemp = &gapOpening{c.Float64("at-temp"), at.MeanIn(), at.QuantileIn(0.1), at.QuantileIn(0.9)}
		}
		if c.Bool("seal") {
			chooseSeal(c, a, r, o)
		}
		switch c.String("format") {
		case "json":
			e := json.NewEncoder(w.out)
			e.SetIndent("", "  ")
			return e.Encode(a)
		case "csv":
			return gapMarginRows(c, w, a)
		case "table":
			return gapText(c, w, a)
		}
		return usagef("--format is table, csv or json for one joint, not %q", c.String("format"))
	})
}

func gapRemedy(g *condition.Gap) string {
	switch {
	case g.Theory.ExpansionLengthFt == 0 && !g.Theory.Still:
		return "reseal joint edit " + g.Tag + " --expansion-length-ft FEET"
	case len(g.Readings) == 0:
		return "log one: reseal gap add " + g.Tag + " INCHES --deck-temp-f DEGREES"
	}
	return ""
}

// ahead is how far after the year asked for the margins are shown.
var ahead = []int{0, 5, 10, 20}

func answerGap(g *condition.Gap, r *condition.GapRules, o condition.GapOptions) (*gapAnswer, error) {
	line, err := g.Line(r)
	if err != nil {
		return nil, err
	}
	settings := r.Opening()
	check := line.Judge(g.Limits, o.Year, settings)
	temps := g.Theory.TempRange()
	a := &gapAnswer{
		Tag: g.Tag, StructureNumber: g.Bridge.StructureNumber, Place: g.Place, Seal: g.Seal(),
		Verdict: check.Words(), Findings: condition.FindingWords(check.Findings), NeedsAttention: check.Findings.NeedsAttention(),
		Theory: gapTheory{
			Material: materialWord(g.Theory.Material), ExpansionLengthFt: g.Theory.ExpansionLengthFt, SkewDeg: g.Theory.SkewDeg,
			AlphaPerF: alphaOf(g.Theory), DeckTempMinF: temps.MinF, DeckTempMaxF: temps.MaxF, RangeFrom: rangeFrom(g),
			LoadFactor: r.MovementLoadFactor, ShrinkageIn: g.Theory.ShrinkageIn, SlopeInPerF: g.Theory.SlopeInPerF(),
			MovementIn: r.MovementLoadFactor * g.Theory.SquareIn(g.Theory.MovementIn(temps.MinF, temps.MaxF)),
			RackingIn:  check.RackingIn, Still: g.Theory.Still,
		},
		Line: gapLine{
			Readings: len(g.Readings), LeftOut: g.LeftOut, SlopeInPerF: slopeOf(&line), DriftInPerYr: check.DriftInPerYr,
			StuckWeight: check.StuckWeight, StrayWeight: check.StrayWeight, DriftWeight: check.DriftWeight,
			NoiseFactor: r.Noise.Factor, NoiseEstimated: r.Noise.Enough, NoiseFromJoints: r.Noise.Joints,
		},
		Limits: gapLimits{From: g.LimitsFrom}, Assumed: g.Assumed, check: check, line: line, gap: g,
	}
	if m := g.Limits; m.Known() {
		a.Limits.MinIn, a.Limits.MaxIn = &m.MinIn, &m.MaxIn
		if m.RackingIn > 0 {
			a.Limits.RackingIn = &m.RackingIn
		}
		a.Margins = margins(&line, g.Limits, o, settings)
	}
	for _, e := range line.ExpectedOpenings(o.Year) {
		a.Openings = append(a.Openings, gapOpening{e.DeckTempF, e.GapIn, e.LowIn, e.HighIn})
	}
	for _, reading := range g.Readings {
		at := line.At(reading.DeckTempF, reading.Year)
		a.Readings = append(a.Readings, gapReading{reading.Year, reading.DeckTempF, reading.AirTemp, reading.GapIn, at.MeanIn()})
	}
	for _, p := range g.Offsets {
		if wedge(g.Offsets) {
			a.Positions = append(a.Positions, gapPosition{p.Position, inches(p.OffsetIn), p.Readings})
		}
	}
	return a, nil
}

// wedge tells whether one place along the joint is wider than another. Places
// of which no two were read on one visit cannot be told apart.
func wedge(offsets []opening.Offset) bool {
	return slices.ContainsFunc(offsets, func(o opening.Offset) bool { return math.Abs(o.OffsetIn) >= 0.005 })
}

// margins judges the year asked for and later ones.
func margins(l *opening.Line, m opening.Limits, o condition.GapOptions, s opening.Settings) (out []gapMargin) {
	now := o.AsOf.DecimalYear()
	for _, years := range ahead {
		name, year := fmt.Sprint(o.AsOf.Year+years), endOfYear(o.AsOf.Year+years)
		if years == 0 {
			name, year = "now", o.Year
			if o.Year != now {
				name = fmt.Sprint(int(o.Year+0.5) - 1)
			}
		} else if year <= o.Year {
			continue
		}
		c := l.Judge(m, year, s)
		out = append(out, gapMargin{
			name, c.Cold.MeanIn, c.Cold.LowIn, c.Cold.HighIn, c.Cold.ProbNegative,
			c.Hot.MeanIn, c.Hot.LowIn, c.Hot.HighIn, c.Hot.ProbNegative, l.OutByYear(nil, m, now, []float64{year})[0],
		})
	}
	return out
}

// slopeOf is the line's mean slope, per °F.
func slopeOf(l *opening.Line) float64 {
	low, high := l.At(0, 0), l.At(1, 0)
	return high.MeanIn() - low.MeanIn()
}

func alphaOf(j opening.Joint) float64 {
	if j.AlphaPerF > 0 {
		return j.AlphaPerF
	}
	return j.Material.AlphaPerF()
}

func materialWord(m opening.Material) string {
	return map[opening.Material]string{opening.Steel: "steel", opening.Concrete: "concrete", opening.LightweightConcrete: "lightweight concrete"}[m]
}

func rangeFrom(g *condition.Gap) string {
	switch {
	case g.Theory.Range == (opening.TempRange{}):
		climate := "cold"
		if g.Theory.Climate == opening.Moderate {
			climate = "moderate"
		}
		return "AASHTO LRFD 3.12.2.1 Procedure A, " + climate + " climate"
	case g.Bridge.DeckTempMinF != nil:
		return "the bridge's own"
	}
	return "the agency's table deck_temperatures"
}

func gapText(c *cli.Context, w world, a *gapAnswer) error {
	t := &a.Theory
	p := func(format string, args ...any) { fmt.Fprintf(w.out, format+"\n", args...) }
	labelled := func(label, text string) { writeLabelled(w.out, label, text) }
	p("Joint %s, %s of bridge %s: %s", a.Tag, a.Place, a.StructureNumber, orUnknown(a.Seal, "no seal on record"))
	p("")
	labelled("verdict", a.Verdict)
	if t.Still {
		labelled("theory", "a fixed or longitudinal joint: no movement is due, and movement is the alarm")
	} else {
		labelled("theory", fmt.Sprintf("%s, alpha %.1e per °F, expansion length %.0f ft, skew %.0f°, deck %.0f to %.0f °F (%s), load factor %g, shrinkage to come %.2f in: closes %.4f in a °F square to the joint, %.2f in over the range, racks %.2f in",
			t.Material, t.AlphaPerF, t.ExpansionLengthFt, t.SkewDeg, t.DeckTempMinF, t.DeckTempMaxF, t.RangeFrom, t.LoadFactor, t.ShrinkageIn, -t.SlopeInPerF, t.MovementIn, t.RackingIn))
	}
	noise := "set by the agency: reading_noise"
	if a.Line.NoiseEstimated {
		noise = fmt.Sprintf("estimated from %d joints", a.Line.NoiseFromJoints)
	} else if a.Line.NoiseFactor == 1 {
		noise = "too few readings to estimate it"
	}
	stuck, weight := "does not move", a.Line.StuckWeight
	if t.Still {
		stuck, weight = "moves though it should not", a.Line.StrayWeight
	}
	labelled("line", fmt.Sprintf("%s: closes %.4f in a °F, drifts %+.3f in a year; %s %s likely, drifting %s likely; readings scatter %.2f times as widely as assumed of a tape (%s)",
		plural(a.Line.Readings, "reading"), -a.Line.SlopeInPerF, a.Line.DriftInPerYr, stuck, condition.Likely(weight), condition.Likely(a.Line.DriftWeight),
		math.Sqrt(a.Line.NoiseFactor), noise))
	if a.Line.LeftOut > 0 {
		labelled("", fmt.Sprintf("%s left out: no temperature, or between other faces than the last", plural(a.Line.LeftOut, "reading")))
	}
	if a.Limits.MaxIn != nil {
		labelled("seal", fmt.Sprintf("works at %.2f to %.2f in: %s", *a.Limits.MinIn, *a.Limits.MaxIn, a.Limits.From))
	} else {
		labelled("seal", a.Limits.From)
	}
	for i, s := range a.Assumed {
		labelled(map[bool]string{true: "assumed", false: ""}[i == 0], s)
	}
	if a.AtTemp != nil {
		labelled("expect", fmt.Sprintf("at a deck of %.0f °F %.2f in (80 %% band %.2f to %.2f in)", a.AtTemp.DeckTempF, a.AtTemp.GapIn, a.AtTemp.LowIn, a.AtTemp.HighIn))
	}
	p("")
	if len(a.Margins) > 0 {
		if err := gapMarginRows(c, w, a); err != nil {
			return err
		}
		p("")
	}
	if err := gapReadingRows(c, w, a); err != nil {
		return err
	}
	p("")
	io.WriteString(w.out, gapPlot(a.Openings, a.Readings, a.gap.Limits))
	if a.choice != nil {
		p("")
		sealText(w, a)
	}
	p("")
	p("This is no judgement of safety: that is for a licensed engineer. Measure gaps from a closed lane only.")
	return nil
}

func gapMarginRows(c *cli.Context, w world, a *gapAnswer) error {
	temp := func(f float64) string { return fmt.Sprintf("at %.0f °F", f) }
	out, err := newRows(c, w.out,
		column{name: "year", heading: "by end of"},
		column{name: "cold_in", heading: "to spare " + temp(a.Theory.DeckTempMinF)}, column{name: "cold_10_in", heading: "10 %"},
		column{name: "cold_90_in", heading: "90 %"}, column{name: "cold_out_probability", heading: "out %"},
		column{name: "hot_in", heading: "to spare " + temp(a.Theory.DeckTempMaxF)}, column{name: "hot_10_in", heading: "10 %"},
		column{name: "hot_90_in", heading: "90 %"}, column{name: "hot_out_probability", heading: "out %"},
		column{name: "out_probability", heading: "by then %"})
	if err != nil {
		return err
	}
	for _, m := range a.Margins {
		if err := out.add(m.Year, inches(m.ColdIn), inches(m.ColdLowIn), inches(m.ColdHiIn), percent(out, m.ColdOut),
			inches(m.HotIn), inches(m.HotLowIn), inches(m.HotHiIn), percent(out, m.HotOut), percent(out, m.Out)); err != nil {
			return err
		}
	}
	return out.close()
}

func gapReadingRows(c *cli.Context, w world, a *gapAnswer) error {
	out, err := newRows(c, w.out, column{heading: "read"}, column{heading: "deck °F"}, column{heading: "gap in"},
		column{heading: "line in"}, column{heading: "off in"}, column{heading: ""})
	if err != nil {
		return err
	}
	for _, r := range a.Readings {
		temp := fmt.Sprintf("%.0f", r.DeckTempF)
		if r.AirTemp {
			temp += " (air)"
		}
		if err := out.add(dayOf(r.Year).String(), temp, inches(r.GapIn), inches(r.ExpectedIn), inches(r.GapIn-r.ExpectedIn), ""); err != nil {
			return err
		}
	}
	if err := out.close(); err != nil {
		return err
	}
	for _, p := range a.Positions {
		fmt.Fprintf(w.out, "%s: %+.2f in against the joint's mean, %s\n", orUnknown(p.Position, "position not given"), p.WiderIn, plural(p.Readings, "reading"))
	}
	return nil
}

// dayOf is the day of a decimal year.
func dayOf(year float64) inventory.Date {
	return inventory.Date{Year: 2000, Month: 1, Day: 1}.AddDays(int((year-2000)*365.25 + 0.5))
}

// inches rounds an opening to what it is worth.
func inches(in float64) float64 {
	return math.Round(in*1000)/1000 + 0 // -0 + 0 is 0
}

func orUnknown(s, unknown string) string {
	if s == "" {
		return unknown
	}
	return s
}

// writeLabelled writes text in lines beside a label.
func writeLabelled(out io.Writer, label, text string) {
	const indent = 10
	for i, line := range wrap(text, tableWidth-indent) {
		if i > 0 {
			label = ""
		}
		fmt.Fprintln(out, strings.TrimRight(fmt.Sprintf("%-*s%s", indent, label, line), " "))
	}
}
