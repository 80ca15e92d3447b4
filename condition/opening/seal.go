package opening

import "math"

// Kind is a generic kind of seal.
type Kind string

// The kinds of the built-in catalogue.
const (
	PouredSilicone Kind = "poured silicone"
	PouredSealant  Kind = "poured sealant"
	Compression    Kind = "compression seal"
	StripSeal      Kind = "strip seal"
	Gland          Kind = "preformed gland"
	Foam           Kind = "closed-cell foam"
	AsphaltPlug    Kind = "asphaltic plug"
	ModularJoint   Kind = "modular joint"
)

// Seal is one row of a catalogue: a generic kind and size, with what it can
// take, square to the joint line. A zero limit means that none is given.
type Seal struct {
	Kind Kind
	Size string // as a person says it: "3 in wide"

	MinIn, MaxIn float64 // working openings, in

	// Limits of a poured seal, as shares of its width when installed: how much
	// it may open, how much it may close, and how wide the whole movement may be.
	OpenShare, CloseShare, MovementShare float64
	MovementIn                           float64 // the whole movement allowed, in

	Cells                      int     // seals in a modular joint; 0 for one
	WidthIn                    float64 // uncompressed width of a compression or foam seal, in
	InstallMinIn, InstallMaxIn float64 // openings it can be installed at, in
	RackingIn                  float64 // movement along the joint line it allows, in
	SkewMaxDeg                 float64
	InstallMinF                float64 // lowest deck temperature to install at, °F

	Source       string // where the row is from, word for word what is known of it
	Illustrative bool   // not from a published table
}

// CapacityIn returns the whole movement the seal can follow, in inches; 0 for a
// poured seal, which depends on its width when installed.
func (s Seal) CapacityIn() float64 { return max(s.MovementIn, s.MaxIn-s.MinIn) }

// LimitsAt returns the openings the seal works between, in inches, given the
// opening it was installed at, which matters for poured seals only.
func (s Seal) LimitsAt(installedIn float64) Limits {
	m := Limits{MinIn: s.MinIn, MaxIn: s.MaxIn, RackingIn: s.RackingIn}
	if s.OpenShare > 0 {
		m.MinIn, m.MaxIn = (1-s.CloseShare)*installedIn, (1+s.OpenShare)*installedIn
	}
	return m
}

// CompressionRule gives the working widths of a compression seal, and the
// racking it takes, as shares of its uncompressed width.
type CompressionRule struct{ Low, High, Racking float64 }

// DefaultCompressionRule returns 0.40, 0.85 and 0.22: from memory of WSDOT
// Bridge Design Manual M 23-50, chapter 9.1.
func DefaultCompressionRule() CompressionRule { return CompressionRule{0.40, 0.85, 0.22} }

// WidthIn returns the least uncompressed width, in inches, for a movement
// square to the joint line and a racking along it.
func (r CompressionRule) WidthIn(squareIn, rackingIn float64) float64 {
	width := squareIn / (r.High - r.Low)
	if r.Racking > 0 {
		width = max(width, rackingIn/r.Racking)
	}
	return width
}

// SetIn returns the opening, in inches, to set a seal of a width at, so that
// it is at the rule's lowest width on the hottest deck and at its highest on
// the coldest: the linear rule of FHWA Technical Advisory T 5040.30 (1990).
func (r CompressionRule) SetIn(widthIn, deckTempF float64, over TempRange) float64 {
	share := (deckTempF - over.MinF) / over.SpanF()
	return widthIn * (r.High - share*(r.High-r.Low))
}

// NewOpening is an opening to build and the seal size it needs.
type NewOpening struct {
	InstallIn float64 // opening at the installation temperature
	SizeIn    float64 // largest opening, which the seal must reach
}

// SizeNewOpening returns the least opening at the installation temperature
// that closes no further than closedIn and is not under installMinIn, and the
// largest opening that follows.
func SizeNewOpening(d Demand, closedIn, installMinIn float64) NewOpening {
	install := max(closedIn+d.CloseIn, installMinIn)
	return NewOpening{install, install + d.OpenIn}
}

// RoundUpIn rounds a size up to the next step, both in inches; a size within
// 1e-9 of a step is that step.
func RoundUpIn(sizeIn, stepIn float64) float64 {
	return math.Ceil(sizeIn/stepIn-1e-9) * stepIn
}
