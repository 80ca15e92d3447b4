package forecast

import (
	"reseal/forecast/markov"
)

// renewalRun works out the renewals of one bridge after another.
type renewalRun struct {
	*Model
	years      int
	network    *tally
	groups     map[string]*tally
	projection markov.Projection

	failedCents, wholeCents float64 // to renew all that has failed now, and everything
}

func newRenewalRun(m *Model, years int) *renewalRun {
	return &renewalRun{Model: m, years: years, network: newTally(years), groups: map[string]*tally{}, projection: markov.Projection{Lean: true}}
}

// compare takes in how far the runs of other worlds lie apart.
func (r *renewalRun) compare(others []*renewalRun) {
	var network []*tally
	groups := map[string][]*tally{}
	for _, o := range others {
		network = append(network, o.network)
		for name, t := range o.groups {
			groups[name] = append(groups[name], t)
		}
	}
	r.network.compare(network)
	for name, t := range r.groups {
		t.compare(groups[name])
	}
}

func (r *renewalRun) addBridge(b *Budget, joints []Projected, by Grouping) error {
	jobs, err := r.jobs(b, joints, by)
	if err == nil {
		r.add(jobs)
	}
	return err
}

// renewal is what renewing one joint costs, in cents of constant dollars, and
// how probable it is in each year.
type renewal struct {
	group    string
	quantity bool // for a whole bridge
	lengthFt float64
	own      float64 // without the visit
	visit    float64
	failed   float64 // probability of having failed now
	renewed  []float64
}

// jobs are the renewals of one bridge.
func (r *renewalRun) jobs(b *Budget, joints []Projected, by Grouping) ([]renewal, error) {
	var jobs []renewal
	for i := range joints {
		j := &joints[i]
		b.Joints++
		if j.Forecast == nil {
			b.NoForecast[j.Reason]++
			continue
		}
		if j.LengthFt == 0 {
			b.NoLength++
			continue
		}
		own, visit, err := r.renewalCost(j, b.FirstYear)
		if err != nil {
			return nil, err
		}
		job := renewal{group: by.of(j), quantity: j.Quantity, lengthFt: j.LengthFt, own: own, visit: visit, failed: j.NowFailed, renewed: r.renewals(j.Forecast)}
		b.Claims += r.claims(*j, job.renewed)
		jobs = append(jobs, job)
	}
	return jobs, nil
}

// renewalCost is what the usual renewal of a joint costs, in cents at the prices
// of a year: its own part, and the visit.
func (m *Model) renewalCost(j *Projected, year int) (own, visit float64, err error) {
	t, err := m.tables.TreatmentFor(j.Kind)
	if err != nil {
		return 0, 0, err
	}
	u, err := m.tables.costs(&t, j.LengthFt, j.Bridge.District, year)
	return u.OwnCents(j.LengthFt), float64(u.VisitCents()), err
}

// add adds a bridge to the network and to its groups.
func (r *renewalRun) add(jobs []renewal) {
	r.network.add(jobs, 1)
	eachGroup(jobs, func(j renewal) (string, float64) { return j.group, j.lengthFt }, func(group string, of []renewal, share float64) {
		if r.groups[group] == nil {
			r.groups[group] = newTally(r.years)
		}
		r.groups[group].add(of, share)
	})
	p, all, cost, visit := make([]float64, len(jobs)), make([]float64, len(jobs)), make([]float64, len(jobs)), 0.0
	for i, j := range jobs {
		p[i], all[i], cost[i], visit = j.failed, 1, j.own, max(visit, j.visit)
	}
	failed, _ := bridgeYear(p, cost, visit)
	whole, _ := bridgeYear(all, cost, visit)
	r.failedCents, r.wholeCents = r.failedCents+failed, r.wholeCents+whole
}

// eachGroup calls fn for each group among the joints of a bridge, with its share
// of the length, in the order of their first joint.
func eachGroup[T any](all []T, of func(T) (group string, lengthFt float64), fn func(group string, of []T, share float64)) {
	feet := 0.0
	var order []string
	groups, lengths := map[string][]T{}, map[string]float64{}
	for _, one := range all {
		group, ft := of(one)
		if groups[group] == nil {
			order = append(order, group)
		}
		groups[group] = append(groups[group], one)
		lengths[group] += ft
		feet += ft
	}
	for _, group := range order {
		fn(group, groups[group], lengths[group]/feet)
	}
}

// claims takes out of a joint's renewals those that its warranty answers for, and
// returns how many: all that is expected by its last day, and in the first year
// that of a fault already seen. Urgent work is not left to a claim.
func (r *renewalRun) claims(j Projected, renewed []float64) (left float64) {
	if len(j.Urgent()) > 0 {
		return 0
	}
	covered := j.coveredThrough(j.AsOf)
	for y := range renewed {
		if covered.Before(r.endOf(j.Years[y]).AddDays(-1)) && !(y == 0 && j.claimed(j.AsOf)) {
			break
		}
		left, renewed[y] = left+renewed[y], 0
	}
	return left
}

// bridgeYear is the mean and variance of what a bridge costs in a year, from
// the probability of each joint's renewal, the rest of its cost and the cost
// of a visit. The formula is in NewBudget.
func bridgeYear(p, cost []float64, visit float64) (mean, variance float64) {
	none, jobs := 1.0, 0.0
	for i, m := range p {
		none *= 1 - m
		jobs += m * cost[i]
		variance += m * (1 - m) * cost[i] * cost[i]
	}
	mean = jobs + visit*(1-none)
	return mean, variance + visit*visit*none*(1-none) + 2*visit*jobs*none
}

// renewals is the probability of a renewal in each year.
func (r *renewalRun) renewals(f *Forecast) []float64 {
	again := r.lifeOfNext(f)
	out := make([]float64, r.years)
	before := 0.0
	for y := range out {
		out[y] = f.Failed[y] - before
		before = f.Failed[y]
		for k := 1; k <= y; k++ {
			out[y] += out[y-k] * again[k]
		}
		out[y] = min(max(out[y], 0), 1)
	}
	return out
}

// lifeOfNext is the probability that the next seal fails in the kth year after
// the one of its installation, by k from 0; what fails in the very year counts
// in the first.
func (r *renewalRun) lifeOfNext(f *Forecast) []float64 {
	times := make([]float64, r.years)
	for k := range times {
		times[k] = float64(k) + 0.5
	}
	weights := make([]float64, len(f.weights))
	r.pace.Renew(weights, f.weights, r.tables.Settings.SiteShare)
	f.group.outlook.Project(&r.projection, asNew[:], weights, times)
	out := make([]float64, r.years)
	for k := 1; k < len(out); k++ {
		out[k] = r.projection.Failed[k] - r.projection.Failed[k-1]
	}
	if len(out) > 1 {
		out[1] = r.projection.Failed[1]
	}
	return out
}

// tally adds up one group's years. Money is in cents of constant dollars of
// the first year.
type tally struct {
	renewals, feet, mean, variance []float64
	rates                          []float64 // variance between worlds
	wholeFeet, whole               []float64 // of quantities for a whole bridge, visits aside
}

func newTally(years int) *tally {
	t := &tally{}
	for _, v := range []*[]float64{&t.renewals, &t.feet, &t.mean, &t.variance, &t.rates, &t.wholeFeet, &t.whole} {
		*v = make([]float64, years)
	}
	return t
}

// compare takes in how far the same joints' tallies lie apart between worlds.
func (t *tally) compare(others []*tally) {
	for y := range t.rates {
		t.rates[y] = spread(others, func(o *tally) float64 { return o.mean[y] })
	}
}

// add adds the joints of one bridge, or those of one kind with their share of
// its visits.
func (t *tally) add(jobs []renewal, visitShare float64) {
	p, cost, visit := make([]float64, len(jobs)), make([]float64, len(jobs)), 0.0
	for i, j := range jobs {
		visit, cost[i] = max(visit, j.visit), j.own
	}
	for y := range t.mean {
		for i, j := range jobs {
			p[i] = j.renewed[y]
			t.renewals[y] += p[i]
			t.feet[y] += p[i] * j.lengthFt
			if j.quantity {
				t.wholeFeet[y] += p[i] * j.lengthFt
				t.whole[y] += p[i] * j.own
			}
		}
		mean, variance := bridgeYear(p, cost, visitShare*visit)
		t.mean[y] += mean
		t.variance[y] += variance
	}
}
