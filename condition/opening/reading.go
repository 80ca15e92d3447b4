package opening

import (
	"fmt"
	"math"
	"slices"
)

// InPerMM and the functions below convert what was read in metric units, once,
// at entry.
const InPerMM = 1 / 25.4

// FahrenheitOf converts degrees Celsius.
func FahrenheitOf(celsius float64) float64 { return celsius*9/5 + 32 }

// AlphaPerFOf converts a coefficient of expansion per °C.
func AlphaPerFOf(perC float64) float64 { return perC * 5 / 9 }

// FeetOf converts metres (1 ft = 0.3048 m).
func FeetOf(metres float64) float64 { return metres / 0.3048 }

// Measurement is what was written down beside the joint.
type Measurement struct {
	Year     float64 // when, as a decimal year
	Gap      float64 // in, or mm where Metric
	Temp     float64 // °F, or °C where Metric
	Metric   bool
	AirTemp  bool   // the temperature is the air's, not the deck's
	Along    bool   // measured along traffic, not square to the joint line
	OneCell  bool   // one cell of a modular joint, not the whole of it
	Position string // "left curb", "lane 1", "right curb"; blank for one place only
	Faces    string // between what it was measured: "headers", "armour", "extrusions"
	DepthIn  float64
}

// Modular describes a joint of several seals between centre beams; the zero
// value is a joint of one seal.
type Modular struct {
	Cells         int
	CentreBeamsIn float64 // width of all centre beams together
}

// Reading returns the measurement as the opening line takes it: in inches and
// °F, square to the joint line (gap · cos θ where measured along traffic), and
// for a modular joint the clear opening, the sum of its cells. One cell stands
// for all, so its tape error is multiplied by their number.
func (m Measurement) Reading(skewDeg float64, shape Modular, s Settings) (Reading, error) {
	gap, temp := m.Gap, m.Temp
	if m.Metric {
		gap, temp = gap*InPerMM, FahrenheitOf(temp)
	}
	r := Reading{Year: m.Year, DeckTempF: temp, AirTemp: m.AirTemp}
	square := 1.0
	if m.Along {
		square = math.Cos(radians(skewDeg))
	}
	switch {
	case shape.Cells < 2 && m.OneCell:
		return Reading{}, fmt.Errorf("%w: one cell was measured, but the joint has no number of cells on record", ErrInvalid)
	case shape.Cells < 2:
		r.GapIn = gap * square
	case m.OneCell:
		r.GapIn = gap * square * float64(shape.Cells)
		r.TapeIn = s.filled().TapeIn * float64(shape.Cells)
	default:
		r.GapIn = gap*square - shape.CentreBeamsIn
	}
	return r, r.validate()
}

// Offset is how much wider than the joint's mean opening one position is.
type Offset struct {
	Position string
	OffsetIn float64
	Readings int
}

// Pool turns measurements at several positions along one joint into one
// reading a visit (same year and temperature), and the offset of each
// position, in order of name: a joint that opens as a wedge has a wide spread,
// and Line.Shift gives the line at its widest place. Visits and positions are
// fitted together by least squares, so a visit that missed a position does not
// bias the rest. Measurements between different faces do not compare: Pool
// refuses them.
func Pool(ms []Measurement, skewDeg float64, shape Modular, s Settings) ([]Reading, []Offset, error) {
	s = s.filled()
	type visit struct {
		year, tempF float64
		air         bool
	}
	var visits []visit
	var offsets []Offset
	all := make([]Reading, len(ms))
	visitOf, offsetOf := make([]int, len(ms)), make([]int, len(ms))
	faces := ""
	for i, m := range ms {
		r, err := m.Reading(skewDeg, shape, s)
		if err != nil {
			return nil, nil, fmt.Errorf("measurement %d: %w", i+1, err)
		}
		if m.Faces != "" && faces != "" && m.Faces != faces {
			return nil, nil, fmt.Errorf("%w: measurement %d is between %s, others between %s: keep one of the two", ErrInvalid, i+1, m.Faces, faces)
		}
		if m.Faces != "" {
			faces = m.Faces
		}
		all[i] = r
		v := visit{r.Year, r.DeckTempF, r.AirTemp}
		if visitOf[i] = slices.Index(visits, v); visitOf[i] < 0 {
			visitOf[i] = len(visits)
			visits = append(visits, v)
		}
		offsetOf[i] = slices.IndexFunc(offsets, func(o Offset) bool { return o.Position == m.Position })
		if offsetOf[i] < 0 {
			offsetOf[i] = len(offsets)
			offsets = append(offsets, Offset{Position: m.Position})
		}
		offsets[offsetOf[i]].Readings++
	}
	gaps := balance(all, visitOf, len(visits), offsetOf, offsets)
	readings := make([]Reading, len(visits))
	counts := make([]float64, len(visits))
	tapes := make([]float64, len(visits))
	for i, v := range visitOf {
		counts[v]++
		tapes[v] += max(all[i].TapeIn, s.TapeIn)
	}
	for v, at := range visits {
		mean := tapes[v] / counts[v]
		readings[v] = Reading{Year: at.year, DeckTempF: at.tempF, AirTemp: at.air, GapIn: gaps[v], TapeIn: mean / math.Sqrt(counts[v])}
	}
	slices.SortFunc(offsets, func(a, b Offset) int {
		if a.Position < b.Position {
			return -1
		}
		return 1
	})
	return readings, offsets, nil
}

// balance fits gap = visit + position by alternating means (least squares in
// a two-way table), positions averaging 0, and returns the visits' openings.
func balance(all []Reading, visitOf []int, visits int, offsetOf []int, offsets []Offset) []float64 {
	gaps := make([]float64, visits)
	sums, counts := make([]float64, max(visits, len(offsets))), make([]float64, max(visits, len(offsets)))
	means := func(of []int, value func(i int) float64, put func(k int, mean float64)) {
		clear(sums)
		clear(counts)
		for i, k := range of {
			sums[k] += value(i)
			counts[k]++
		}
		for k := range sums {
			if counts[k] > 0 {
				put(k, sums[k]/counts[k])
			}
		}
	}
	for range 100 {
		means(visitOf, func(i int) float64 { return all[i].GapIn - offsets[offsetOf[i]].OffsetIn },
			func(k int, mean float64) { gaps[k] = mean })
		means(offsetOf, func(i int) float64 { return all[i].GapIn - gaps[visitOf[i]] },
			func(k int, mean float64) { offsets[k].OffsetIn = mean })
		var centre float64
		for _, o := range offsets {
			centre += o.OffsetIn / float64(len(offsets))
		}
		for k := range offsets {
			offsets[k].OffsetIn -= centre
		}
	}
	means(visitOf, func(i int) float64 { return all[i].GapIn - offsets[offsetOf[i]].OffsetIn },
		func(k int, mean float64) { gaps[k] = mean })
	return gaps
}
