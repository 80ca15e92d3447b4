package element

import (
	"bytes"
	"errors"
	"fmt"
	"io"
)

// scanner reads the tags and the text of XML: as much of the language as a file
// of flat records can hold, and several times faster than encoding/xml, with
// which the tests compare it.
type scanner struct {
	r     io.Reader
	buf   []byte
	pos   int // of the next byte in buf
	from  int // of the token at hand
	end   int // of the bytes read into buf
	atEOF bool

	line      int // of pos, from 1
	counted   int // place in buf up to which lines are counted
	lineStart int // place in buf where that line starts; below 0 once it has left buf

	open []byte // names of the open tags, each after a '/'
}

type kind int

const (
	textToken kind = iota
	startToken
	endToken
	emptyToken // a tag that closes itself
	endOfFile
)

// token is a tag or a piece of text, valid until the next call of next.
type token struct {
	kind kind
	name []byte // of a tag, without its namespace
	text []byte // with entities as they stand
	raw  bool   // text from a CDATA section, where & is itself
}

const (
	bufferBytes = 1 << 18
	// maxTokenBytes bounds a tag, a comment or a piece of text.
	maxTokenBytes = 1 << 20
)

var errTokenSize = fmt.Errorf("%w: a tag or text is longer than %d bytes", ErrSyntax, maxTokenBytes)

func newScanner(r io.Reader) *scanner {
	return &scanner{r: r, buf: make([]byte, bufferBytes), line: 1}
}

// next returns the next tag or text. Comments, instructions and declarations
// are passed over.
func (s *scanner) next() (token, error) {
	for {
		s.from = s.pos
		if s.pos == s.end {
			if err := s.fill(); err == io.EOF {
				if len(s.open) > 0 {
					return token{}, cutShort(err, fmt.Sprintf("<%.40s>", s.innermost()))
				}
				return token{kind: endOfFile}, nil
			} else if err != nil {
				return token{}, err
			}
		}
		if s.buf[s.pos] != '<' {
			n, err := s.find("<", 0)
			if err != nil && !errors.Is(err, io.EOF) {
				return token{}, err
			}
			if err != nil {
				n = s.end - s.pos
			}
			return token{kind: textToken, text: s.take(n)}, nil
		}
		t, ok, err := s.markup()
		if err != nil || ok {
			return t, err
		}
	}
}

// markup reads what starts with '<'; ok is false for what has no meaning here.
func (s *scanner) markup() (t token, ok bool, err error) {
	switch {
	case s.pos+1 < s.end && s.buf[s.pos+1] != '!' && s.buf[s.pos+1] != '?': // a tag, as nearly always
	case s.startsWith("<!--"):
		return token{}, false, s.skip("-->", 4)
	case s.startsWith("<![CDATA["):
		n, err := s.find("]]>", 9)
		if err != nil {
			return token{}, false, cutShort(err, "a CDATA section")
		}
		text := s.take(n + 3)
		return token{kind: textToken, text: text[9:n], raw: true}, true, nil
	case s.startsWith("<?"):
		return token{}, false, s.skip("?>", 2)
	case s.startsWith("<!"):
		return token{}, false, s.declaration()
	}
	n, err := s.tagEnd()
	if err != nil {
		return token{}, false, cutShort(err, "a tag")
	}
	t, err = s.tag(s.take(n + 1))
	return t, true, err
}

// cutShort makes the end of the file inside something a fault.
func cutShort(err error, what string) error {
	if err == io.EOF {
		return fmt.Errorf("%w: the file ends inside %s, it was cut short: %w", ErrSyntax, what, io.ErrUnexpectedEOF)
	}
	return err
}

// tag reads one tag, given with its brackets, and keeps the list of open ones.
func (s *scanner) tag(b []byte) (token, error) {
	t := token{kind: startToken}
	b = b[1 : len(b)-1]
	switch {
	case len(b) > 0 && b[0] == '/':
		t.kind, b = endToken, b[1:]
	case len(b) > 0 && b[len(b)-1] == '/':
		t.kind, b = emptyToken, b[:len(b)-1]
	}
	full := b
	for i, c := range b {
		if isSpace(c) {
			full = b[:i]
			break
		}
	}
	if len(full) == 0 || bytes.IndexByte(full, '<') >= 0 || bytes.IndexByte(full, '/') >= 0 {
		return token{}, fmt.Errorf("%w: <%.40s> is no tag", ErrSyntax, b)
	}
	t.name = full[bytes.IndexByte(full, ':')+1:]
	switch t.kind {
	case startToken:
		s.open = append(append(s.open, '/'), full...)
	case endToken:
		if inner := s.innermost(); !bytes.Equal(inner, full) {
			return token{}, fmt.Errorf("%w: </%.40s> stands where <%.40s> is open", ErrSyntax, full, inner)
		}
		s.open = s.open[:len(s.open)-len(full)-1]
	}
	return t, nil
}

// innermost returns the name of the tag opened last.
func (s *scanner) innermost() []byte {
	return s.open[bytes.LastIndexByte(s.open, '/')+1:]
}

// tagEnd returns how far the '>' of a tag is from pos. A '>' inside the quotes
// of an attribute does not count.
func (s *scanner) tagEnd() (int, error) {
	have := s.buf[s.pos:s.end]
	if n := bytes.IndexByte(have, '>'); n > 0 && bytes.IndexByte(have[:n], '"') < 0 && bytes.IndexByte(have[:n], '\'') < 0 {
		return n, nil // no attribute, as nearly always
	}
	quote := byte(0)
	for n := 1; ; n++ {
		if s.pos+n == s.end {
			if err := s.fill(); err != nil {
				return 0, err
			}
		}
		switch c := s.buf[s.pos+n]; {
		case c == quote:
			quote = 0
		case quote != 0:
		case c == '>':
			return n, nil
		case c == '"' || c == '\'':
			quote = c
		}
	}
}

// declaration passes over <!DOCTYPE …>, with what it declares in brackets.
func (s *scanner) declaration() error {
	depth, quote := 0, byte(0)
	for n := 1; ; n++ {
		if s.pos+n == s.end {
			if err := s.fill(); err != nil {
				return cutShort(err, "a declaration")
			}
		}
		switch c := s.buf[s.pos+n]; {
		case c == quote:
			quote = 0
		case quote != 0:
		case c == '"' || c == '\'':
			quote = c
		case c == '<':
			depth++
		case c == '>' && depth == 0:
			s.take(n + 1)
			return nil
		case c == '>':
			depth--
		}
	}
}

func (s *scanner) startsWith(prefix string) bool {
	for s.end-s.pos < len(prefix) {
		if s.fill() != nil {
			return false
		}
	}
	return string(s.buf[s.pos:s.pos+len(prefix)]) == prefix
}

// find returns how far the mark is from pos, looking from skip bytes on.
func (s *scanner) find(mark string, skip int) (int, error) {
	for {
		if s.end-s.pos > skip {
			if n := bytes.Index(s.buf[s.pos+skip:s.end], []byte(mark)); n >= 0 {
				return skip + n, nil
			}
			skip = max(skip, s.end-s.pos-len(mark)+1)
		}
		if err := s.fill(); err != nil {
			return 0, err
		}
	}
}

// skip passes over everything up to and with the mark.
func (s *scanner) skip(mark string, from int) error {
	n, err := s.find(mark, from)
	if err != nil {
		return cutShort(err, "a comment or instruction")
	}
	s.take(n + len(mark))
	return nil
}

func (s *scanner) take(n int) []byte {
	b := s.buf[s.pos : s.pos+n]
	s.pos += n
	return b
}

// fill reads more, moving what is not used yet to the front. It makes earlier
// tokens invalid.
func (s *scanner) fill() error {
	if s.atEOF {
		return io.EOF
	}
	s.count()
	n := copy(s.buf, s.buf[s.pos:s.end])
	s.lineStart -= s.pos
	s.pos, s.end, s.counted, s.from = 0, n, 0, 0
	if n == len(s.buf) {
		if n >= maxTokenBytes {
			return errTokenSize
		}
		s.buf = append(s.buf, make([]byte, len(s.buf))...)
	}
	for range 100 {
		n, err := s.r.Read(s.buf[s.end:])
		s.end += n
		if n > 0 {
			return nil // an error comes again with the next read
		}
		if err == io.EOF {
			s.atEOF = true
		}
		if err != nil {
			return err
		}
	}
	return io.ErrNoProgress
}

// count brings the line up to pos.
func (s *scanner) count() {
	passed := s.buf[s.counted:s.pos]
	if n := bytes.Count(passed, []byte{'\n'}); n > 0 {
		s.line += n
		s.lineStart = s.counted + bytes.LastIndexByte(passed, '\n') + 1
	}
	s.counted = s.pos
}

// place returns the line and column of pos, both from 1, the column in bytes.
func (s *scanner) place() (line, column int) {
	s.count()
	return s.line, s.pos - s.lineStart + 1
}

// faultPlace returns the place of the token at hand; nothing can be read after
// it.
func (s *scanner) faultPlace() (line, column int) {
	s.pos = max(s.from, s.counted)
	return s.place()
}

func isSpace(c byte) bool { return c == ' ' || c == '\t' || c == '\n' || c == '\r' }
