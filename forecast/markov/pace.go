package markov

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Pace is how fast joints of one group wear against their group: a joint of
// pace 2 goes through every state in half the time. Paces follow a gamma
// distribution of mean 1 and variance 1/k, held as a fixed grid of paces with
// the probability of each.
//
// The integral over Z ~ Gamma(k, k) runs over this grid by the trapezoid rule
// in log z, which for a smooth density that vanishes at both ends converges
// faster than any power of the step (Trefethen & Weideman 2014, SIAM Review
// 56:385), and keeps its accuracy when a joint's long record narrows it to a
// small part of the grid.
type Pace struct {
	Z     []float64 // the paces, rising
	Prior []float64 // probability of each before the joint's own inspections
}

// GridPoints is the usual number of grid points of a pace.
const GridPoints = 16

// slowestPace is where the grid ends below, for the sake of k under 1: a joint
// as slow as that does not age within any horizon.
const slowestPace = 0.005

// NewPace returns the grid for Z ~ Gamma(k, k) with the given number of points
// (0 means GridPoints). k = +Inf is one pace of 1: joints don't differ. k must
// be at least 0.1.
func NewPace(k float64, points int) (Pace, error) {
	if points == 0 {
		points = GridPoints
	}
	switch {
	case math.IsInf(k, 1):
		return Pace{Z: []float64{1}, Prior: []float64{1}}, nil
	case !(k >= 0.1) || points < 2:
		return Pace{}, fmt.Errorf("%w pace: k = %v with %d points", ErrInvalid, k, points)
	}
	lo := math.Log(max(mathext.GammaIncRegInv(k, 1e-5)/k, slowestPace))
	hi := math.Log(mathext.GammaIncRegCompInv(k, 1e-6) / k)
	p := Pace{Z: make([]float64, points), Prior: make([]float64, points)}
	sum, mean := 0.0, 0.0
	for i := range points {
		x := lo + (hi-lo)*float64(i)/float64(points-1)
		z := math.Exp(x)
		p.Z[i] = z
		// density of log z, up to a factor that the division by the sum takes out
		p.Prior[i] = math.Exp(k * (1 + x - z))
		sum += p.Prior[i]
	}
	for i := range points {
		p.Prior[i] /= sum
		mean += p.Prior[i] * p.Z[i]
	}
	for i := range p.Z {
		p.Z[i] /= mean // the cut ends leave the mean a hair off 1
	}
	return p, nil
}

// Posterior writes to dst the probability of each pace after the joint's own
// inspections since it was new or restarted. pieces is the number of pieces of
// a joint that fail independently of each other: the w of
//
//	weight_g ∝ π_g · exp( Σ_intervals w Σ_ij s_ij · log P_ij(z_g Δt) )
//
// with s_ij the shares that went from state i to j, by Match. prior is
// p.Prior for a first life, or what Renew gives. Intervals in which the joint
// improved are errors that wrap ErrImpossible; restart the life there.
func (p Pace) Posterior(dst, prior []float64, c Chain, life []Interval, pieces float64) error {
	n := c.states
	var flow, prob [MaxStates * MaxStates]float64
	var e expm
	e.init(c.moves, n, c.oneWay)
	for g := range p.Z {
		dst[g] = math.Log(prior[g])
	}
	for t, v := range life {
		if len(v.Before) != n || len(v.After) != n || !(v.Years > 0) {
			return fmt.Errorf("%w interval %d: %v years, %d and %d states", ErrInvalid, t+1, v.Years, len(v.Before), len(v.After))
		}
		if err := Match(flow[:n*n], v.Before, v.After); err != nil {
			return fmt.Errorf("interval %d: %w", t+1, err)
		}
		for g, z := range p.Z {
			e.exp(prob[:n*n], c.rates, z*v.Years)
			for ij, s := range flow[:n*n] {
				if s > 0 {
					dst[g] += pieces * s * math.Log(prob[ij])
				}
			}
		}
	}
	if top := normaliseLogs(dst[:len(p.Z)]); math.IsInf(top, -1) || math.IsNaN(top) {
		return fmt.Errorf("inspections are %w", ErrImpossible)
	}
	return nil
}

// Renew writes to dst the weights for the next seal in the same place: the
// site keeps its pace with probability rho (its traffic and movement are the
// same), and else draws a new one.
//
//	ρ · posterior + (1 − ρ) · prior
func (p Pace) Renew(dst, posterior []float64, rho float64) {
	for g := range p.Z {
		dst[g] = rho*posterior[g] + (1-rho)*p.Prior[g]
	}
}

// Mean is the mean pace under the weights: 1.6 says that the joint wears 1.6
// times as fast as its group.
func (p Pace) Mean(weights []float64) float64 {
	mean := 0.0
	for g, z := range p.Z {
		mean += weights[g] * z
	}
	return mean
}

// normaliseLogs turns logarithms of weights into weights that add up to 1 and
// returns the logarithm of their sum before; where all are -Inf so is that, and
// the weights are 0.
func normaliseLogs(x []float64) float64 {
	top := math.Inf(-1)
	for _, v := range x {
		top = max(top, v)
	}
	if math.IsInf(top, -1) {
		clear(x)
		return top
	}
	sum := 0.0
	for i, v := range x {
		x[i] = math.Exp(v - top)
		sum += x[i]
	}
	for i := range x {
		x[i] /= sum
	}
	return top + math.Log(sum)
}
