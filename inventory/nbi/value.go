package nbi

import (
	"bytes"
	"fmt"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"

	"reseal/geo"
)

// whole returns a whole number from 0 to limit, or NotRecorded for a blank, for
// N and for what it notes as a problem.
func (d *decoder) whole(it item, limit int) int {
	b := bytes.TrimSpace(d.row[it])
	if len(b) == 0 || len(b) == 1 && b[0] == 'N' {
		return NotRecorded
	}
	number := b
	if dot := bytes.IndexByte(b, '.'); dot > 0 && len(bytes.Trim(b[dot+1:], "0")) == 0 {
		number = b[:dot] // 24.0, as spreadsheets write it
	}
	n, ok := digits(number)
	if !ok || n > limit {
		d.problem(it, fmt.Sprintf("is not a whole number from 0 to %d", limit))
		return NotRecorded
	}
	return n
}

// year returns a year of four digits, or 0 for none.
func (d *decoder) year(it item) int {
	y := max(0, d.whole(it, 9999))
	if y != 0 && (y < 1600 || y > 2199) {
		d.problem(it, "is not a year")
		return 0
	}
	return y
}

// feet returns a length given in metres and tenths, or 0 for none.
func (d *decoder) feet(it item, width int) float64 {
	m, _ := d.metric(it, width, 1)
	return m * geo.FeetPerMetre
}

// metric returns a number with decimals and whether there is one. A number of
// the item's whole width without a point is the guide's own coding, in which
// the last places are decimals: 000494 is 49.4.
func (d *decoder) metric(it item, width, places int) (float64, bool) {
	b := bytes.TrimSpace(d.row[it])
	if len(b) == 0 || len(b) == 1 && b[0] == 'N' {
		return 0, false
	}
	value, ok := decimal(b)
	if !ok {
		d.problem(it, "is not a number of zero or more")
		return 0, false
	}
	if len(b) == width && bytes.IndexByte(b, '.') < 0 {
		value /= powersOfTen[places]
	}
	return value, true
}

// word returns what a code of one or two digits means, "" for a blank and for
// what it notes as a problem.
func word(d *decoder, it item, words []string) string {
	code := d.whole(it, 99)
	if code == NotRecorded {
		return ""
	}
	if code >= len(words) {
		d.problem(it, "is not a code of the coding guide")
		return ""
	}
	return words[code]
}

var powersOfTen = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9}

// digits returns a number of one to nine digits.
func digits(b []byte) (n int, ok bool) {
	if len(b) == 0 || len(b) > 9 {
		return 0, false
	}
	for _, c := range b {
		if c < '0' || c > '9' {
			return 0, false
		}
		n = 10*n + int(c-'0')
	}
	return n, true
}

// decimal returns a number of one to nine digits with a point or without. The
// digits and the power of ten are exact, so the quotient is rounded once.
func decimal(b []byte) (float64, bool) {
	n, count, places, point := 0, 0, 0, false
	for _, c := range b {
		switch {
		case c == '.' && !point:
			point = true
		case c >= '0' && c <= '9' && count < 9:
			n = 10*n + int(c-'0')
			count++
			if point {
				places++
			}
		default:
			return 0, false
		}
	}
	return float64(n) / powersOfTen[places], count > 0
}

func (d *decoder) keepText(to *string, it item) {
	from := len(d.text)
	d.appendText(bytes.TrimSpace(d.row[it]))
	d.spans = append(d.spans, span{to, from, len(d.text)})
}

// keepPadded keeps a code and restores the zeros that a spreadsheet took from
// its front.
func (d *decoder) keepPadded(to *string, code []byte, width int) {
	from := len(d.text)
	if _, ok := digits(code); ok {
		for n := len(code); n < width; n++ {
			d.text = append(d.text, '0')
		}
	}
	d.appendText(code)
	d.spans = append(d.spans, span{to, from, len(d.text)})
}

// appendText adds text to the record's string as UTF-8.
func (d *decoder) appendText(b []byte) {
	d.text = appendUTF8(d.text, b)
}

func appendUTF8(to, b []byte) []byte {
	plain := true
	for _, c := range b {
		plain = plain && c >= ' ' && c < utf8.RuneSelf && c != '"'
	}
	if plain {
		return append(to, b...)
	}
	valid := utf8.Valid(b)
	for i, c := range b {
		switch {
		case c == '"' && i > 0 && b[i-1] == '"':
			// RFC 4180 doubles a quote inside double quotes
		case c < ' ' || c == 0x7f:
			to = append(to, ' ')
		case valid || c < utf8.RuneSelf:
			to = append(to, c)
		default:
			to = utf8.AppendRune(to, charmap.Windows1252.DecodeByte(c))
		}
	}
	return to
}
