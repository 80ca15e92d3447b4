package forecast

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"math"
	"slices"

	"github.com/uptrace/bun"
	"golang.org/x/sync/errgroup"

	"reseal/forecast/money"
)

// Band is a mean with its 10 and 90 % points; see Tables.BandWords.
type Band struct{ Mean, Low, High float64 }

// Standing is where a group of joints, or the network, stands at the end of a
// fiscal year, and what was done in it. The backlog is defined by
// Settings.Backlog.
type Standing struct {
	Group   string // by the grouping; empty: not on record, or the network
	Network bool
	Year    int

	Jobs        int
	Spent       Band         // nominal cents, in the year
	Whole       WholeBridges // the part of Spent
	Failed      Band         // joints
	LengthFt    float64      // of the joints, without those eliminated
	States      [4]Band      // shares of the length in CS1 to CS4; all 0 of no length
	BacklogFeet Band
	Backlog     Band // nominal cents of the year
}

// Severe is the share of the length in CS4.
func (s *Standing) Severe() Band { return s.States[3] }

// Standings are the years of the network under each of some plans, beside those
// in which nothing is done.
type Standings struct {
	FirstYear int // that of the day it is seen from
	Years     int
	Idle      []Standing   // nothing is done; by group and year, the network last
	Plans     [][]Standing // in the order of the plans
}

// NetworkYears are the rows of the network, which stand last.
func NetworkYears(all []Standing) []Standing {
	i := slices.IndexFunc(all, func(s Standing) bool { return s.Network })
	if i < 0 {
		return nil
	}
	return all[i:]
}

// NewStandings follows every joint to the end of each of some fiscal years, the
// present one first, under each plan and with nothing done. Committed bridge
// projects renew their joints in any case.
func (m *Model) NewStandings(ctx context.Context, db bun.IDB, o Options, years int, by Grouping, p *Problem, plans ...*Plan) (*Standings, error) {
	out := &Standings{FirstYear: m.YearOf(o.AsOf), Years: years}
	o.ThroughYear = out.FirstYear + years - 1
	courses := [][]Charge{nil}
	for _, solved := range plans {
		charges, err := p.Charges(solved)
		if err != nil {
			return nil, err
		}
		courses = append(courses, byJoint(charges))
	}
	worlds, err := m.worlds(o.AsOf, o.ThroughYear)
	if err != nil {
		return nil, err
	}
	r := newStandingRun(m, by, out, courses)
	o.variance = true
	var others []*standingRun
	each := []func([]Projected) error{r.addBridge}
	for _, w := range worlds {
		other := newStandingRun(w.Model, by, out, courses)
		other.projection.Lean = true
		others = append(others, other)
		each = append(each, func(joints []Projected) error { return other.addBridge(w.see(joints)) })
	}
	if err := m.eachBridgeTo(ctx, db, o, each); err != nil {
		return nil, err
	}
	r.compare(others)
	for i := range r.courses {
		rows, err := r.rows(&r.courses[i])
		if err != nil {
			return nil, err
		}
		if i == 0 {
			out.Idle = rows
		} else {
			out.Plans = append(out.Plans, rows)
		}
	}
	return out, nil
}

// bridgesAhead is how many bridges may wait for one who takes them.
const bridgesAhead = 64

// eachBridgeTo hands every bridge to each taker, in order; every taker is on a
// goroutine of its own, and does not change what it is handed.
func (m *Model) eachBridgeTo(ctx context.Context, db bun.IDB, o Options, takers []func([]Projected) error) error {
	work, ctx := errgroup.WithContext(ctx)
	hands := make([]chan []Projected, len(takers))
	for i, take := range takers {
		hands[i] = make(chan []Projected, bridgesAhead)
		work.Go(func() error {
			for joints := range hands[i] {
				if err := take(joints); err != nil {
					return err
				}
			}
			return nil
		})
	}
	work.Go(func() error {
		defer func() {
			for _, hand := range hands {
				close(hand)
			}
		}()
		return m.eachBridge(ctx, db, o, func(joints []Projected) error {
			for _, hand := range hands {
				select {
				case hand <- joints:
				case <-ctx.Done():
					return ctx.Err()
				}
			}
			return nil
		})
	})
	return work.Wait()
}

// courseTally adds up one course of events: a plan's, or nothing.
type courseTally struct {
	charges []Charge // by joint and year; shared by the runs
	network []sums   // by year
	groups  map[string][]sums
}

// byJoint sorts charges, which stand by year.
func byJoint(charges []Charge) []Charge {
	slices.SortStableFunc(charges, func(a, b Charge) int { return cmp.Compare(a.JointID, b.JointID) })
	return charges
}

// of finds the charges of a joint.
func (c *courseTally) of(joint int64) []Charge {
	find := func(id int64) int {
		i, _ := slices.BinarySearchFunc(c.charges, id, func(c Charge, id int64) int { return cmp.Compare(c.JointID, id) })
		return i
	}
	return c.charges[find(joint):find(joint+1)]
}

// sums are those of a year; money in cents, nominal where it is spent, constant
// dollars of the first year in the backlog.
type sums struct {
	jobs                     int
	spent                    float64
	whole                    WholeBridges
	failed, failedVariance   float64
	stateFt, stateVariance   [4]float64
	feet, feetVariance       float64
	backlog, backlogVariance float64
}

// standingRun follows one bridge after another.
type standingRun struct {
	*projector
	by      Grouping
	first   int
	years   int
	courses []courseTally
}

func newStandingRun(m *Model, by Grouping, of *Standings, courses [][]Charge) *standingRun {
	r := &standingRun{projector: &projector{Model: m}, by: by, first: of.FirstYear, years: of.Years}
	for _, charges := range courses {
		r.courses = append(r.courses, courseTally{charges: charges, groups: map[string][]sums{}})
	}
	return r
}

// compare adds to the variances how far the runs of other worlds lie apart.
func (r *standingRun) compare(others []*standingRun) {
	for i := range r.courses {
		var network [][]sums
		groups := map[string][][]sums{}
		for _, o := range others {
			network = append(network, o.courses[i].network)
			for name, s := range o.courses[i].groups {
				groups[name] = append(groups[name], s)
			}
		}
		compareSums(r.courses[i].network, network)
		for name, s := range r.courses[i].groups {
			compareSums(s, groups[name])
		}
	}
}

func compareSums(to []sums, others [][]sums) {
	for y := range to {
		to[y].failedVariance += spread(others, func(o []sums) float64 { return o[y].failed })
		for k := range to[y].stateFt {
			to[y].stateVariance[k] += spread(others, func(o []sums) float64 { return o[y].stateFt[k] })
		}
		to[y].feetVariance += spread(others, func(o []sums) float64 { return o[y].feet })
		to[y].backlogVariance += spread(others, func(o []sums) float64 { return o[y].backlog })
	}
}

// stands is one joint in one course.
type stands struct {
	group              string
	quantity           bool // for a whole bridge
	lengthFt           float64
	own, visit         float64 // of its renewal, cents of constant dollars
	failed, backlogged []float64
	shares, variance   [][4]float64
	charges            []Charge
}

func (r *standingRun) addBridge(joints []Projected) error {
	for i := range r.courses {
		c := &r.courses[i]
		var bridge []stands
		for k := range joints {
			j := &joints[k]
			if j.Forecast == nil || j.LengthFt == 0 {
				continue
			}
			s, err := r.stands(j, c.of(j.ID))
			if err != nil {
				return fmt.Errorf("joint %s: %w", j.Tag, err)
			}
			bridge = append(bridge, s)
		}
		c.network = r.add(c.network, bridge, 1)
		eachGroup(bridge, func(s stands) (string, float64) { return s.group, s.lengthFt }, func(group string, of []stands, share float64) {
			c.groups[group] = r.add(c.groups[group], of, share)
		})
	}
	return nil
}

// stands follows one joint.
func (r *standingRun) stands(j *Projected, charges []Charge) (s stands, err error) {
	s = stands{group: r.by.of(j), quantity: j.Quantity, lengthFt: j.LengthFt, charges: charges}
	if s.own, s.visit, err = r.renewalCost(j, r.first); err != nil {
		return s, err
	}
	var steps []futureStep
	for i := range charges {
		steps = append(steps, futureStep{year: charges[i].Year, treatment: charges[i].treatment})
	}
	f := r.future(j, withProjects(steps, j.Projects, j.Years[0]))
	s.failed, s.shares, s.variance = f.failed, f.shares, f.variance
	s.backlogged = slices.Clone(f.failed)
	for y := range s.backlogged {
		for back := 1; back <= int(r.tables.Settings.BacklogAfterYears); back++ {
			before := j.NowFailed
			if back <= y {
				before = f.failed[y-back]
			}
			s.backlogged[y] = min(s.backlogged[y], before)
		}
	}
	return s, nil
}

// add adds joints of one bridge, with their share of its visit.
func (r *standingRun) add(to []sums, joints []stands, visitShare float64) []sums {
	if to == nil {
		to = make([]sums, r.years)
	}
	p, cost, visit := make([]float64, len(joints)), make([]float64, len(joints)), 0.0
	for i := range joints {
		s := &joints[i]
		cost[i], visit = s.own, max(visit, s.visit)
		for _, c := range s.charges {
			if y := c.Year - r.first; y >= 0 && y < r.years {
				to[y].jobs++
				to[y].spent += float64(c.Cents)
				if s.quantity {
					to[y].whole = to[y].whole.and(WholeBridges{s.lengthFt, money.Nominal(c.ownCents)})
				}
			}
		}
	}
	for y := range to {
		t := &to[y]
		for i := range joints {
			s := &joints[i]
			p[i] = s.backlogged[y]
			t.failed += s.failed[y]
			t.failedVariance += s.failed[y] * (1 - s.failed[y])
			t.feet += p[i] * s.lengthFt
			t.feetVariance += p[i] * (1 - p[i]) * s.lengthFt * s.lengthFt
			for k, share := range s.shares[y] {
				t.stateFt[k] += share * s.lengthFt
			}
			if s.variance != nil {
				for k, v := range s.variance[y] {
					t.stateVariance[k] += v * s.lengthFt * s.lengthFt
				}
			}
		}
		mean, variance := bridgeYear(p, cost, visitShare*visit)
		t.backlog += mean
		t.backlogVariance += variance
	}
	return to
}

func (r *standingRun) rows(c *courseTally) ([]Standing, error) {
	var out []Standing
	for _, group := range slices.Sorted(maps.Keys(c.groups)) {
		rows, err := r.standings(c.groups[group])
		if err != nil {
			return nil, err
		}
		for i := range rows {
			rows[i].Group = group
		}
		out = append(out, rows...)
	}
	network, err := r.standings(c.network)
	for i := range network {
		network[i].Network = true
	}
	return append(out, network...), err
}

func (r *standingRun) standings(of []sums) ([]Standing, error) {
	settings := &r.tables.Settings
	var out []Standing
	for y, t := range of {
		rise, err := r.tables.Prices.Factor(r.first, r.first+y)
		if err != nil {
			return nil, err
		}
		sd := rise * math.Hypot(math.Sqrt(t.backlogVariance), settings.CostError*t.backlog)
		out = append(out, Standing{
			Year: r.first + y, Jobs: t.jobs, LengthFt: t.lengthFt(), States: t.states(), Whole: t.whole,
			Spent:       band(t.spent, settings.CostError*t.spent),
			Failed:      band(t.failed, math.Sqrt(t.failedVariance)),
			BacklogFeet: band(t.feet, math.Sqrt(t.feetVariance)),
			Backlog:     band(t.backlog*rise, sd),
		})
	}
	return out, nil
}

func (t *sums) lengthFt() float64 { return t.stateFt[0] + t.stateFt[1] + t.stateFt[2] + t.stateFt[3] }

// states are the shares of the length in each state.
func (t *sums) states() (out [4]Band) {
	length := t.lengthFt()
	if length == 0 {
		return out
	}
	for k := range out {
		out[k] = band(t.stateFt[k]/length, math.Sqrt(t.stateVariance[k])/length)
		out[k].High = min(out[k].High, 1)
	}
	return out
}

// band is the mean ± 1.2816 standard deviations, cut at 0.
func band(mean, sd float64) Band { return Band{mean, max(0, mean-z90*sd), mean + z90*sd} }
