package opening

import (
	"math"
	"sync"

	"reseal/condition/valley"
)

// History is the readings of one joint, for EstimateNoiseFactor.
type History struct {
	Joint    Joint
	Readings []Reading
}

// NoiseEstimate is the agency-wide noise factor and what it rests on.
type NoiseEstimate struct {
	Factor   float64 // multiplies every reading's variance
	LogSE    float64 // standard error of log Factor
	Joints   int     // joints with two readings or more, usable
	Readings int     // their readings
	Enough   bool    // false: too few readings, and Factor is 1
}

// enoughResiduals is the least number of readings beyond each joint's first.
const enoughResiduals = 30

// EstimateNoiseFactor returns the one factor on the variance of readings that
// makes all of the agency's readings together most likely (maximum marginal
// likelihood over every joint's mixture, golden-section search between 1/100
// and 100). A factor per joint would let a stuck joint pass as a noisy one.
// Joints with one reading, or with input that Fit refuses, are left out; under
// 30 residuals the factor is 1. The result is the same on any number of
// processors.
func EstimateNoiseFactor(histories []History, s Settings) NoiseEstimate {
	s = s.filled()
	var est NoiseEstimate
	usable := make([]*History, 0, len(histories))
	for i := range histories {
		h := &histories[i]
		if len(h.Readings) < 2 {
			continue
		}
		if _, err := Fit(h.Joint, h.Readings, s); err != nil {
			continue
		}
		usable = append(usable, h)
		est.Readings += len(h.Readings)
	}
	est.Joints = len(usable)
	est.Factor = 1
	if est.Readings-est.Joints < enoughResiduals {
		return est
	}
	loss := func(logFactor float64) float64 {
		at := s
		at.NoiseFactor = math.Exp(logFactor)
		return -logLikelihood(usable, at)
	}
	best := valley.Lowest(loss, math.Log(0.01), math.Log(100), 1e-4)
	const step = 0.05
	curve := (loss(best+step) - 2*loss(best) + loss(best-step)) / (step * step)
	if curve > 0 {
		est.LogSE = 1 / math.Sqrt(curve)
	}
	est.Factor, est.Enough = math.Exp(best), true
	return est
}

// logLikelihood adds up in blocks of fixed size, so that the sum does not
// depend on who computed what.
func logLikelihood(histories []*History, s Settings) float64 {
	const block = 4096
	sums := make([]float64, (len(histories)+block-1)/block)
	var wg sync.WaitGroup
	for b := range sums {
		wg.Go(func() {
			for _, h := range histories[b*block : min((b+1)*block, len(histories))] {
				_, logL := fit(&h.Joint, h.Readings, s)
				sums[b] += logL
			}
		})
	}
	wg.Wait()
	var total float64
	for _, sum := range sums {
		total += sum
	}
	return total
}
