package life

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// History is the replacements at one joint, by its age, while it was under
// observation: after From and up to To.
type History struct {
	From, To float64
	Replaced []float64 // in any order; equal ages count each
}

// Validate reports why a history cannot be used.
func (h History) Validate() error {
	if !(h.From >= 0) || !(h.To > h.From) || math.IsInf(h.To, 0) {
		return fmt.Errorf("%w: joint observed from %g to %g", ErrInvalid, h.From, h.To)
	}
	for _, age := range h.Replaced {
		if !(age > h.From && age <= h.To) {
			return fmt.Errorf("%w: replacement at %g of a joint observed after %g up to %g", ErrInvalid, age, h.From, h.To)
		}
	}
	return nil
}

// MeanReplacements is the mean number of replacements per joint up to an age.
type MeanReplacements struct {
	Age, Mean, SE float64
	AtRisk        int // joints under observation at that age
}

// MeanCumulative estimates the mean number of replacements per joint by age,
// with no model of life, one row for each age at which there was one:
//
//	M(t) = Σ_{t_k ≤ t} d_k / n_k
//	var M(t) = Σ_i [ Σ_{t_k ≤ t, i at risk} (d_ik - d_k/n_k) / n_k ]²
//
// with d_ik replacements at joint i and d_k in all at age t_k, and n_k joints at
// risk. The standard error allows for joints that differ. (Nelson 1988, J.
// Quality Technology 20:24; variance of Lawless & Nadeau 1995, Technometrics
// 37:158.)
func MeanCumulative(histories []History) ([]MeanReplacements, error) {
	type event struct {
		age   float64
		joint int
	}
	var events []event
	entering := make([]int, len(histories)) // joints by From
	leaving := make([]int, len(histories))  // joints by To
	for i, h := range histories {
		if err := h.Validate(); err != nil {
			return nil, fmt.Errorf("history %d: %w", i+1, err)
		}
		for _, age := range h.Replaced {
			events = append(events, event{age, i})
		}
		entering[i], leaving[i] = i, i
	}
	slices.SortFunc(events, func(a, b event) int {
		return cmp.Or(cmp.Compare(a.age, b.age), cmp.Compare(a.joint, b.joint))
	})
	slices.SortStableFunc(entering, func(a, b int) int { return cmp.Compare(histories[a].From, histories[b].From) })
	slices.SortStableFunc(leaving, func(a, b int) int { return cmp.Compare(histories[a].To, histories[b].To) })

	// Every joint at risk has a residual that moves at every age. A joint's own
	// part is kept in own; the part that all share is kept once, in shared.
	own := make([]float64, len(histories))
	var shared, sumAtRisk, sumSq, mean float64
	residual := func(i int) float64 { return own[i] - shared }
	atRisk := 0
	var rows []MeanReplacements
	for k := 0; k < len(events); {
		age := events[k].age
		for len(entering) > 0 && histories[entering[0]].From < age {
			own[entering[0]] = shared // a residual of 0
			entering = entering[1:]
			atRisk++
		}
		for len(leaving) > 0 && histories[leaving[0]].To < age {
			sumAtRisk -= residual(leaving[0])
			leaving = leaving[1:]
			atRisk--
		}
		n := float64(atRisk)
		var d, sumDSq, sumDResidual float64
		first := k
		for k < len(events) && events[k].age == age {
			joint, here := events[k].joint, 0.0
			for ; k < len(events) && events[k].age == age && events[k].joint == joint; k++ {
				here++
			}
			d += here
			sumDSq += here * here
			sumDResidual += here * residual(joint)
		}
		step := d / n
		sumSq += 2*(sumDResidual-step*sumAtRisk)/n + (sumDSq-step*d)/(n*n)
		for _, e := range events[first:k] {
			own[e.joint] += 1 / n
		}
		shared += step / n
		mean += step
		rows = append(rows, MeanReplacements{age, mean, math.Sqrt(max(sumSq, 0)), atRisk})
	}
	return rows, nil
}
