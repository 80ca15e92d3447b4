package atlas

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"reseal/condition"
	"reseal/condition/opening"
	"reseal/forecast"
	"reseal/geo/mvt"
	"reseal/inventory"
	"reseal/inventory/store"
)

// Joint is a joint in service as the map knows it.
type Joint struct {
	ID     int64
	Tag    string
	Label  string
	Bridge *Bridge
	Place  string
	Kind   string // of seal
	Length float64
	Seen   inventory.Date // zero: never
	Worst  int            // state, 1 to 4; 0: never seen

	Failed    float64 // probability by the end of the next fiscal year
	Year      int     // replacement, fiscal; 0: beyond the horizon, or no forecast
	Early     int     // the year by which it has failed with 10 %
	Late      int     // with 90 %
	Reason    string  // why there is no forecast; empty where there is one
	Findings  opening.Finding
	NoCheck   string // why the gap cannot be checked; empty where it can
	Class     [scales]uint8
	at        orb.Point // the middle, or where the bridge is
	line      bool
	from, to  fraction
	somewhere bool // at is known
}

// Bridge is a bridge with its joints, in the order of record.
type Bridge struct {
	ID       int64
	State    string
	Number   string
	Facility string
	Feature  string
	Route    string
	Milepost *float64
	District string
	County   string
	Joints   []*Joint
	at       fraction
	point    orb.Point
	located  bool
}

// fraction is a position in the Web Mercator square.
type fraction struct{ x, y float64 }

// Atlas is the network at one moment.
type Atlas struct {
	Scales   [scales]Scale
	Year     int       // fiscal, now
	Bound    orb.Bound // of all that is located
	Unplaced int       // joints that are nowhere
	Forecast bool      // the scales other than condition are known
	Mark     string    // set by whoever keeps it: another for each moment

	joints  []Joint
	bridges []Bridge
	byID    map[int64]*Joint
	urgent  []*Joint  // all, the most urgent first
	drawn   []*Joint  // those with a line, from west to east
	located []*Bridge // from west to east
	longest float64   // of the lines, in the square
}

// Load reads the network and forecasts it as of a day.
func Load(ctx context.Context, s *store.Store, asOf inventory.Date) (*Atlas, error) {
	a, err := Places(ctx, s, asOf)
	if err != nil {
		return nil, err
	}
	if err := a.outlook(ctx, s, asOf); err != nil {
		return nil, err
	}
	a.order()
	a.Forecast = true
	return a, nil
}

// Places is Load without the forecasts, which take ten times as long: all
// joints are of the class not known on the scales other than condition.
func Places(ctx context.Context, s *store.Store, asOf inventory.Date) (*Atlas, error) {
	a := &Atlas{byID: map[int64]*Joint{}}
	settings, err := forecast.LoadSettings(ctx, s.Read())
	if err != nil {
		return nil, err
	}
	a.Year = settings.Calendar().YearOf(asOf.Year, asOf.Month)
	a.Scales = scalesOf(a.Year)
	if err := a.places(ctx, s); err != nil {
		return nil, err
	}
	a.lay()
	a.order()
	return a, nil
}

// places reads where everything is, and how it was last seen.
func (a *Atlas) places(ctx context.Context, s *store.Store) error {
	err := inventory.EachBridge(ctx, s.Read(), inventory.Filter{Status: "any", Sort: "record"}, func(b *inventory.Bridge) error {
		out := Bridge{
			ID: b.ID, State: b.State, Number: b.StructureNumber, Facility: b.FacilityCarried, Feature: b.FeatureIntersected,
			Route: b.Route, Milepost: b.Milepost, District: b.District, County: b.County,
		}
		if b.Geom.Geometry != nil {
			out.point, out.located = b.Geom.Bound().Center(), true
		}
		a.bridges = append(a.bridges, out)
		return nil
	})
	if err != nil {
		return err
	}
	n, err := inventory.CountJoints(ctx, s.Read(), inventory.Filter{})
	if err != nil {
		return err
	}
	a.joints = make([]Joint, 0, n)
	few := words{} // that many joints share
	var bridge []int64
	err = inventory.EachJoint(ctx, s.Read(), inventory.Filter{Sort: "record"}, func(r *inventory.JointRow) error {
		j := Joint{
			ID: r.ID, Tag: r.Tag, Label: r.Label, Place: few.one(r.Place), Kind: few.one(r.SealKind), Seen: r.InspectedOn, Worst: r.WorstState,
			Reason: "not forecast", Findings: opening.NotChecked,
		}
		if r.LengthFt != nil {
			j.Length = *r.LengthFt
		}
		j.Class[byCondition] = conditionClass(r)
		if g := r.Geom.Geometry; g != nil {
			j.at, j.somewhere = g.Bound().Center(), true
			if line, ok := g.(orb.LineString); ok && len(line) > 1 {
				j.line, j.from, j.to = true, fractionOf(line[0]), fractionOf(line[len(line)-1])
			}
		}
		a.joints = append(a.joints, j)
		bridge = append(bridge, r.BridgeID)
		return nil
	})
	if err != nil {
		return err
	}
	for i := range a.joints {
		j := &a.joints[i]
		a.byID[j.ID] = j
		if k, ok := slices.BinarySearchFunc(a.bridges, bridge[i], func(b Bridge, id int64) int { return cmp.Compare(b.ID, id) }); ok {
			j.Bridge = &a.bridges[k]
			j.Bridge.Joints = append(j.Bridge.Joints, j)
		}
	}
	return nil
}

// words keeps one copy of each word.
type words map[string]string

func (w words) one(s string) string {
	if known, ok := w[s]; ok {
		return known
	}
	s = strings.Clone(s)
	w[s] = s
	return s
}

// outlook forecasts the joints and checks their gaps.
func (a *Atlas) outlook(ctx context.Context, s *store.Store, asOf inventory.Date) error {
	tables, err := forecast.LoadTables(ctx, s.Read())
	if err != nil {
		return err
	}
	m, err := forecast.NewModel(tables)
	if err != nil {
		return err
	}
	return m.Each(ctx, s.Read(), forecast.Options{AsOf: asOf}, func(p forecast.Projected) error {
		j := a.byID[p.ID]
		if j == nil { // put on record a moment ago
			return nil
		}
		j.Reason = string(p.Reason)
		if p.Forecast != nil {
			j.Failed, j.Year, j.Early, j.Late = p.FailedBy(a.Year+1), p.ReplaceYear, p.EarlyYear, p.LateYear
		}
		j.Findings, j.NoCheck = fit(p.Gap, tables.Gaps, asOf)
		j.Class[byUrgency], j.Class[byYear] = urgencyClass(&p, j.Failed), yearClass(p.Forecast, a.Year)
		j.Class[byFit] = fitClass(j.Findings)
		return nil
	})
}

// fit is what the check of a joint's gap found, or why there is none.
func fit(g *condition.Gap, r *condition.GapRules, asOf inventory.Date) (opening.Finding, string) {
	if g == nil || r == nil {
		return opening.NotChecked, "no gap reading with a temperature on record"
	}
	line, err := g.Line(r)
	if err != nil {
		return opening.NotChecked, cmp.Or(g.Problem, err.Error())
	}
	check := line.Judge(g.Limits, asOf.DecimalYear(), r.Opening())
	return check.Findings, ""
}

func fractionOf(p orb.Point) fraction {
	x, y := mvt.Fraction(p)
	return fraction{x, y}
}

// lay puts everything in order from west to east.
func (a *Atlas) lay() {
	first := true
	grow := func(p orb.Point) {
		if first {
			a.Bound, first = p.Bound(), false
		}
		a.Bound = a.Bound.Extend(p)
	}
	for i := range a.bridges {
		b := &a.bridges[i]
		if len(b.Joints) == 0 {
			continue
		}
		for _, j := range b.Joints {
			if !b.located && j.somewhere { // a bridge without a place is where its joints are
				b.point, b.located = j.at, true
			}
		}
		if b.located {
			b.at = fractionOf(b.point)
			a.located = append(a.located, b)
			grow(b.point)
		}
	}
	for i := range a.joints {
		j := &a.joints[i]
		switch {
		case j.somewhere:
			grow(j.at)
		case j.Bridge != nil && j.Bridge.located:
			j.at, j.somewhere = j.Bridge.point, true
		default:
			a.Unplaced++
		}
		if j.line {
			a.drawn = append(a.drawn, j)
			a.longest = max(a.longest, abs(j.from.x-j.to.x), abs(j.from.y-j.to.y))
		}
	}
	slices.SortFunc(a.located, func(p, q *Bridge) int { return cmp.Or(cmp.Compare(p.at.x, q.at.x), cmp.Compare(p.ID, q.ID)) })
	slices.SortFunc(a.drawn, func(p, q *Joint) int { return cmp.Or(cmp.Compare(p.from.x, q.from.x), cmp.Compare(p.ID, q.ID)) })
}

func abs(v float64) float64 { return max(v, -v) }

// Joints is how many joints are in service.
func (a *Atlas) Joints() int { return len(a.joints) }

// Scale is the scale with a name; the first for none.
func (a *Atlas) Scale(name string) (at int, ok bool) {
	if name == "" {
		return 0, true
	}
	at = slices.IndexFunc(a.Scales[:], func(s Scale) bool { return s.Name == name })
	return max(at, 0), at >= 0
}
