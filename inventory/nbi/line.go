package nbi

import "bytes"

// fields are the values of one row by item, as given, without outer quotes.
type fields [numItems][]byte

// split cuts a line into the fields that are read and returns how many the
// line has.
//
// The quoting is not that of RFC 4180: text may hold its own quote character,
// and a quote closes only before the delimiter or the end of the line. Text
// that holds a quote followed by the delimiter then looks like one field too
// many; a split that is careful takes such a quote as closing only where the
// next quote on the line opens a field.
func (t *table) split(line []byte, careful bool, f *fields) int {
	n := 0
	for {
		var field []byte
		field, line = t.cut(line, careful)
		if n < len(t.columns) {
			if it := t.columns[n]; it != notRead {
				f[it] = field
			}
		}
		n++
		if line == nil {
			return n
		}
		line = line[1:]
	}
}

// cut returns the first field of a line and the rest from the delimiter on, nil
// after the last field. A quote that never closes is dropped, and the field
// ends at the next delimiter.
func (t *table) cut(line []byte, careful bool) (field, rest []byte) {
	if len(line) > 0 && (line[0] == '\'' || line[0] == '"') {
		quote := line[0]
		line = line[1:]
		if end := t.closing(line, quote, careful); end >= 0 {
			if end+1 == len(line) {
				return line[:end], nil
			}
			return line[:end], line[end+1:]
		}
	}
	for i, c := range line { // most fields have one to three bytes: faster than a search
		if c == t.delim {
			return line[:i], line[i:]
		}
	}
	return line, nil
}

// closing returns the place of the quote that closes a text, or -1.
func (t *table) closing(text []byte, quote byte, careful bool) int {
	for i := 0; ; i++ {
		n := bytes.IndexByte(text[i:], quote)
		if n < 0 {
			return -1
		}
		i += n
		if i+1 == len(text) {
			return i
		}
		if text[i+1] == t.delim && !(careful && t.goesOn(text[i+2:], quote)) {
			return i
		}
	}
}

// goesOn reports whether the next quote in the rest of a line closes a field
// instead of opening one, so that the text before it is not at its end yet.
func (t *table) goesOn(rest []byte, quote byte) bool {
	n := bytes.IndexByte(rest, quote)
	return n > 0 && rest[n-1] != t.delim
}
