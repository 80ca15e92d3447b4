package opening

import (
	"errors"
	"fmt"
	"math"
)

// ErrInvalid marks input that cannot be worked with: a missing expansion
// length, a number that is not finite, an angle out of range.
var ErrInvalid = errors.New("invalid opening input")

// Material is the material of the superstructure that moves a joint.
type Material uint8

// The materials with a coefficient and a temperature range.
const (
	Steel Material = iota
	Concrete
	LightweightConcrete
)

// AlphaPerF returns the coefficient of thermal expansion, per °F: AASHTO LRFD
// Bridge Design Specifications (9th ed., 2020) 6.4.1 for structural steel,
// 5.4.2.2 for normal-weight and lightweight concrete.
func (m Material) AlphaPerF() float64 {
	switch m {
	case Concrete:
		return 6.0e-6
	case LightweightConcrete:
		return 5.0e-6
	default:
		return 6.5e-6
	}
}

// Climate is a climate class of AASHTO LRFD C3.12.2.1.
type Climate uint8

// Cold is the zero value: its range is the wider one, so a joint whose climate
// nobody entered is checked on the safe side.
const (
	Cold Climate = iota
	Moderate
)

// ClimateOf returns the class for a number of freezing days a year (days with
// an average temperature below 32 °F): moderate under 14, else cold, by AASHTO
// LRFD C3.12.2.1.
func ClimateOf(freezingDays float64) Climate {
	if freezingDays < 14 {
		return Moderate
	}
	return Cold
}

// TempRange is the range of superstructure temperature, °F. The zero value
// means "not given".
type TempRange struct {
	MinF, MaxF float64
}

// SpanF returns the width of the range in °F.
func (r TempRange) SpanF() float64 { return r.MaxF - r.MinF }

// ProcedureA returns the design temperature range by material and climate:
// AASHTO LRFD Bridge Design Specifications (9th ed., 2020), Table 3.12.2.1-1.
func ProcedureA(m Material, c Climate) TempRange {
	switch {
	case m == Steel && c == Moderate:
		return TempRange{0, 120}
	case m == Steel:
		return TempRange{-30, 120}
	case c == Moderate:
		return TempRange{10, 80}
	default:
		return TempRange{0, 80}
	}
}

// Joint holds what theory needs to know of one joint.
type Joint struct {
	// ExpansionLengthFt is the length of superstructure whose thermal movement
	// this joint takes, in ft. Required unless Still.
	ExpansionLengthFt float64
	// SkewDeg is the angle between the joint line and the line square to the
	// roadway centreline, degrees, -80 to 80.
	SkewDeg float64
	// ShrinkageIn is the permanent shortening still to come along the bridge,
	// in. It is counted at the cold limit and left out at the hot one: the safe
	// side of both.
	ShrinkageIn float64
	// AlphaPerF overrides the material's coefficient; 0 means the material's.
	AlphaPerF float64
	// Range overrides the range of Procedure A; zero means Procedure A.
	Range TempRange
	// Material and Climate choose the coefficient and the range.
	Material Material
	Climate  Climate
	// Still marks a fixed or longitudinal joint: no thermal movement is due,
	// and any movement is the alarm.
	Still bool
}

func (j Joint) validate() error {
	finite := func(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
	switch {
	case !finite(j.ExpansionLengthFt) || j.ExpansionLengthFt < 0 || j.ExpansionLengthFt > 1e5:
		return fmt.Errorf("%w: expansion length %g ft: give 0 to 100000", ErrInvalid, j.ExpansionLengthFt)
	case j.ExpansionLengthFt == 0 && !j.Still:
		return fmt.Errorf("%w: no expansion length: enter it, or propose it from spans and fixity", ErrInvalid)
	case !(math.Abs(j.SkewDeg) <= 80):
		return fmt.Errorf("%w: skew %g°: give -80 to 80", ErrInvalid, j.SkewDeg)
	case !(math.Abs(j.ShrinkageIn) <= 100):
		return fmt.Errorf("%w: shrinkage allowance %g in: give inches along the bridge", ErrInvalid, j.ShrinkageIn)
	case !(j.AlphaPerF >= 0 && j.AlphaPerF < 1e-3):
		return fmt.Errorf("%w: coefficient of expansion %g per °F", ErrInvalid, j.AlphaPerF)
	case !finite(j.Range.MinF) || !finite(j.Range.MaxF) || j.Range.MaxF < j.Range.MinF:
		return fmt.Errorf("%w: temperature range %g to %g °F: the lower comes first", ErrInvalid, j.Range.MinF, j.Range.MaxF)
	}
	return nil
}

func (j Joint) alpha() float64 {
	if j.AlphaPerF > 0 {
		return j.AlphaPerF
	}
	return j.Material.AlphaPerF()
}

// TempRange returns the joint's own range, or that of Procedure A.
func (j Joint) TempRange() TempRange {
	if j.Range != (TempRange{}) {
		return j.Range
	}
	return ProcedureA(j.Material, j.Climate)
}

// MovementIn returns the free movement along the bridge, in inches, between
// two superstructure temperatures in °F, positive as it warms; 0 where the
// joint is Still:
//
//	Δ = 12 · α · L · (T2 − T1)
//
// AASHTO LRFD 3.12.2.3, unfactored.
func (j Joint) MovementIn(fromF, toF float64) float64 {
	if j.Still {
		return 0
	}
	return 12 * j.alpha() * j.ExpansionLengthFt * (toF - fromF)
}

// SquareIn returns the part of a movement along the bridge that is square to
// the joint line, in inches: movement · cos θ.
func (j Joint) SquareIn(alongIn float64) float64 { return alongIn * math.Cos(radians(j.SkewDeg)) }

// RackingIn returns the part of a movement along the bridge that is parallel
// to the joint line, in inches: movement · |sin θ|.
func (j Joint) RackingIn(alongIn float64) float64 {
	return alongIn * math.Abs(math.Sin(radians(j.SkewDeg)))
}

// SlopeInPerF returns the theoretical change of the opening, square to the
// joint line, per °F: −12 · α · L · cos θ. It closes as the bridge warms.
func (j Joint) SlopeInPerF() float64 { return -j.SquareIn(j.MovementIn(0, 1)) }

// OpeningIn returns the theoretical opening square to the joint line, in
// inches, at a deck temperature, from a known opening at another:
//
//	g(T) = g_ref − 12 · α · L · cos θ · (T − T_ref)
func (j Joint) OpeningIn(refIn, refF, deckTempF float64) float64 {
	return refIn + j.SlopeInPerF()*(deckTempF-refF)
}

// ShrinkageIn returns the shortening of a concrete superstructure after its
// joint is installed, in inches: β · μ · L, with the strain β (0.0002 unless
// refined) and the restraint factor μ (0 steel girder, 0.5 precast prestressed
// girder, 0.8 box girder or T-beam, 1.0 slab). From memory of WSDOT Bridge
// Design Manual M 23-50, chapter 9.1.
func ShrinkageIn(strain, restraint, lengthFt float64) float64 {
	return 12 * strain * restraint * lengthFt
}

// Demand is what a seal must follow from the opening it was installed at,
// square to the joint line, in inches, both parts positive.
type Demand struct {
	OpenIn  float64 // opening beyond the installed one, at the coldest
	CloseIn float64 // closing from the installed one, at the hottest
}

// TotalIn returns the whole movement.
func (d Demand) TotalIn() float64 { return d.OpenIn + d.CloseIn }

// Plus returns the demand of two frames that meet at one joint.
func (d Demand) Plus(e Demand) Demand { return Demand{d.OpenIn + e.OpenIn, d.CloseIn + e.CloseIn} }

// Demand returns the movement square to the joint line, from an installation
// temperature to the ends of the temperature range, shrinkage included; the
// load factor multiplies the thermal part.
func (j Joint) Demand(installF, loadFactor float64) Demand {
	r := j.TempRange()
	return Demand{
		OpenIn:  j.SquareIn(loadFactor*j.MovementIn(r.MinF, installF) + j.ShrinkageIn),
		CloseIn: j.SquareIn(loadFactor * j.MovementIn(installF, r.MaxF)),
	}
}

// RangeRackingIn returns the racking over the whole temperature range, in
// inches, the load factor included.
func (j Joint) RangeRackingIn(loadFactor float64) float64 {
	r := j.TempRange()
	return j.RackingIn(loadFactor*j.MovementIn(r.MinF, r.MaxF) + math.Abs(j.ShrinkageIn))
}

func radians(deg float64) float64 { return deg * math.Pi / 180 }
