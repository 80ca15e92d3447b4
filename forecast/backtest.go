package forecast

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"github.com/uptrace/bun"

	"reseal/forecast/backtest"
	"reseal/inventory"
	"reseal/inventory/store"
)

// Forecasters are those that a backtest of joints compares, the model first.
// The group's pace is the model without the joint's own history: it starts from
// the joint's last inspection, and lets it wear as its group does.
func Forecasters() []string {
	return []string{"the model", "the group's pace", "replace at fixed age", "the last state stays"}
}

const (
	byModel = iota
	byGroup
	byAge
	byLast
)

// Backtest is a fit to the inspections up to a day and what its forecasts were
// worth later.
type Backtest struct {
	Until   inventory.Date  `json:"until"`
	Through inventory.Date  `json:"through"` // the last inspection
	Fit     *Fit            `json:"fit"`
	Failed  int             `json:"failed_already"` // joints left out: failed by then
	CutAges []CutAge        `json:"fixed_ages"`
	Result  backtest.Result `json:"result"`
}

// CutAge is the fixed age of a seal kind, as of the day of the forecast.
type CutAge struct {
	Kind  string  `json:"kind"`
	Years float64 `json:"years"` // 0: no age told better than "not failed" of all
}

// NewBacktest fits the inspections up to o.Until, forecasts from what was on
// record then, and judges the forecasts by the later inspections of the same
// seals: had it failed by then? A seal found failed once has failed by every
// later inspection of its joint, although it may be renewed by then: left out,
// later inspections would be those of survivors alone. Of a seal on which work was
// done before it was found failed nobody can tell at later inspections; those count
// in the calibration alone, as backtest.Case.Unseen. Failure is by the share in CS4;
// openings do not count.
func NewBacktest(ctx context.Context, db bun.IDB, t *Tables, o FitOptions) (*Backtest, error) {
	f, err := NewFit(ctx, db, t, o)
	if err != nil {
		return nil, err
	}
	own := *t
	own.Fit = f
	m, err := NewModel(&own)
	if err != nil {
		return nil, err
	}
	b := &Backtest{Until: o.Until, Fit: f}
	j := &judge{model: m, until: o.Until, cuts: map[string]*backtest.CutAge{}, b: b}
	if err := j.gather(ctx, db, o); err != nil {
		return nil, err
	}
	if !slices.ContainsFunc(j.cases, func(c backtest.Case) bool { return !c.Unseen }) {
		return nil, store.Hinted(fmt.Errorf("%w: no seal that was sound on %s was inspected later without work in between", ErrTooFew, o.Until),
			"choose an earlier year with --until")
	}
	j.byAge()
	b.Result, err = backtest.Judge(Forecasters(), "seal", j.cases)
	return b, err
}

// judge gathers the cases of a backtest.
type judge struct {
	model *Model
	until inventory.Date
	cases []backtest.Case
	ages  []float64 // by case; below 0: not known
	cuts  map[string]*backtest.CutAge
	b     *Backtest
}

// judged is what one page of joints gives.
type judged struct {
	cases  []backtest.Case
	ages   []float64
	known  []knownAge
	failed int
	last   inventory.Date
	count  int
}

// knownAge is a seal seen at a known age before the day of the forecast.
type knownAge struct {
	kind   string
	years  float64
	failed bool
}

func (j *judge) gather(ctx context.Context, db bun.IDB, o FitOptions) error {
	type page struct{ then, now []Record }
	produce := func(ctx context.Context, yield func(page) error) error {
		return eachPage(ctx, db, inventory.Filter{}, func(ids []int64) error {
			then, err := loadRecords(ctx, db, ids, j.until)
			if err != nil {
				return err
			}
			now, err := loadRecords(ctx, db, ids, inventory.Date{Year: 9999, Month: time.December, Day: 31})
			if err != nil {
				return err
			}
			return yield(page{then, now})
		})
	}
	work := func(p page) *judged {
		out := &judged{count: len(p.then)}
		m := &projector{Model: j.model}
		for i := range p.then {
			m.judge(out, &p.then[i], &p.now[i], j.until)
		}
		return out
	}
	return inventory.InOrder(ctx, produce, work, func(p *judged) error {
		if o.Counted != nil {
			o.Counted(p.count)
		}
		j.cases, j.ages = append(j.cases, p.cases...), append(j.ages, p.ages...)
		j.b.Failed += p.failed
		if j.b.Through.Before(p.last) {
			j.b.Through = p.last
		}
		for _, k := range p.known {
			if j.cuts[k.kind] == nil {
				j.cuts[k.kind] = &backtest.CutAge{}
			}
			j.cuts[k.kind].Add(k.years, k.failed)
		}
		return nil
	})
}

// judge adds the cases of one joint: then is its record on the day of the
// forecast, now the whole of it.
func (m *projector) judge(out *judged, then, now *Record, until inventory.Date) {
	m.knownAges(out, then)
	look := then.latestLook()
	if look == nil || !look.Observed || look.OfParent {
		return
	}
	g := m.group(then, then.sealOn(until))
	weights := m.paceOf(then, g)
	start, reason := m.start(then, until, weights)
	if reason != "" {
		return
	}
	if m.seenFailed(start.shares) {
		out.failed++
		return
	}
	seal := then.sealOn(until)
	var days []inventory.Date
	var failed, unseen []bool
	had, worked := false, false // failed by then, whatever was done since; work done before
	for _, e := range now.events() {
		if !until.Before(e.on) {
			continue
		}
		if e.what != looked {
			worked = worked || !had
			continue
		}
		if shares, ok := e.look.shares(); ok {
			had = had || !worked && m.seenFailed(shares)
			days, failed, unseen = append(days, e.on), append(failed, had), append(unseen, worked)
		}
	}
	if len(days) == 0 {
		return
	}
	m.times = m.times[:0]
	for _, d := range days {
		m.times = append(m.times, d.YearsSince(start.on))
	}
	g.outlook.Project(&m.projection, start.shares[:], m.pace.Prior, m.times)
	group := append([]float64(nil), m.projection.Failed...)
	g.outlook.Project(&m.projection, start.all(), weights, m.times)
	m.blend(then, &Forecast{AsOf: until}, []leg{{group: g}})
	for i, d := range days {
		age := -1.0
		if !seal.Installed.IsZero() {
			age = d.YearsSince(seal.Installed)
		}
		out.ages = append(out.ages, age)
		out.cases = append(out.cases, backtest.Case{
			Cluster: then.Bridge.ID, Kind: seal.Kind, YearsAhead: d.YearsSince(until), Failed: failed[i], Unseen: unseen[i],
			Forecasts: []float64{byModel: m.projection.Failed[i], byGroup: group[i], byAge: -1, byLast: 0},
		})
		if out.last.Before(d) {
			out.last = d
		}
	}
}

// seenFailed is the rule of failure for shares as seen.
func (m *projector) seenFailed(shares [4]float64) bool {
	return shares[3] >= m.tables.Settings.FailedShare-1e-9
}

// knownAges adds the seals of known age that were seen by then.
func (m *projector) knownAges(out *judged, r *Record) {
	var seal *Seal
	for _, e := range r.events() {
		switch e.what {
		case newSeal:
			seal = e.seal
		case looked:
			if shares, ok := e.look.shares(); ok && seal != nil && !seal.Installed.IsZero() {
				out.known = append(out.known, knownAge{seal.Kind, e.on.YearsSince(seal.Installed), m.seenFailed(shares)})
			}
		}
	}
}

// byAge gives the rival that replaces at a fixed age its forecasts: the age
// that told best by the day of the forecast, by kind.
func (j *judge) byAge() {
	cut := map[string]float64{}
	for kind, c := range j.cuts {
		cut[kind] = c.Age()
	}
	j.b.CutAges = cutAges(cut)
	for i := range j.cases {
		c := &j.cases[i]
		if age, ok := cut[c.Kind]; ok && j.ages[i] >= 0 {
			c.Forecasts[byAge] = 0
			if j.ages[i] >= age {
				c.Forecasts[byAge] = 1
			}
		}
	}
}

func cutAges(cut map[string]float64) (out []CutAge) {
	for _, kind := range slices.Sorted(maps.Keys(cut)) {
		years := cut[kind]
		if math.IsInf(years, 1) {
			years = 0
		}
		out = append(out, CutAge{kind, years})
	}
	return out
}

// Notes say what the backtest rests on.
func (b *Backtest) Notes() []string {
	notes := []string{
		fmt.Sprintf("Fitted to the inspections up to %s (%d intervals on %d joints), and judged by those after it up to %s.",
			b.Until, b.Fit.Report.Intervals, b.Fit.Joints, b.Through),
		"The group's pace is the same model without the joint's own history.",
		fmt.Sprintf("%d joints had failed already and are left out; a seal is followed to the first work on it, unless it was found failed before: then it had failed by all later inspections.", b.Failed),
	}
	if b.Result.Unseen > 0 {
		notes = append(notes, fmt.Sprintf("At %d later inspections of seals worked on before anybody found them failed nobody can tell: the scores leave them out, and the calibration is for any number of them failed.", b.Result.Unseen))
	}
	for _, c := range b.CutAges {
		if c.Years > 0 {
			notes = append(notes, fmt.Sprintf("Replace at fixed age: %s from %.1f years on, the age that told best up to then.", c.Kind, c.Years))
		} else {
			notes = append(notes, fmt.Sprintf("Replace at fixed age: for %s no age told better than none.", c.Kind))
		}
	}
	if !b.Fit.Report.Converged {
		notes = append(notes, "THE FIT DID NOT CONVERGE: its forecasts are judged as they are.")
	}
	return notes
}
