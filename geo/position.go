package geo

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
)

var (
	// ErrNoPosition says that the inventory gives no position: blank or zero.
	ErrNoPosition = errors.New("no position")
	// ErrInvalid marks text or bytes that cannot be a position or a geometry.
	ErrInvalid = errors.New("invalid")
)

// ParsePackedLat reads a latitude as item 16 of the National Bridge Inventory
// writes it, DDMMSSss: degrees, minutes, seconds and hundredths of a second in
// eight digits, without a sign (FHWA-PD-96-001, Recording and Coding Guide,
// 1995, item 16). The result is in degrees, 0 to 90; the inventory is north of
// the equator, but for American Samoa, where the caller negates it.
//
// Real files vary, and this is what is taken: leading zeros that a spreadsheet
// lost are put back; with a decimal point the digits before it are DDMMSS and
// those after it a fraction of a second (643659.8 is 64°36'59.8"), except that
// a fraction of nothing but zeros after a full eight digits is dropped.
//
// Blanks and zeros give ErrNoPosition. Minutes or seconds of 60 and over,
// degrees out of range, a sign, and anything else give ErrInvalid with the part
// that is wrong: a guess would put the bridge on another road.
func ParsePackedLat(s string) (deg float64, err error) {
	deg, err = parsePacked(s, 2, 90)
	if err != nil {
		return 0, fmt.Errorf("latitude %q: %w", s, err)
	}
	return deg, nil
}

// ParsePackedLon reads a longitude as item 17 writes it, DDDMMSSss in nine
// digits, without a sign. It is ParsePackedLat for 0 to 180 degrees. The
// longitudes of the United States are west: the caller negates the result,
// except for Guam and the Northern Marianas, which are east.
func ParsePackedLon(s string) (deg float64, err error) {
	deg, err = parsePacked(s, 3, 180)
	if err != nil {
		return 0, fmt.Errorf("longitude %q: %w", s, err)
	}
	return deg, nil
}

// parsePacked reads degreeDigits digits of degrees, then MMSSss or MMSS.s.
func parsePacked(s string, degreeDigits int, maxDeg float64) (float64, error) {
	whole, fraction, decimal := strings.Cut(strings.TrimSpace(s), ".")
	if !digits(whole) || !digits(fraction) {
		return 0, fmt.Errorf("%w: want digits only, without a sign", ErrInvalid)
	}
	if strings.Trim(whole+fraction, "0") == "" {
		return 0, ErrNoPosition
	}
	width := degreeDigits + 6
	if decimal && len(whole) <= width-2 {
		// Seconds carry the decimals: pad to DDMMSS and read on as SS.fraction.
		width -= 2
	} else if strings.Trim(fraction, "0") != "" {
		return 0, fmt.Errorf("%w: decimals after %d digits, want %d at most before them", ErrInvalid, len(whole), width-2)
	}
	if len(whole) > width {
		return 0, fmt.Errorf("%w: %d digits, want %d", ErrInvalid, len(whole), width)
	}
	whole = strings.Repeat("0", width-len(whole)) + whole
	seconds := whole[degreeDigits+2:]
	if width == degreeDigits+6 {
		seconds, fraction = seconds[:2], seconds[2:]
	}

	deg := number(whole[:degreeDigits])
	minute := number(whole[degreeDigits : degreeDigits+2])
	second := number(seconds + "." + fraction)
	switch value := deg + minute/60 + second/3600; {
	case deg > maxDeg:
		return 0, fmt.Errorf("%w: %.0f degrees, at most %.0f", ErrInvalid, deg, maxDeg)
	case minute >= 60:
		return 0, fmt.Errorf("%w: %.0f minutes, must be under 60", ErrInvalid, minute)
	case second >= 60:
		return 0, fmt.Errorf("%w: %v seconds, must be under 60", ErrInvalid, second)
	case value > maxDeg:
		return 0, fmt.Errorf("%w: %v degrees, at most %.0f", ErrInvalid, value, maxDeg)
	default:
		return value, nil
	}
}

func digits(s string) bool {
	return strings.Trim(s, "0123456789") == ""
}

// number reads what digits has let through.
func number(s string) float64 {
	v, _ := strconv.ParseFloat(s, 64)
	return v
}
