package money

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
)

// Done is a treatment that has been paid for, beside what was estimated. Both
// are nominal dollars of the year of the work.
type Done struct {
	Treatment, District string
	Estimated, Actual   Nominal // above 0; at least 0
}

// Review is how actual costs compare with the estimates, for one treatment in
// one district.
type Review struct {
	Treatment, District string
	Jobs                int
	Estimated, Actual   Nominal // sums
	Ratio               float64 // Actual over Estimated: what the money shows
	// The ratios job by job: the middle one, and those that a quarter of the jobs
	// lie below and above.
	MedianRatio, LowerQuartile, UpperQuartile float64
}

// ReviewCosts compares actual costs with the estimates by treatment and
// district, in the order of their names. Quartiles are interpolated linearly
// between the jobs' ratios. (Hyndman & Fan 1996, The American Statistician
// 50:361, definition 7.)
func ReviewCosts(jobs []Done) ([]Review, error) {
	type group struct{ treatment, district string }
	ratios := map[group][]float64{}
	reviews := map[group]Review{}
	for i, j := range jobs {
		if j.Estimated <= 0 || j.Actual < 0 || j.Estimated > maxCents || j.Actual > maxCents {
			return nil, fmt.Errorf("%w: job %d was estimated at %v and cost %v", ErrInvalid, i+1, j.Estimated, j.Actual)
		}
		g := group{j.Treatment, j.District}
		ratios[g] = append(ratios[g], float64(j.Actual)/float64(j.Estimated))
		r := reviews[g]
		r.Jobs++
		r.Estimated += j.Estimated
		r.Actual += j.Actual
		if r.Estimated > maxCents || r.Actual > maxCents {
			return nil, fmt.Errorf("%w: the costs of %s in %s sum to more than is an amount", ErrInvalid, j.Treatment, j.District)
		}
		reviews[g] = r
	}
	rows := make([]Review, 0, len(reviews))
	for _, g := range slices.SortedFunc(maps.Keys(reviews), func(a, b group) int {
		return cmp.Or(cmp.Compare(a.treatment, b.treatment), cmp.Compare(a.district, b.district))
	}) {
		r, sorted := reviews[g], ratios[g]
		slices.Sort(sorted)
		r.Treatment, r.District = g.treatment, g.district
		r.Ratio = float64(r.Actual) / float64(r.Estimated)
		r.LowerQuartile, r.MedianRatio, r.UpperQuartile = quantile(sorted, 0.25), quantile(sorted, 0.5), quantile(sorted, 0.75)
		rows = append(rows, r)
	}
	return rows, nil
}

// quantile interpolates between the values of a sorted list that is not empty.
func quantile(sorted []float64, p float64) float64 {
	at := p * float64(len(sorted)-1)
	k := int(at)
	if k+1 == len(sorted) {
		return sorted[k]
	}
	return sorted[k] + (at-float64(k))*(sorted[k+1]-sorted[k])
}
