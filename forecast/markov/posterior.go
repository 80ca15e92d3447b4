package markov

import (
	"fmt"
	"math"
	"sync"
)

// fineTable holds the logarithm of P at nodes of u close enough to read a
// posterior of paces from, where a joint pays only for the entries that it saw.
type fineTable struct {
	once  sync.Once
	logU1 float64
	count int
	logP  []float64 // entry by entry: a joint reads the same few at many nodes
}

// finePerE is how many fine nodes there are for each factor e of u.
const finePerE = 48

// fineTable fills the table when a posterior first asks for it.
func (o *Outlook) fineTable() *fineTable {
	t := o.fine
	t.once.Do(func() {
		first, last := o.nodes[1]*1e-4, o.nodes[len(o.nodes)-1]
		t.logU1, t.count = math.Log(first), 2+int(math.Ceil(finePerE*math.Log(last/first)))
		nn := o.n * o.n
		t.logP = make([]float64, t.count*nn)
		p := make([]float64, nn)
		for k := range t.count {
			for ij, x := range o.chain.P(p, first*math.Exp(float64(k)/finePerE)) {
				t.logP[ij*t.count+k] = math.Log(max(x, 1e-300))
			}
		}
	})
	return t
}

// Posterior is Pace.Posterior for a joint of this group, with the group's
// pieces, read from a table of log P by cubics in log u: within 1e-6 of it, and
// some ten times as fast. Intervals may be as long as the horizon.
func (o *Outlook) Posterior(dst, prior []float64, life []Interval) error {
	n, nn := o.n, o.n*o.n
	t := o.fineTable()
	var flow [MaxStates * MaxStates]float64
	var entries [MaxStates * MaxStates][]float64
	for g := range o.pace.Z {
		dst[g] = math.Log(prior[g])
	}
	for i, v := range life {
		if len(v.Before) != n || len(v.After) != n || !(v.Years > 0) {
			return fmt.Errorf("%w interval %d: %v years, %d and %d states", ErrInvalid, i+1, v.Years, len(v.Before), len(v.After))
		}
		if err := Match(flow[:nn], v.Before, v.After); err != nil {
			return fmt.Errorf("interval %d: %w", i+1, err)
		}
		seen := 0 // of the entries, first those that the joint saw
		for ij, s := range flow[:nn] {
			if s > 0 {
				entries[seen], flow[seen] = t.logP[ij*t.count:(ij+1)*t.count], o.rule.Pieces*s
				seen++
			}
		}
		logYears := math.Log(v.Years)
		for g, logZ := range o.logZ {
			x := min((logYears+logZ-t.logU1)*finePerE, float64(t.count-2))
			k := min(max(int(x), 1), t.count-3) // the second of the four nodes
			a, b, c, d := lagrange(x - float64(k))
			sum := dst[g]
			for i, entry := range entries[:seen] {
				at := (*[4]float64)(entry[k-1:])
				logP := a*at[0] + b*at[1] + c*at[2] + d*at[3]
				sum += flow[i] * min(logP, 0)
			}
			dst[g] = sum
		}
	}
	if top := normaliseLogs(dst[:len(o.pace.Z)]); math.IsNaN(top) || top < -1e5 {
		return fmt.Errorf("inspections are %w", ErrImpossible)
	}
	return nil
}
