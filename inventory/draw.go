package inventory

import (
	"math"

	"github.com/paulmach/orb"

	"reseal/geo"
)

// Draw gives the joint a line across its bridge where nobody has surveyed one:
// at its station on a bridge that lies along its bearing, centred on the
// bridge's location, turned by the skew. Where the bearing is unknown, west to
// east is taken. A joint of a bridge without a location, or without a length,
// stays without a line; a line that was surveyed or edited is left alone.
func (j *Joint) Draw(b *Bridge) {
	if j.GeometrySource == Edited || j.GeometrySource == Surveyed {
		return
	}
	j.Geom, j.GeometrySource = geo.Geometry{}, ""
	center, ok := b.Geom.Geometry.(orb.Point)
	length := j.drawnLengthFt(b)
	if !ok || length <= 0 {
		return
	}
	bearing := 90.0
	if b.BearingDeg != nil {
		bearing = *b.BearingDeg
	}
	along := 0.0
	if j.StationFt != nil && b.LengthFt != nil {
		along = *j.StationFt - *b.LengthFt/2
	}
	skew := 0.0
	if j.SkewDeg != nil {
		skew = *j.SkewDeg
	} else if b.SkewDeg != nil {
		skew = *b.SkewDeg
	}
	if j.Place == "longitudinal" {
		bearing, skew = bearing+90, 0
	}
	j.Geom = geo.Geometry{Geometry: geo.CrossLine(center, bearing, along, length, skew)}
	j.GeometrySource = Drawn
}

// drawnLengthFt is the joint's length, or for a quantity of the whole bridge
// no more than one joint of it.
func (j *Joint) drawnLengthFt(b *Bridge) float64 {
	one, known := JointLengthFt(b)
	switch {
	case j.LengthFt == nil:
		return one
	case j.Scope == ScopeQuantity && known:
		return math.Min(*j.LengthFt, one)
	}
	return *j.LengthFt
}

// JointLengthFt is the length of a joint from curb to curb along the bridge's
// skew, width / cos(skew). It is not known where the bridge has no width or
// its skew varies.
func JointLengthFt(b *Bridge) (ft float64, known bool) {
	width := b.CurbWidthFt
	if width == nil || *width <= 0 {
		width = b.OutWidthFt
	}
	if width == nil || *width <= 0 {
		return 0, false
	}
	skew := 0.0
	if b.SkewDeg != nil && !b.SkewVaries {
		skew = *b.SkewDeg
	}
	if skew >= 85 {
		return 0, false
	}
	return *width / math.Cos(skew*math.Pi/180), true
}
