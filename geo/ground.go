package geo

import (
	"math"

	"github.com/paulmach/orb"
)

// FeetPerMetre converts metres to international feet of exactly 0.3048 m (NIST
// Special Publication 811, 2008, appendix B). The US survey foot, retired at
// the end of 2022, is longer by 2 parts in a million: 0.06 ft on the longest
// bridges, nothing on a deck.
const FeetPerMetre = 1 / 0.3048

// WGS 84: semi-major axis in metres and flattening (NGA.STND.0036, 2014,
// table 3.1), and the semi-minor axis that follows.
const (
	axisM      = 6378137.0
	flattening = 1 / 298.257223563
	polarAxisM = axisM * (1 - flattening)
)

// maxRounds bounds the iterations below: four are usual, and only nearly
// antipodal points need more than ten.
const maxRounds = 50

// Destination returns the point reached from p along the geodesic that leaves
// at bearingDeg, after distanceFt. A negative distance goes backwards. The
// longitude is in [-180, 180).
//
// Accuracy: 0.1 mm on the ellipsoid at any distance up to half the globe, far
// inside what a float64 degree can hold (T. Vincenty, "Direct and inverse
// solutions of geodesics on the ellipsoid with application of nested
// equations", Survey Review XXIII(176), 1975, direct formula).
//
// All arguments must be finite and the latitude within ±90; anything else
// gives NaN, which the gpkg and geojson packages refuse to write.
func Destination(p orb.Point, bearingDeg, distanceFt float64) orb.Point {
	distanceM := distanceFt / FeetPerMetre
	sinAz, cosAz := math.Sincos(radians(bearingDeg))
	sinU, cosU := reducedLatitude(p[1])

	sigma1 := math.Atan2(sinU, cosU*cosAz)
	sinAlpha := cosU * sinAz
	cosSqAlpha := 1 - sinAlpha*sinAlpha
	a, b := seriesAB(cosSqAlpha)

	sigma := distanceM / (polarAxisM * a)
	var sinSigma, cosSigma, cos2Mid float64
	for range maxRounds {
		cos2Mid = math.Cos(2*sigma1 + sigma)
		sinSigma, cosSigma = math.Sincos(sigma)
		next := distanceM/(polarAxisM*a) + deltaSigma(b, sinSigma, cosSigma, cos2Mid)
		done := math.Abs(next-sigma) < 1e-15
		sigma = next
		if done {
			break
		}
	}
	cos2Mid = math.Cos(2*sigma1 + sigma)
	sinSigma, cosSigma = math.Sincos(sigma)

	t := sinU*sinSigma - cosU*cosSigma*cosAz
	lat := math.Atan2(sinU*cosSigma+cosU*sinSigma*cosAz, (1-flattening)*math.Hypot(sinAlpha, t))
	lambda := math.Atan2(sinSigma*sinAz, cosU*cosSigma-sinU*sinSigma*cosAz)
	lambda -= longitudeExcess(sinAlpha, cosSqAlpha, sigma, sinSigma, cosSigma, cos2Mid)
	return orb.Point{wrapLongitude(p[0] + degrees(lambda)), degrees(lat)}
}

// DistanceFt returns the length in feet of the geodesic between two points.
// The source and the accuracy are those of Destination. For nearly antipodal
// points, where the iteration does not settle, it returns the great circle on
// a sphere of the mean radius instead (within 0.6 %). A coordinate that is not
// finite, or a latitude beyond ±90, gives NaN.
func DistanceFt(a, b orb.Point) float64 {
	sinU1, cosU1 := reducedLatitude(a[1])
	sinU2, cosU2 := reducedLatitude(b[1])
	deltaLon := radians(wrapLongitude(b[0] - a[0]))
	if math.IsNaN(sinU1 + sinU2 + deltaLon) {
		return math.NaN()
	}

	lambda := deltaLon
	for range maxRounds {
		sinL, cosL := math.Sincos(lambda)
		sinSigma := math.Hypot(cosU2*sinL, cosU1*sinU2-sinU1*cosU2*cosL)
		if sinSigma == 0 {
			if cosL > 0 && a[1]*b[1] >= 0 {
				return 0
			}
			break // opposite ends of the globe
		}
		cosSigma := sinU1*sinU2 + cosU1*cosU2*cosL
		sigma := math.Atan2(sinSigma, cosSigma)
		sinAlpha := cosU1 * cosU2 * sinL / sinSigma
		cosSqAlpha := 1 - sinAlpha*sinAlpha
		cos2Mid := 0.0 // along the equator
		if cosSqAlpha > 0 {
			cos2Mid = cosSigma - 2*sinU1*sinU2/cosSqAlpha
		}
		next := deltaLon + longitudeExcess(sinAlpha, cosSqAlpha, sigma, sinSigma, cosSigma, cos2Mid)
		if math.Abs(next) > math.Pi {
			break
		}
		if math.Abs(next-lambda) < 1e-14 {
			sa, sb := seriesAB(cosSqAlpha)
			return polarAxisM * sa * (sigma - deltaSigma(sb, sinSigma, cosSigma, cos2Mid)) * FeetPerMetre
		}
		lambda = next
	}
	return greatCircleFt(a, b)
}

// CrossLine returns the line drawn across a road: where the joint of a deck
// lies. center is a point on the centreline, bearingDeg the direction of the
// road there, alongFt how far ahead of center the line crosses (behind when
// negative), lengthFt the length of the line itself, from edge to edge.
//
// skewDeg is the angle from the line square to the road, |skewDeg| < 90. It is
// positive when the right end lies ahead (right forward), negative when the
// left end does. The line runs from its left end to its right end, looking
// along bearingDeg. Both halves are geodesics from the centreline; the road is
// taken as straight over alongFt.
//
// A length that is not positive, or any argument that is not usable, gives
// nil: no line.
func CrossLine(center orb.Point, bearingDeg, alongFt, lengthFt, skewDeg float64) orb.LineString {
	if !(lengthFt > 0) || !(math.Abs(skewDeg) < 90) {
		return nil
	}
	crossing := Destination(center, bearingDeg, alongFt)
	rightDeg := bearingDeg + 90 - skewDeg
	line := orb.LineString{
		Destination(crossing, rightDeg, -lengthFt/2),
		Destination(crossing, rightDeg, lengthFt/2),
	}
	for _, p := range line {
		if !finite(p) {
			return nil
		}
	}
	return line
}

func finite(p orb.Point) bool {
	return !math.IsNaN(p[0]-p[0]) && !math.IsNaN(p[1]-p[1])
}

// reducedLatitude returns the sine and cosine of U, tan U = (1-f) tan φ.
func reducedLatitude(latDeg float64) (sinU, cosU float64) {
	if !(math.Abs(latDeg) <= 90) {
		return math.NaN(), math.NaN()
	}
	sin, cos := math.Sincos(radians(latDeg))
	h := math.Hypot((1-flattening)*sin, cos)
	return (1 - flattening) * sin / h, cos / h
}

// seriesAB is A and B of Vincenty (1975), formulas 3 and 4.
func seriesAB(cosSqAlpha float64) (a, b float64) {
	u := cosSqAlpha * (axisM*axisM/(polarAxisM*polarAxisM) - 1)
	a = 1 + u/16384*(4096+u*(-768+u*(320-175*u)))
	b = u / 1024 * (256 + u*(-128+u*(74-47*u)))
	return a, b
}

// deltaSigma is Δσ of Vincenty (1975), formula 6.
func deltaSigma(b, sinSigma, cosSigma, cos2Mid float64) float64 {
	return b * sinSigma * (cos2Mid + b/4*(cosSigma*(2*cos2Mid*cos2Mid-1)-
		b/6*cos2Mid*(4*sinSigma*sinSigma-3)*(4*cos2Mid*cos2Mid-3)))
}

// longitudeExcess is λ - L of Vincenty (1975), formulas 10 and 11.
func longitudeExcess(sinAlpha, cosSqAlpha, sigma, sinSigma, cosSigma, cos2Mid float64) float64 {
	c := flattening / 16 * cosSqAlpha * (4 + flattening*(4-3*cosSqAlpha))
	return (1 - c) * flattening * sinAlpha *
		(sigma + c*sinSigma*(cos2Mid+c*cosSigma*(2*cos2Mid*cos2Mid-1)))
}

func greatCircleFt(a, b orb.Point) float64 {
	const meanRadiusM = (2*axisM + polarAxisM) / 3
	sinLat := math.Sin(radians(b[1]-a[1]) / 2)
	sinLon := math.Sin(radians(b[0]-a[0]) / 2)
	h := sinLat*sinLat + math.Cos(radians(a[1]))*math.Cos(radians(b[1]))*sinLon*sinLon
	return 2 * meanRadiusM * math.Asin(math.Sqrt(min(1, h))) * FeetPerMetre
}

// wrapLongitude brings a longitude into [-180, 180).
func wrapLongitude(deg float64) float64 {
	if deg >= -180 && deg < 180 {
		return deg
	}
	deg = math.Mod(deg+180, 360)
	if deg < 0 {
		deg += 360
	}
	if deg >= 360 { // a hair west of -180, rounded up
		deg = 0
	}
	return deg - 180
}

func radians(deg float64) float64 { return deg * math.Pi / 180 }
func degrees(rad float64) float64 { return rad * 180 / math.Pi }
