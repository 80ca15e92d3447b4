package forecast

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/uptrace/bun"

	"reseal/inventory/store"
)

// NetworkYear is the condition of the chosen joints at the end of a fiscal year:
// means, with what they are not below and not above with a probability of 90 %.
type NetworkYear struct {
	Year                          int
	Shares, Low, High             [4]float64 // of the feet in CS1 to CS4; a joint that was removed has none
	Failed, FailedLow, FailedHigh float64    // joints that have failed and were not renewed
}

// Network is the condition of joints by year. Its bands hold the chance in how
// joints wear, each by itself, and, where a fit is in use, what is not known of
// the rates, which moves all joints together.
type Network struct {
	Years      []NetworkYear
	Joints     int
	Feet       float64
	NoForecast map[Reason]int
	NoLength   int // not in the shares
	Draws      int // of the fit's parameters; 0: the life table's are taken as true
	Planned    int // joints with work planned
	Projects   int // joints that a committed bridge project renews
}

// networkSum adds up joints, by year and state.
type networkSum struct {
	shares, variance     [][4]float64
	failed, chance, feet []float64 // feet: of joints that were not removed
	draws                []drawn
}

// NewNetwork projects the joints that the options choose and adds them up.
//
// With the feet L_j of the joints and M_d the mean of the network in draw d of
// the parameters, the variance of a share is
//
//	Σ_j L_j² v_j / (Σ_j L_j)² + Var_d M_d
//
// with v_j the mean over draws of a joint's own variance; the band is the mean
// ± 1.2816 standard deviations, for a network is a sum of many.
func (m *Model) NewNetwork(ctx context.Context, db bun.IDB, o Options) (*Network, error) {
	first, last := m.YearOf(o.AsOf), m.Through(o)
	n := &Network{NoForecast: map[Reason]int{}, Draws: len(m.draws)}
	years := last - first + 1
	s := &networkSum{
		shares: make([][4]float64, years), variance: make([][4]float64, years), failed: make([]float64, years), chance: make([]float64, years), feet: make([]float64, years),
	}
	for range m.draws {
		s.draws = append(s.draws, drawn{make([]float64, 4*years), make([]float64, years)})
	}
	o.variance, o.draws = true, true
	err := m.Each(ctx, db, o, func(j Projected) error {
		n.Joints++
		if j.Forecast == nil {
			n.NoForecast[j.Reason]++
			return nil
		}
		if slices.ContainsFunc(j.planned, func(s futureStep) bool { return !s.project }) {
			n.Planned++
		}
		if slices.ContainsFunc(j.planned, func(s futureStep) bool { return s.project }) {
			n.Projects++
		}
		if j.LengthFt == 0 {
			n.NoLength++
		}
		n.Feet += j.LengthFt
		s.add(j.Forecast, j.LengthFt)
		return nil
	})
	if err != nil {
		return nil, err
	}
	if n.Feet == 0 {
		return nil, store.Invalid("widen the choice, or log inspections", "none of %d joints has a length and a forecast", n.Joints)
	}
	for y := range years {
		n.Years = append(n.Years, s.year(first+y, y))
	}
	for _, y := range n.Years {
		if math.IsNaN(y.Failed + y.FailedHigh + y.Shares[0]) {
			return nil, fmt.Errorf("forecast of the network in %d: not a number", y.Year)
		}
	}
	return n, nil
}

func (s *networkSum) add(f *Forecast, feet float64) {
	for y := range f.Years {
		for k, share := range f.Shares[y] {
			s.shares[y][k] += feet * share
			s.feet[y] += feet * share
			s.variance[y][k] += feet * feet * f.variance[y][k]
		}
		s.failed[y] += f.Failed[y]
		s.chance[y] += f.Failed[y] * (1 - f.Failed[y])
		for d := range f.draws {
			for k, share := range f.draws[d].shares[4*y : 4*y+4] {
				s.draws[d].shares[4*y+k] += feet * share
			}
			failed := f.draws[d].failed[y]
			if len(f.OutOfRange) > 0 {
				failed = 1 - (1-failed)*(1-f.OutOfRange[y])
			}
			s.draws[d].failed[y] += failed
		}
	}
}

func (s *networkSum) year(year, y int) NetworkYear {
	out, feet := NetworkYear{Year: year, Failed: s.failed[y]}, s.feet[y]
	if feet == 0 {
		feet = 1 // all were removed
	}
	for k := range 4 {
		mean := s.shares[y][k] / feet
		between := spread(s.draws, func(d drawn) float64 { return d.shares[4*y+k] / feet })
		wide := z90 * math.Sqrt(s.variance[y][k]/(feet*feet)+between)
		out.Shares[k], out.Low[k], out.High[k] = mean, max(mean-wide, 0), min(mean+wide, 1)
	}
	between := spread(s.draws, func(d drawn) float64 { return d.failed[y] })
	wide := z90 * math.Sqrt(s.chance[y]+between)
	out.FailedLow, out.FailedHigh = max(out.Failed-wide, 0), out.Failed+wide
	return out
}
