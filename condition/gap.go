package condition

import (
	"context"
	"fmt"
	"math"
	"strings"

	"github.com/uptrace/bun"

	"reseal/condition/opening"
	"reseal/geo"
	"reseal/inventory"
	"reseal/inventory/setting"
)

// Gap is the gap of one joint: all that the opening check rests on, and where
// the joint is.
type Gap struct {
	ID       int64
	Tag      string
	Label    string
	Place    string
	Movement string
	LengthFt float64 // along the joint; 0: not on record
	Geom     geo.Geometry
	Bridge   GapBridge
	Seals    []inventory.Seal // in place, one a stretch, in order

	Theory     opening.Joint
	Limits     opening.Limits // zero: not on record
	LimitsFrom string         // where they are from, or why there are none
	Readings   []opening.Reading
	Offsets    []opening.Offset // how much wider each position is than the mean
	LeftOut    int              // readings without a temperature, or between other faces than the last
	Assumed    []string         // what is not on record and was assumed, in words
	Problem    string           // why it cannot be checked; empty where it can

	measured []Reading // as they were loaded, before positions were pooled
}

// noReading is the problem that a reading solves.
const noReading = "no gap reading with a temperature on record"

// GapBridge is what the check needs of the joint's bridge.
type GapBridge struct {
	ID                 int64
	State              string
	StructureNumber    string
	FacilityCarried    string
	FeatureIntersected string
	Route              string
	Milepost           *float64
	District           string
	Material           string
	Climate            string
	DeckTempMinF       *float64
	DeckTempMaxF       *float64
	LengthFt           float64
	Spans              int
	Continuous         bool
	SkewVaries         bool
}

// GapRules are the agency's settings and tables that the check works by.
type GapRules struct {
	Settings
	Catalogue    Catalogue
	Seasons      Seasons
	Temperatures map[string]opening.TempRange // by district; "*" is all others
	Noise        opening.NoiseEstimate        // Factor is the one in use
}

// LoadGapRules reads the settings and tables, and estimates the noise of
// readings as of a day unless the agency has set it.
func LoadGapRules(ctx context.Context, db bun.IDB, asOf inventory.Date) (*GapRules, error) {
	r := &GapRules{Temperatures: map[string]opening.TempRange{}}
	if err := setting.Load(ctx, db, r.Definitions()); err != nil {
		return nil, err
	}
	var err error
	if r.Catalogue, err = LoadCatalogue(ctx, db); err != nil {
		return nil, err
	}
	if r.Seasons, err = LoadSeasons(ctx, db); err != nil {
		return nil, err
	}
	var rows []struct {
		District     string
		DeckTempMinF float64 `bun:"deck_temp_min_f"`
		DeckTempMaxF float64 `bun:"deck_temp_max_f"`
	}
	if err := db.NewRaw("SELECT district, deck_temp_min_f, deck_temp_max_f FROM deck_temperatures").Scan(ctx, &rows); err != nil {
		return nil, fmt.Errorf("read the deck temperatures: %w", err)
	}
	for _, t := range rows {
		r.Temperatures[t.District] = opening.TempRange{MinF: t.DeckTempMinF, MaxF: t.DeckTempMaxF}
	}
	r.Noise = opening.NoiseEstimate{Factor: r.ReadingNoise}
	if r.ReadingNoise == 0 {
		r.Noise, err = r.estimateNoise(ctx, db, asOf)
	}
	return r, err
}

// Opening are the settings of the opening line, the noise of readings
// included.
func (r *GapRules) Opening() opening.Settings {
	s := r.Settings.Opening()
	s.NoiseFactor = r.Noise.Factor
	return s
}

// Line is the opening line through the readings. A joint that cannot be
// checked is an error that says why.
func (g *Gap) Line(r *GapRules) (opening.Line, error) {
	if g.Problem != "" {
		return opening.Line{}, fmt.Errorf("%w: joint %s: %s", opening.ErrInvalid, g.Tag, g.Problem)
	}
	return opening.Fit(g.Theory, g.Readings, r.Opening())
}

// gapRow is the joint's record on the way to its theory.
type gapRow struct {
	scope       string
	sequence    int
	stationFt   *float64
	skewDeg     *float64 // the joint's, or else its bridge's
	ownSkew     bool
	expansionFt *float64
	assumedFt   bool
}

// build works out theory from the record: what is missing is assumed and told,
// or is the reason why the joint cannot be checked.
func (g *Gap) build(row *gapRow, r *GapRules) {
	assume := func(format string, args ...any) { g.Assumed = append(g.Assumed, fmt.Sprintf(format, args...)) }
	b := &g.Bridge
	t := &g.Theory
	t.Still = g.Movement == "fixed" || g.Place == "longitudinal"
	if g.Movement == "unknown" && !t.Still {
		assume("whether it takes movement is not on record: taken as an expansion joint")
	}
	var known bool
	if t.Material, known = materialOf(b.Material); !known {
		assume("the superstructure's material is not on record: steel assumed, which moves most")
	}
	if b.Climate == "moderate" {
		t.Climate = opening.Moderate
	}
	if !g.ownRange(r) && b.Climate == "" {
		assume("climate not on record: cold assumed")
	}
	if row.skewDeg != nil {
		t.SkewDeg = min(*row.skewDeg, 80)
	}
	if b.SkewVaries && !row.ownSkew {
		assume("the bridge's skew varies: measure this joint's")
	}
	if row.expansionFt != nil && *row.expansionFt > 0 {
		t.ExpansionLengthFt = *row.expansionFt
		if row.assumedFt {
			assume("the expansion length of %.0f ft is marked as assumed", t.ExpansionLengthFt)
		}
	} else if !t.Still {
		if p, ok := proposeExpansion(g, row); ok {
			t.ExpansionLengthFt = p.LengthFt
			assume("expansion length of %.0f ft proposed from the bridge's length and spans, held at the middle of each unit", p.LengthFt)
		} else {
			g.Problem = "no expansion length on record, nor a bridge length to propose one from"
		}
	}
	if t.Material != opening.Steel {
		t.ShrinkageIn = r.ShrinkageInPer100Ft * t.ExpansionLengthFt / 100
	}
	if row.scope == inventory.ScopeQuantity {
		g.Problem = wholeBridge
	}
	if g.Problem == "" && len(g.Readings) == 0 {
		g.Problem = noReading
	}
}

// wholeBridge is the problem of feet that are not split into joints yet.
const wholeBridge = "a quantity for the whole bridge, not one joint"

// ownRange sets a temperature range of the bridge's, the district's or the
// agency's own.
func (g *Gap) ownRange(r *GapRules) bool {
	b := &g.Bridge
	if b.DeckTempMinF != nil && b.DeckTempMaxF != nil && *b.DeckTempMaxF > *b.DeckTempMinF {
		g.Theory.Range = opening.TempRange{MinF: *b.DeckTempMinF, MaxF: *b.DeckTempMaxF}
		return true
	}
	own, ok := r.Temperatures[b.District]
	if !ok {
		own, ok = r.Temperatures["*"]
	}
	if ok {
		g.Theory.Range = own
	}
	return ok
}

// materialOf reads the words of a bridge's material.
func materialOf(words string) (m opening.Material, known bool) {
	words = strings.ToLower(words)
	has := func(part string) bool { return strings.Contains(words, part) }
	switch {
	case has("lightweight") && has("concrete"):
		return opening.LightweightConcrete, true
	case has("steel"), has("iron"), has("alumin"):
		return opening.Steel, true
	case has("concrete"):
		return opening.Concrete, true
	}
	return opening.Steel, false
}

// proposeExpansion works an expansion length out from the bridge's length and
// spans: equal spans, a joint at each support or, where continuous, at the
// abutments, and each unit held at its middle, since bearings are not on
// record.
func proposeExpansion(g *Gap, row *gapRow) (p opening.Proposal, ok bool) {
	b := &g.Bridge
	if !(b.LengthFt > 0) {
		return p, false
	}
	n := max(b.Spans, 1)
	spans, supports := make([]float64, n), make([]opening.Support, n+1)
	for i := range spans {
		spans[i] = b.LengthFt / float64(n)
	}
	for i := range supports {
		supports[i].Joint = !b.Continuous || i == 0 || i == n
	}
	at := 0
	switch {
	case row.stationFt != nil:
		at = int(math.Round(*row.stationFt / b.LengthFt * float64(n)))
	case g.Place == "abutment" && row.sequence > 1:
		at = n
	case g.Place != "abutment":
		at = row.sequence - 1
	}
	at = min(max(at, 0), n)
	supports[at].Joint = true
	p, err := opening.ProposeExpansionLength(spans, supports, at)
	return p, err == nil
}

// findLimits joins the limits of the seals in place: the opening must suit all
// of them.
func (g *Gap) findLimits(r *GapRules, installedIn []float64) {
	for i := range g.Seals {
		m, from := r.Catalogue.limits(&g.Seals[i], installedIn[i])
		if !m.Known() {
			if !g.Limits.Known() {
				g.LimitsFrom = from
			}
			continue
		}
		if !g.Limits.Known() {
			g.Limits, g.LimitsFrom = m, from
			continue
		}
		if joined := (opening.Limits{
			MinIn: max(m.MinIn, g.Limits.MinIn), MaxIn: min(m.MaxIn, g.Limits.MaxIn), RackingIn: leastGiven(m.RackingIn, g.Limits.RackingIn),
		}); joined != g.Limits {
			g.Limits, g.LimitsFrom = joined, "the narrower of the limits of its stretches"
		}
	}
	if len(g.Seals) == 0 {
		g.LimitsFrom = "no seal on record"
	}
}

func leastGiven(a, b float64) float64 {
	if a == 0 || b != 0 && b < a {
		return b
	}
	return a
}

// Seal is the seal in words.
func (g *Gap) Seal() string {
	var words []string
	for i := range g.Seals {
		w := g.Seals[i].Kind
		if g.Seals[i].Size != "" {
			w += ", " + g.Seals[i].Size
		}
		if len(words) == 0 || words[len(words)-1] != w {
			words = append(words, w)
		}
	}
	return strings.Join(words, "; ")
}

// FindingWords names the findings of a check shortly, the gravest first.
func FindingWords(f opening.Finding) (words []string) {
	for _, w := range []struct {
		finding opening.Finding
		word    string
	}{
		{opening.NotChecked, "not checked"},
		{opening.TooWideCold, "too wide when cold"},
		{opening.CrushedHot, "crushed when hot"},
		{opening.RackingOver, "racks too far"},
		{opening.DoesNotMove, "does not move"},
		{opening.MovesThoughStill, "moves though it should not"},
		{opening.Drifting, "drifting"},
		{opening.CannotTell, "cannot tell whether it moves"},
		{opening.OneReading, "one reading only"},
		{opening.NoLimits, "seal's limits not on record"},
	} {
		if f.Has(w.finding) {
			words = append(words, w.word)
		}
	}
	return words
}
