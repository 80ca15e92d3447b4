package forecast

import (
	"context"

	"github.com/uptrace/bun"

	"reseal/inventory"
	"reseal/inventory/store"
)

// Options choose what to project.
type Options struct {
	AsOf        inventory.Date   // the day it is seen from; what came later does not count
	Filter      inventory.Filter // which joints; the zero value is all in service
	ThroughYear int              // last fiscal year; 0: the horizon of the settings
	Counted     func(joints int) // called as joints are done; may be nil

	// Progress is called while a plan is looked for, with how near to the best it is
	// in per cent of cost; NaN while there is none. It may be nil.
	Progress func(gapPct float64)

	Planned map[int64][]PlannedWork // work to come, by joint, beside committed bridge projects; nil: nothing is done

	variance    bool         // of forecasts
	draws       bool         // of forecasts
	prospecting *prospecting // nil: no strategies are worked out
}

// Through is the last fiscal year that the options ask for.
func (m *Model) Through(o Options) int {
	if o.ThroughYear != 0 {
		return o.ThroughYear
	}
	return m.YearOf(o.AsOf) + int(m.tables.Settings.HorizonYears)
}

// Projected is a joint with its forecast, or the reason why it has none.
type Projected struct {
	*Record
	*Forecast
	Reason   Reason
	Prospect *Prospect // the strategies open to it, where they were asked for; or nil
}

// Each projects every joint that the options choose and calls fn for each, in
// the order of bridge and joint. fn runs on the caller's goroutine.
func (m *Model) Each(ctx context.Context, db bun.IDB, o Options, fn func(Projected) error) error {
	return m.eachBridge(ctx, db, o, func(joints []Projected) error {
		for _, j := range joints {
			if err := fn(j); err != nil {
				return err
			}
		}
		return nil
	})
}

// eachBridge is Each for all chosen joints of a bridge at once.
func (m *Model) eachBridge(ctx context.Context, db bun.IDB, o Options, fn func([]Projected) error) error {
	through := m.Through(o)
	produce := func(ctx context.Context, yield func([]int64) error) error {
		return eachPage(ctx, db, o.Filter, yield)
	}
	type page struct {
		joints []Projected
		err    error
	}
	project := func(ids []int64) page {
		records, err := loadRecords(ctx, db, ids, o.AsOf)
		if err == nil {
			err = m.loadGaps(ctx, db, records, o.AsOf)
		}
		if err != nil {
			return page{err: err}
		}
		p := &projector{Model: m, planned: o.Planned, variance: o.variance, keepDraws: o.draws}
		out := make([]Projected, len(records))
		for i := range records {
			out[i].Record = &records[i]
			out[i].Forecast, out[i].Reason = p.project(&records[i], o.AsOf, through)
		}
		return page{out, p.prospects(out, o.prospecting)}
	}
	return inventory.InOrder(ctx, produce, project, func(done page) error {
		if done.err != nil {
			return done.err
		}
		joints := done.joints
		if o.Counted != nil {
			o.Counted(len(joints))
		}
		for len(joints) > 0 {
			n := 1
			for n < len(joints) && joints[n].Bridge.ID == joints[0].Bridge.ID {
				n++
			}
			if err := fn(joints[:n]); err != nil {
				return err
			}
			joints = joints[n:]
		}
		return nil
	})
}

// Summary is what a forecast of the network found.
type Summary struct {
	Joints       int            // chosen
	Quantities   int            // of these, quantities for a whole bridge
	FailedNow    int            // failed with a probability of 50 % or more
	ByYear       map[int]int    // replacement year, 0 beyond the horizon; those failed now are left out
	NoForecast   map[Reason]int // joints without a forecast
	Illustrative int            // joints whose life table row is a starting value
	Failures     float64        // joints expected to have failed now
}

// Save is Each for all joints in service, whatever the filter, and writes the
// forecasts in place of the last ones in one transaction.
func (m *Model) Save(ctx context.Context, s *store.Store, actor string, o Options, fn func(Projected)) error {
	o.Filter = inventory.Filter{}
	return s.Update(ctx, actor, func(ctx context.Context, tx *store.Tx) error {
		if _, err := tx.ExecContext(ctx, "DELETE FROM forecasts"); err != nil {
			return err
		}
		b := tx.Bulk(ctx, "forecasts", "joint_id", "as_of", "basis", "cs1", "cs2", "cs3", "cs4",
			"failed_probability", "replace_year", "replace_year_10", "replace_year_90", "made_at")
		asOf, at := any(o.AsOf.String()), any(string(tx.At))
		// Nobody else can write while tx lives, so the readers see one state.
		err := m.Each(ctx, s.Read(), o, func(j Projected) error {
			fn(j)
			if j.Forecast == nil {
				return nil
			}
			return b.Add(j.ID, asOf, j.Basis, j.NowShares[0], j.NowShares[1], j.NowShares[2], j.NowShares[3],
				j.NowFailed, orNull(j.ReplaceYear), orNull(j.EarlyYear), orNull(j.LateYear), at)
		})
		if err != nil {
			return err
		}
		return b.Close()
	})
}

// Renew stores the forecasts of all joints in service as seen from o.AsOf, by
// the tables on record.
func Renew(ctx context.Context, s *store.Store, actor string, o Options) (sum Summary, err error) {
	tables, err := LoadTables(ctx, s.Read())
	if err != nil {
		return sum, err
	}
	m, err := NewModel(tables)
	if err != nil {
		return sum, err
	}
	err = m.Save(ctx, s, actor, o, sum.Add)
	return sum, err
}

func orNull(year int) any {
	if year == 0 {
		return nil
	}
	return year
}

// Add counts a joint.
func (s *Summary) Add(j Projected) {
	if s.ByYear == nil {
		s.ByYear, s.NoForecast = map[int]int{}, map[Reason]int{}
	}
	s.Joints++
	if j.Quantity {
		s.Quantities++
	}
	if j.Forecast == nil {
		s.NoForecast[j.Reason]++
		return
	}
	if j.Illustrative {
		s.Illustrative++
	}
	s.Failures += j.NowFailed
	if j.NowFailed >= 0.5 {
		s.FailedNow++
		return
	}
	s.ByYear[j.ReplaceYear]++
}

// One projects one joint.
func (m *Model) One(ctx context.Context, db bun.IDB, jointID int64, o Options) (Projected, error) {
	records, err := loadRecords(ctx, db, []int64{jointID}, o.AsOf)
	if err != nil {
		return Projected{}, err
	}
	if len(records) == 0 {
		return Projected{}, store.NotFound("list the joints with: reseal joint list", "there is no joint %d", jointID)
	}
	if err := m.loadGaps(ctx, db, records, o.AsOf); err != nil {
		return Projected{}, err
	}
	j := Projected{Record: &records[0]}
	p := &projector{Model: m, planned: o.Planned}
	j.Forecast, j.Reason = p.project(&records[0], o.AsOf, m.Through(o))
	return j, nil
}
