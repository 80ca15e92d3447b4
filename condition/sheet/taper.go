package sheet

import "math"

// Tapers are lengths of a row of channelizing devices, in whole feet.
type Tapers struct {
	MergingFt  int // closes a lane: L
	ShiftingFt int // moves traffic over: L/2
	ShoulderFt int // closes a shoulder: L/3
}

// TapersFor returns the least taper lengths for an offset W in feet at a speed
// S in mph, rounded half up:
//
//	L = W·S²/60 at 40 mph or less, L = W·S at 45 mph or more
//
// Manual on Uniform Traffic Control Devices (MUTCD), Part 6. Speeds in between
// take the longer formula. An offset or a speed of 0 or less, or not finite,
// gives zero tapers.
func TapersFor(offsetFt, speedMPH float64) Tapers {
	if !(offsetFt > 0 && speedMPH > 0) || math.IsInf(offsetFt+speedMPH, 0) {
		return Tapers{}
	}
	length := offsetFt * speedMPH
	if speedMPH <= 40 {
		length *= speedMPH / 60
	}
	halfUp := func(ft float64) int { return int(math.Floor(ft + 0.5)) }
	return Tapers{halfUp(length), halfUp(length / 2), halfUp(length / 3)}
}
