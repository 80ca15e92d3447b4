package table

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// window is how much of a file is looked at to tell what it is.
const window = 64 << 10

// format of a file, told from its first bytes.
type format int

const (
	formatCSV format = iota
	formatXLSX
)

// foreign are the beginnings of files given by mistake.
var foreign = []struct{ magic, what, remedy string }{
	{"%PDF-", "a PDF document", "export the table itself as CSV or XLSX"},
	{"\xD0\xCF\x11\xE0", "an old .xls workbook or one with a password", "save it as .xlsx without a password, or as CSV"},
	{"SQLite format 3\x00", "a database", "export the table as CSV"},
	{"\x1F\x8B", "a gzip archive", "unpack it first"},
	{"<", "a web page or XML file", "save the table as CSV or XLSX"},
	{"{", "a JSON file", "convert it to CSV"},
}

// sniff tells what a file is from its beginning.
func sniff(head []byte, name string) (format, error) {
	trimmed := bytes.TrimLeft(bytes.TrimPrefix(head, []byte("\xEF\xBB\xBF")), " \t\r\n")
	switch {
	case len(trimmed) == 0:
		return 0, fmt.Errorf("%s: %w: the file is empty (its first line must name the columns)", name, ErrEmpty)
	case bytes.HasPrefix(head, []byte("PK\x03\x04")):
		return formatXLSX, nil
	}
	for _, f := range foreign {
		if bytes.HasPrefix(trimmed, []byte(f.magic)) {
			return 0, fmt.Errorf("%s: %w: it is %s (%s)", name, ErrFormat, f.what, f.remedy)
		}
	}
	if wide(head) {
		return formatCSV, nil
	}
	if bytes.IndexByte(head, 0) >= 0 {
		return 0, fmt.Errorf("%s: %w: it holds binary data (save the table as \"CSV UTF-8\" or XLSX)", name, ErrFormat)
	}
	if i := bytes.IndexByte(head, '\r'); i >= 0 && bytes.IndexByte(head, '\n') < 0 && i < len(head)-1 {
		return 0, fmt.Errorf("%s: %w: its lines end in the old Macintosh way (save it as \"CSV UTF-8\")", name, ErrFormat)
	}
	return formatCSV, nil
}

// wide reports a UTF-16 byte-order mark.
func wide(head []byte) bool {
	return bytes.HasPrefix(head, []byte("\xFF\xFE")) || bytes.HasPrefix(head, []byte("\xFE\xFF"))
}

// textReader gives UTF-8 without a byte-order mark whatever the file's
// encoding. A file that names none is UTF-8 or Windows-1252: the first byte
// over 127 and the text that follows it decide, as late as it comes, so that a
// single name far down a long file is still read right.
type textReader struct {
	src     *bufio.Reader
	out     io.Reader // nil until the encoding is known
	latin   bool      // the text is Windows-1252
	started bool
}

func (t *textReader) Read(p []byte) (int, error) {
	if !t.started {
		t.started = true
		head, _ := t.src.Peek(3)
		if wide(head) {
			t.out = unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewDecoder().Reader(t.src)
		} else if bytes.Equal(head, []byte("\xEF\xBB\xBF")) {
			_, _ = t.src.Discard(3)
			t.out = t.src
		}
	}
	if t.out == nil {
		n, err := t.ascii(p)
		if n > 0 || err != nil || len(p) == 0 {
			return n, err
		}
		t.decide()
	}
	return t.out.Read(p)
}

// ascii copies text up to the first byte over 127; none is left when n is zero.
func (t *textReader) ascii(p []byte) (n int, err error) {
	if _, err = t.src.Peek(1); err != nil {
		return 0, err
	}
	ready, _ := t.src.Peek(min(t.src.Buffered(), len(p)))
	for n < len(ready) && ready[n] < utf8.RuneSelf {
		n++
	}
	copy(p, ready[:n])
	_, _ = t.src.Discard(n)
	return n, nil
}

func (t *textReader) decide() {
	ahead, err := t.src.Peek(window)
	if err == nil { // the last character may be cut by the window
		for i := 0; i < utf8.UTFMax-1 && !utf8.Valid(ahead); i++ {
			ahead = ahead[:len(ahead)-1]
		}
	}
	if utf8.Valid(ahead) {
		t.out = t.src
		return
	}
	t.latin = true
	t.out = charmap.Windows1252.NewDecoder().Reader(t.src)
}
