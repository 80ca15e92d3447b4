package condition

import (
	"context"
	"database/sql"
	"fmt"
	"slices"

	"github.com/uptrace/bun"

	"reseal/condition/opening"
	"reseal/inventory"
)

// gapPage is how many joints are in memory at once for each processor, times a
// few.
const gapPage = 500

// GapOptions choose the joints to check.
type GapOptions struct {
	Filter  inventory.Filter
	AsOf    inventory.Date // later readings and seals do not count
	Year    float64        // decimal year to judge; 0: that of AsOf
	Counted func(joints int)
}

// EachGap checks the joints that the options choose and calls fn for each, in
// the order of their keys, or of the filter's where it chooses any. A joint
// that cannot be checked has a Problem and NotChecked among its findings. Its
// memory does not grow with the network without a filter; with one it holds
// the chosen keys. fn runs on the caller's goroutine.
func EachGap(ctx context.Context, db bun.IDB, r *GapRules, o GapOptions, fn func(*Gap, *opening.Check) error) error {
	year := o.Year
	if year == 0 {
		year = o.AsOf.DecimalYear()
	}
	produce := func(ctx context.Context, yield func([]int64) error) error {
		return eachGapPage(ctx, db, o.Filter, yield)
	}
	check := func(ids []int64) checkedPage { return checkPage(ctx, db, r, ids, o.AsOf, year) }
	return inventory.InOrder(ctx, produce, check, func(p checkedPage) error {
		if p.err != nil {
			return p.err
		}
		if o.Counted != nil {
			o.Counted(len(p.gaps))
		}
		for i := range p.gaps {
			if err := fn(&p.gaps[i], &p.checks[i]); err != nil {
				return err
			}
		}
		return nil
	})
}

type checkedPage struct {
	gaps   []Gap
	checks []opening.Check
	err    error
}

func checkPage(ctx context.Context, db bun.IDB, r *GapRules, ids []int64, asOf inventory.Date, year float64) (p checkedPage) {
	if p.gaps, p.err = Gaps(ctx, db, r, ids, asOf); p.err != nil {
		return p
	}
	cases := make([]opening.Case, len(p.gaps))
	p.checks = make([]opening.Check, len(p.gaps))
	for i := range p.gaps {
		if g := &p.gaps[i]; g.Problem == "" {
			cases[i] = opening.Case{Joint: g.Theory, Limits: g.Limits, Readings: g.Readings}
		}
	}
	_, p.err = opening.CheckAll(ctx, cases, year, r.Opening(), 1, p.checks)
	return p
}

// eachGapPage calls fn with the keys of the joints that f chooses, a page at a
// time.
func eachGapPage(ctx context.Context, db bun.IDB, f inventory.Filter, fn func([]int64) error) error {
	f.Sort = ""
	if f.Near == nil {
		f.WithinFt = 0
	}
	if f == (inventory.Filter{}) {
		for last := int64(0); ; {
			var ids []int64
			err := db.NewRaw("SELECT id FROM joints WHERE status = ? AND id > ? ORDER BY id LIMIT ?", inventory.InService, last, gapPage).Scan(ctx, &ids)
			if err != nil || len(ids) == 0 {
				return err
			}
			last = ids[len(ids)-1]
			if err := fn(ids); err != nil {
				return err
			}
		}
	}
	var ids []int64
	err := inventory.EachJoint(ctx, db, f, func(j *inventory.JointRow) error {
		ids = append(ids, j.ID)
		return nil
	})
	if err != nil {
		return err
	}
	for page := range slices.Chunk(ids, gapPage) {
		if err := fn(page); err != nil {
			return err
		}
	}
	return nil
}

// OneGap loads the gap of one joint.
func OneGap(ctx context.Context, db bun.IDB, r *GapRules, jointID int64, asOf inventory.Date) (*Gap, error) {
	gaps, err := Gaps(ctx, db, r, []int64{jointID}, asOf)
	if err != nil || len(gaps) == 0 {
		return nil, err
	}
	return &gaps[0], nil
}

// Gaps loads the gaps of the joints with the given keys, in their order, as
// they were on record for days up to asOf: one query a table.
func Gaps(ctx context.Context, db bun.IDB, r *GapRules, ids []int64, asOf inventory.Date) ([]Gap, error) {
	if len(ids) == 0 {
		return nil, nil
	}
	l := &gapLoader{ctx: ctx, db: db, asOf: asOf, at: make(map[int64]int, len(ids))}
	for i, id := range ids {
		l.at[id] = i
	}
	n := len(ids)
	l.gaps, l.rows, l.readings, l.lives = make([]Gap, n), make([]gapRow, n), make([][]Reading, n), make([][]inventory.Seal, n)
	for _, load := range []func([]int64) error{l.joints, l.seals, l.measured} {
		if err := load(ids); err != nil {
			return nil, fmt.Errorf("read gaps: %w", err)
		}
	}
	settings := r.Settings.Opening()
	out := l.gaps[:0]
	for i := range l.gaps {
		g := &l.gaps[i]
		if g.ID == 0 { // no such joint
			continue
		}
		installed := l.installations(i)
		if err := g.pool(l.readings[i], settings); err != nil {
			g.Problem = err.Error()
		}
		g.build(&l.rows[i], r)
		g.findLimits(r, installed)
		out = append(out, *g)
	}
	return out, nil
}

// gapLoader fills the gaps of one page.
type gapLoader struct {
	ctx      context.Context
	db       bun.IDB
	asOf     inventory.Date
	at       map[int64]int
	gaps     []Gap
	rows     []gapRow
	readings [][]Reading
	lives    [][]inventory.Seal // all that the joint has had
}

func (l *gapLoader) each(scan func(*sql.Rows) error, query string, args ...any) error {
	rows, err := l.db.QueryContext(l.ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := scan(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

func (l *gapLoader) joints(ids []int64) error {
	return l.each(func(rows *sql.Rows) error {
		var g Gap
		var r gapRow
		var text [8]sql.NullString
		var length, bridgeLength sql.NullFloat64
		var sequence, main, approach sql.NullInt64
		var continuous, assumed, varies sql.NullBool
		b := &g.Bridge
		err := rows.Scan(&g.ID, &g.Tag, &text[0], &g.Place, &g.Movement, &r.scope, &sequence, &r.stationFt, &length, &r.skewDeg, &r.ownSkew,
			&r.expansionFt, &assumed, &g.Geom, &b.ID, &b.State, &b.StructureNumber, &text[1], &text[2], &text[3], &b.Milepost, &text[4],
			&text[5], &text[6], &b.DeckTempMinF, &b.DeckTempMaxF, &bridgeLength, &main, &approach, &continuous, &varies)
		if err != nil {
			return err
		}
		g.Label, g.LengthFt, r.sequence, r.assumedFt = text[0].String, length.Float64, int(sequence.Int64), assumed.Bool
		b.FacilityCarried, b.FeatureIntersected, b.Route, b.District = text[1].String, text[2].String, text[3].String, text[4].String
		b.Material, b.Climate, b.LengthFt = text[5].String, text[6].String, bridgeLength.Float64
		b.Spans, b.Continuous, b.SkewVaries = int(main.Int64+approach.Int64), continuous.Bool, varies.Bool
		i := l.at[g.ID]
		l.gaps[i], l.rows[i] = g, r
		return nil
	}, `SELECT j.id, coalesce(j.tag, ''), j.label, j.place, j.movement, j.scope, j.sequence, j.station_ft, j.length_ft,
		coalesce(j.skew_deg, b.skew_deg), j.skew_deg IS NOT NULL, j.expansion_length_ft, j.expansion_assumed, j.geom,
		b.id, b.state, b.structure_number, b.facility_carried, b.feature_intersected, b.route, b.milepost, b.district,
		b.material, b.climate, b.deck_temp_min_f, b.deck_temp_max_f, b.length_ft, b.main_spans, b.approach_spans, b.continuous, b.skew_varies
		FROM joints j JOIN bridges b ON b.id = j.bridge_id WHERE j.id IN (?)`, bun.List(ids))
}

func (l *gapLoader) seals(ids []int64) error {
	return l.each(func(rows *sql.Rows) error {
		var joint int64
		var s inventory.Seal
		var size, product sql.NullString
		if err := rows.Scan(&joint, &s.ID, &s.StretchID, &s.Kind, &size, &product, &s.MinOpenIn, &s.MaxOpenIn,
			&s.InstalledOn, &s.InstalledGapIn, &s.InstalledDeckTempF, &s.RemovedOn); err != nil {
			return err
		}
		s.Size, s.Product = size.String, product.String
		i := l.at[joint]
		l.lives[i] = append(l.lives[i], s)
		if s.RemovedOn.IsZero() || l.asOf.Before(s.RemovedOn) {
			l.gaps[i].Seals = append(l.gaps[i].Seals, s)
		}
		return nil
	}, `SELECT t.joint_id, s.id, s.stretch_id, s.kind, s.size, s.product, s.min_open_in, s.max_open_in,
		s.installed_on, s.installed_gap_in, s.installed_deck_temp_f, s.removed_on
		FROM stretches t JOIN seals s ON s.stretch_id = t.id
		WHERE t.joint_id IN (?) AND t.ended_on IS NULL AND (s.installed_on IS NULL OR s.installed_on <= ?)
		ORDER BY t.joint_id, t.from_ft, s.installed_on, s.id`, bun.List(ids), l.asOf)
}

// measured reads the readings. A date joined with ” comes as text: parsed once
// rather than twice, which halves the time of the commonest column.
func (l *gapLoader) measured(ids []int64) error {
	return l.each(func(rows *sql.Rows) error {
		var r Reading
		var position, faces sql.NullString
		var cells sql.NullInt64
		if err := rows.Scan(&r.JointID, &r.ReadOn, &position, &r.GapIn, &r.DeckTempF, &r.AirTempF, &faces, &r.AtInstall, &cells); err != nil {
			return err
		}
		r.Position, r.Faces, r.Cells = position.String, faces.String, int(cells.Int64)
		i := l.at[r.JointID]
		l.readings[i] = append(l.readings[i], r)
		return nil
	}, `SELECT joint_id, read_on || '', position, gap_in, deck_temp_f, air_temp_f, faces, at_install, cells FROM readings r
		WHERE joint_id IN (?) AND read_on <= ? AND NOT EXISTS (SELECT 1 FROM readings x WHERE x.replaces_id = r.id)
		ORDER BY joint_id, read_on, id`, bun.List(ids), l.asOf)
}

// installations adds the opening noted with each seal as a reading, unless
// readings of that installation are on record themselves, and returns the
// opening at which each seal in place went in, 0 where it is not known.
func (l *gapLoader) installations(i int) []float64 {
	var noted []Reading
	for _, s := range l.lives[i] {
		if s.InstalledGapIn == nil || s.InstalledDeckTempF == nil || s.InstalledOn.IsZero() || l.readOn(i, s.InstalledOn) > 0 ||
			slices.ContainsFunc(noted, func(r Reading) bool { return r.ReadOn == s.InstalledOn }) {
			continue
		}
		noted = append(noted, Reading{ReadOn: s.InstalledOn, GapIn: *s.InstalledGapIn, DeckTempF: s.InstalledDeckTempF, AtInstall: true})
	}
	l.readings[i] = append(l.readings[i], noted...)
	slices.SortStableFunc(l.readings[i], func(a, b Reading) int { return a.ReadOn.Time().Compare(b.ReadOn.Time()) })
	out := make([]float64, len(l.gaps[i].Seals))
	for k, s := range l.gaps[i].Seals {
		if s.InstalledGapIn != nil {
			out[k] = *s.InstalledGapIn
		} else if !s.InstalledOn.IsZero() {
			out[k] = l.readOn(i, s.InstalledOn)
		}
	}
	return out
}

// readOn is the mean opening read at an installation on a day, 0 where none
// was.
func (l *gapLoader) readOn(i int, day inventory.Date) float64 {
	sum, n := 0.0, 0.0
	for _, r := range l.readings[i] {
		if r.AtInstall && r.ReadOn == day {
			sum += r.GapIn
			n++
		}
	}
	return sum / max(n, 1)
}

// pool makes the readings ready for the line: those with a temperature, between
// the faces of the latest, each visit's positions pooled.
func (g *Gap) pool(readings []Reading, s opening.Settings) error {
	g.measured = readings
	faces := ""
	for _, r := range readings {
		if r.Faces != "" {
			faces = r.Faces
		}
	}
	ms := make([]opening.Measurement, 0, len(readings))
	plain := true // one position, one reading a visit, the whole joint
	shape := opening.Modular{}
	for _, r := range readings {
		temp, air := r.DeckTempF, false
		if temp == nil {
			temp, air = r.AirTempF, true
		}
		if temp == nil || r.Faces != "" && r.Faces != faces {
			g.LeftOut++
			continue
		}
		m := opening.Measurement{Year: r.ReadOn.DecimalYear(), Gap: r.GapIn, Temp: *temp, AirTemp: air, Position: r.Position, Faces: r.Faces}
		if r.Cells > 1 {
			m.OneCell, m.Gap = true, r.GapIn/float64(r.Cells)
			shape.Cells = r.Cells
		}
		if n := len(ms); n > 0 && (ms[n-1].Position != m.Position || ms[n-1].Year == m.Year) || m.OneCell {
			plain = false
		}
		ms = append(ms, m)
	}
	if !plain {
		var err error
		g.Readings, g.Offsets, err = opening.Pool(ms, 0, shape, s)
		return err
	}
	g.Readings = make([]opening.Reading, len(ms))
	for i, m := range ms {
		g.Readings[i] = opening.Reading{Year: m.Year, DeckTempF: m.Temp, GapIn: m.Gap, AirTemp: m.AirTemp}
	}
	return nil
}
