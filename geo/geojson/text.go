package geojson

import (
	"math"
	"strconv"
	"unicode/utf8"
)

const hexDigits = "0123456789abcdef"

// AppendString appends s as a JSON string and returns the extended slice.
// Control characters are escaped; bytes that are not UTF-8 become U+FFFD; <, >,
// & and the two line separators of Unicode are escaped too, so that the text
// cannot end a script element.
func AppendString(dst []byte, s string) []byte {
	dst = append(dst, '"')
	from := 0
	for i := 0; i < len(s); {
		if c := s[i]; c < utf8.RuneSelf {
			if plain(c) {
				i++
				continue
			}
			dst = append(dst, s[from:i]...)
			dst = appendEscaped(dst, c)
			i++
			from = i
			continue
		}
		r, size := utf8.DecodeRuneInString(s[i:])
		switch {
		case r == utf8.RuneError && size == 1:
			dst = append(append(dst, s[from:i]...), "\uFFFD"...)
		case r == '\u2028' || r == '\u2029':
			dst = append(append(dst, s[from:i]...), `\u202`...)
			dst = append(dst, hexDigits[r&0xf])
		default:
			i += size
			continue
		}
		i += size
		from = i
	}
	return append(append(dst, s[from:]...), '"')
}

func plain(c byte) bool { return plainASCII[c] }

// plainASCII are the ASCII characters that stand for themselves.
var plainASCII = func() (plain [utf8.RuneSelf]bool) {
	for c := byte(' '); c < utf8.RuneSelf; c++ {
		plain[c] = c != '"' && c != '\\' && c != '<' && c != '>' && c != '&'
	}
	return plain
}()

func appendEscaped(dst []byte, c byte) []byte {
	switch c {
	case '"', '\\':
		return append(dst, '\\', c)
	case '\n':
		return append(dst, '\\', 'n')
	case '\r':
		return append(dst, '\\', 'r')
	case '\t':
		return append(dst, '\\', 't')
	}
	return append(dst, '\\', 'u', '0', '0', hexDigits[c>>4], hexDigits[c&0xf])
}

// appendFloat appends a finite number in the shortest form that reads back the
// same, with an exponent only where the number is very large or very small.
func appendFloat(dst []byte, v float64) []byte {
	format := byte('f')
	if abs := math.Abs(v); abs != 0 && (abs < 1e-6 || abs >= 1e21) {
		format = 'e'
	}
	return strconv.AppendFloat(dst, v, format, -1, 64)
}
