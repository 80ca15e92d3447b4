package condition

import (
	"fmt"
	"strings"

	"reseal/condition/opening"
	"reseal/inventory"
)

// FieldReading is a gap as it was read beside the joint, in whatever unit and
// direction.
type FieldReading struct {
	Gap           float64 // in, or mm where MM
	MM            bool
	AlongTraffic  bool    // not square to the joint
	OfCells       int     // one cell was measured of a modular joint with so many; 0: the whole joint
	CentreBeamsIn float64 // the whole of a modular joint was measured, its centre beams of this width included
	DeckTempF     *float64
	AirTempF      *float64
	Position      string
	Faces         string
	DepthIn       *float64
	AtInstall     bool
	Notes         string
}

// Reading is the reading as it goes on record: in inches, square to the joint
// by its skew or else its bridge's, and the clear opening of the whole joint.
// What was read stays in the notes where it was converted.
func (m *FieldReading) Reading(j *inventory.Joint, b *inventory.Bridge) (*Reading, error) {
	skew := 0.0
	if j.SkewDeg != nil {
		skew = *j.SkewDeg
	} else if b.SkewDeg != nil {
		skew = *b.SkewDeg
	}
	gap := m.Gap
	if m.MM {
		gap *= opening.InPerMM
	}
	shape := opening.Modular{Cells: m.OfCells, CentreBeamsIn: m.CentreBeamsIn}
	if m.OfCells == 0 && m.CentreBeamsIn > 0 {
		shape.Cells = 2 // any number: the whole was measured
	}
	square, err := opening.Measurement{Gap: gap, Along: m.AlongTraffic, OneCell: m.OfCells > 1}.Reading(skew, shape, opening.Settings{})
	if err != nil {
		return nil, err
	}
	r := &Reading{
		GapIn: square.GapIn, DeckTempF: m.DeckTempF, AirTempF: m.AirTempF, Position: m.Position, Faces: m.Faces,
		DepthIn: m.DepthIn, AtInstall: m.AtInstall, Cells: m.OfCells, Notes: m.Notes,
	}
	if read := m.asRead(skew); read != "" {
		r.Notes = strings.TrimPrefix(m.Notes+"; "+read, "; ")
	}
	return r, nil
}

// asRead says what was read where that is not what goes on record.
func (m *FieldReading) asRead(skewDeg float64) string {
	unit := "in"
	if m.MM {
		unit = "mm"
	}
	words := fmt.Sprintf("read as %g %s", m.Gap, unit)
	if m.AlongTraffic {
		words += fmt.Sprintf(" along traffic, skew %g°", skewDeg)
	}
	if m.OfCells > 1 {
		words += fmt.Sprintf(", one cell of %d", m.OfCells)
	}
	if m.CentreBeamsIn > 0 {
		words += fmt.Sprintf(", centre beams of %g in included", m.CentreBeamsIn)
	}
	if !m.MM && !m.AlongTraffic && m.OfCells == 0 && m.CentreBeamsIn == 0 {
		return ""
	}
	return words
}
