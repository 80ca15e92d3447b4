package forecast

import (
	"cmp"
	"math"
	"slices"
)

// RouteVisit is the work at one bridge in one year.
type RouteVisit struct {
	Route           string
	Milepost        float64
	StructureNumber string
	Year            int // fiscal
	Joints          int
	VisitCents      int64 // mobilisation and traffic control, nominal
}

// Closure is neighbouring bridges of a route that are worked on in one year and
// can be done in one closure.
type Closure struct {
	Route            string
	Year             int // fiscal
	FromMile, ToMile float64
	Structures       []string // by milepost
	Joints           int
	SavingCents      int64 // nominal, of the visits
}

// Closures bundles visits along each route and year: a bridge joins the closure
// of the one before it where they are at most withinMiles apart. All visits of a
// closure but the dearest save savingShare of their cost. Bridges alone make
// none. The largest saving comes first.
func Closures(visits []RouteVisit, withinMiles, savingShare float64) []Closure {
	visits = slices.Clone(visits)
	slices.SortStableFunc(visits, func(a, b RouteVisit) int {
		return cmp.Or(cmp.Compare(a.Route, b.Route), cmp.Compare(a.Year, b.Year), cmp.Compare(a.Milepost, b.Milepost), cmp.Compare(a.StructureNumber, b.StructureNumber))
	})
	var out []Closure
	for len(visits) > 0 {
		n := 1
		for n < len(visits) && visits[n].Route == visits[0].Route && visits[n].Year == visits[0].Year && visits[n].Milepost-visits[n-1].Milepost <= withinMiles {
			n++
		}
		if n > 1 && visits[0].Route != "" {
			out = append(out, closureOf(visits[:n], savingShare))
		}
		visits = visits[n:]
	}
	slices.SortStableFunc(out, func(a, b Closure) int { return cmp.Compare(b.SavingCents, a.SavingCents) })
	return out
}

func closureOf(visits []RouteVisit, savingShare float64) Closure {
	c := Closure{Route: visits[0].Route, Year: visits[0].Year, FromMile: visits[0].Milepost, ToMile: visits[len(visits)-1].Milepost}
	sum, dearest := int64(0), int64(0)
	for _, v := range visits {
		c.Structures = append(c.Structures, v.StructureNumber)
		c.Joints += v.Joints
		sum += v.VisitCents
		dearest = max(dearest, v.VisitCents)
	}
	c.SavingCents = int64(math.Round(savingShare * float64(sum-dearest)))
	return c
}

// Closures bundles the plan's visits along routes, by the agency's settings. The
// plan's cost does not count the saving. Bridges without a milepost are left out.
func (p *Problem) Closures(solved *Plan) []Closure {
	in := &p.Instance
	var visits []RouteVisit
	for b := range len(in.FirstJoint) - 1 {
		joints := map[int16]int{}
		for _, option := range solved.result.Choice[in.FirstJoint[b]:in.FirstJoint[b+1]] {
			for _, s := range p.courses[option].steps[:p.courses[option].count] {
				joints[int16(s.year)]++
			}
		}
		j := &p.joints[in.FirstJoint[b]]
		if j.milepost == nil {
			continue
		}
		for y, n := range joints {
			visits = append(visits, RouteVisit{
				Route: j.Route, Milepost: *j.milepost, StructureNumber: j.StructureNumber, Year: p.FirstYear + int(y), Joints: n,
				VisitCents: in.VisitCents[b*in.Years+int(y)],
			})
		}
	}
	return Closures(visits, p.closureMiles, p.closureSaving)
}
