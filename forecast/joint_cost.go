package forecast

import (
	"context"
	"fmt"

	"github.com/uptrace/bun"

	"reseal/forecast/money"
	"reseal/inventory"
	"reseal/inventory/store"
)

// JointCost is what can be done to a joint in a year and what each costs.
type JointCost struct {
	Projected
	Year      int // fiscal, of the work
	PriceYear int
	Works     []WorkCost // in the order of the table
	Best      string     // the treatment of least expected cost in the year; blank: none
}

// WorkCost is one treatment alone in its visit.
type WorkCost struct {
	Estimate     money.Estimate // line by line, nominal dollars of the year
	TotalDollars float64        // expected for ever when done in the year, present value, constant dollars
	WaitDollars  float64        // cost of waiting one year
	CanWait      bool
	StopsPaying  int // fiscal; 0: beyond the horizon
}

// CostOf works out what can be done to one joint in a fiscal year. A joint
// without a forecast or a length is an error that says so.
func (m *Model) CostOf(ctx context.Context, db bun.IDB, jointID int64, o Options, year int) (*JointCost, error) {
	var bridge string
	if err := db.NewRaw("SELECT b.state || '/' || b.structure_number FROM joints j JOIN bridges b ON b.id = j.bridge_id WHERE j.id = ?", jointID).Scan(ctx, &bridge); err != nil {
		return nil, fmt.Errorf("joint %d: %w", jointID, err)
	}
	o.ThroughYear = max(m.Through(o), year)
	var joints []Projected // of the whole bridge, because visits are shared
	want := m.listing(year)
	want.wanted = func(j *Projected) bool { return j.ID == jointID }
	o.prospecting, o.Filter = want, inventory.Filter{Structure: bridge}
	if err := m.eachBridge(ctx, db, o, func(js []Projected) error { joints = append(joints, js...); return nil }); err != nil {
		return nil, err
	}
	for _, j := range joints {
		if j.ID != jointID {
			continue
		}
		switch {
		case j.Forecast == nil:
			return nil, store.Invalid("inspect it, or give its seal's installation date", "joint %s has no forecast: %s", j.Tag, j.Reason)
		case j.Prospect == nil:
			return nil, store.Invalid("reseal joint edit "+j.Tag+" --length-ft FEET", "joint %s has no length on record, and so no cost", j.Tag)
		}
		return m.jointCost(j, year)
	}
	return nil, store.NotFound("list the joints with: reseal joint list", "joint %d is not in service", jointID)
}

func (m *Model) jointCost(j Projected, year int) (*JointCost, error) {
	p := j.Prospect
	out := &JointCost{Projected: j, Year: year, PriceYear: m.YearOf(j.AsOf)}
	for i := range p.Treatments {
		estimates, err := money.Visit{
			Jobs: []money.Job{{Joint: j.Tag, LengthFt: j.LengthFt, Costs: p.Costs[i]}}, Prices: m.tables.Prices, Year: year,
		}.Estimates()
		if err != nil {
			return nil, fmt.Errorf("%s: %w", p.Treatments[i].Name, err)
		}
		w := WorkCost{Estimate: estimates[0], StopsPaying: p.StopsPaying(i)}
		w.TotalDollars, _ = p.outright(i, 0)
		w.WaitDollars, w.CanWait = p.Wait(i, 0)
		out.Works = append(out.Works, w)
	}
	if best, ok := p.BestIn(0); ok {
		out.Best = p.Treatments[best.Treatment].Name
	}
	return out, nil
}
