package element

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

var (
	// ErrNoRecords is wrapped by the error for a file without FHWAED records.
	ErrNoRecords = errors.New("no FHWAED records: this is no FHWA bridge element data")
	// ErrSyntax is wrapped by the error for a file that is not sound XML, with
	// line and column. A file cut short wraps io.ErrUnexpectedEOF as well.
	ErrSyntax = errors.New("faulty XML")
)

// recordsPerCheck is how many records go by between looks at the context: well
// under a hundredth of a second.
const recordsPerCheck = 1024

// ForEach reads r and calls fn for each record in the order of the file. It
// stops at the first error of fn and returns it unchanged, with ctx's error
// when ctx is done, and at the first fault in the XML itself: what was given to
// fn before it is then not the whole file and should not be kept.
//
// Records may stand at any depth and in any namespace, their tags in any order
// among others that are passed over. UTF-8, UTF-16, ISO-8859-1 and Windows-1252
// are read. Memory does not grow with the file.
func ForEach(ctx context.Context, r io.Reader, fn func(Record) error) error {
	r, err := decoded(r)
	if err != nil {
		return err
	}
	s := newScanner(r)
	p := parser{builder: builder{}, fn: fn}
	for {
		t, err := s.next()
		if err == nil {
			err = p.take(s, t)
		}
		switch {
		case p.fnErr != nil:
			return p.fnErr
		case err != nil:
			line, column := s.faultPlace()
			return fmt.Errorf("line %d, column %d: %w", line, column, err)
		case t.kind == endOfFile && p.records == 0:
			return ErrNoRecords
		case t.kind == endOfFile:
			return nil
		case t.kind == endToken && p.records%recordsPerCheck == 0 && ctx.Err() != nil:
			return ctx.Err()
		}
	}
}

// parser follows the tags of a file.
type parser struct {
	builder
	fn      func(Record) error
	fnErr   error
	records int

	depth        int // of open tags
	recordDepth  int // of the content of the record at hand; 0 outside of one
	recordColumn int
	field        field // whose value is being read, where depth is recordDepth+1
	value        []byte
}

func (p *parser) take(s *scanner, t token) error {
	switch t.kind {
	case textToken:
		return p.text(t)
	case startToken:
		p.depth++
		p.opened(s, t.name)
	case emptyToken:
		p.depth++
		p.opened(s, t.name)
		p.closed()
		p.depth--
	case endToken:
		p.closed()
		p.depth--
	}
	return nil
}

func (p *parser) opened(s *scanner, name []byte) {
	switch {
	case p.recordDepth == 0 && string(name) == "FHWAED":
		p.recordDepth = p.depth
		line, column := s.place()
		p.start(line, column)
		p.recordColumn = column
	case p.recordDepth > 0 && p.depth == p.recordDepth+1:
		p.field, p.value = fieldNamed(name), p.value[:0]
		if p.field != noField {
			p.line, p.column = s.place()
		}
	}
}

func (p *parser) closed() {
	switch {
	case p.recordDepth == 0:
	case p.depth == p.recordDepth:
		p.recordDepth = 0
		p.records++
		p.fnErr = p.fn(p.finish(p.rec.Line, p.recordColumn))
	case p.depth == p.recordDepth+1 && p.field != noField:
		p.set(p.field, p.value)
		p.field = noField
	}
}

func (p *parser) text(t token) error {
	switch {
	case p.depth == 0 && len(bytes.TrimSpace(t.text)) > 0:
		return fmt.Errorf("%w: text outside of all tags", ErrSyntax)
	case p.recordDepth == 0 || p.depth != p.recordDepth+1 || p.field == noField:
		return nil
	case t.raw:
		p.value = append(p.value, t.text...)
		return nil
	}
	var err error
	p.value, err = appendUnescaped(p.value, t.text)
	return err
}

// appendUnescaped adds text with its entities replaced.
func appendUnescaped(to, text []byte) ([]byte, error) {
	for {
		amp := bytes.IndexByte(text, '&')
		if amp < 0 {
			return append(to, text...), nil
		}
		to = append(to, text[:amp]...)
		text = text[amp+1:]
		end := bytes.IndexByte(text, ';')
		if end < 0 {
			return to, fmt.Errorf("%w: & without a ; after it", ErrSyntax)
		}
		r, ok := entity(string(text[:end]))
		if !ok {
			return to, fmt.Errorf("%w: &%.20s; is not known", ErrSyntax, text[:end])
		}
		to = utf8.AppendRune(to, r)
		text = text[end+1:]
	}
}

func entity(name string) (rune, bool) {
	switch name {
	case "amp":
		return '&', true
	case "lt":
		return '<', true
	case "gt":
		return '>', true
	case "apos":
		return '\'', true
	case "quot":
		return '"', true
	}
	number, base := strings.TrimPrefix(name, "#"), 10
	if number == name {
		return 0, false
	}
	if hex := strings.TrimPrefix(number, "x"); hex != number {
		number, base = hex, 16
	}
	n, err := strconv.ParseUint(number, base, 21)
	return rune(n), err == nil && n <= utf8.MaxRune
}

// sniffBytes is how far into a file its encoding must be declared.
const sniffBytes = 512

var declaredEncoding = regexp.MustCompile(`^\s*<\?xml[^>]*\sencoding\s*=\s*["']([^"']*)["']`)

// decoded returns r as UTF-8, by its byte-order mark or its declaration.
func decoded(r io.Reader) (io.Reader, error) {
	in := bufio.NewReaderSize(r, sniffBytes) // larger reads pass it by
	head, err := in.Peek(sniffBytes)
	if err != nil && err != io.EOF {
		return nil, fmt.Errorf("line 1: %w", err)
	}
	switch {
	case bytes.HasPrefix(head, []byte("\xef\xbb\xbf")):
		_, err := in.Discard(3)
		return in, err
	case bytes.HasPrefix(head, []byte("\xff\xfe")), bytes.HasPrefix(head, []byte("<\x00")):
		return unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewDecoder().Reader(in), nil
	case bytes.HasPrefix(head, []byte("\xfe\xff")), bytes.HasPrefix(head, []byte("\x00<")):
		return unicode.UTF16(unicode.BigEndian, unicode.UseBOM).NewDecoder().Reader(in), nil
	}
	declared := declaredEncoding.FindSubmatch(head)
	if declared == nil {
		return in, nil
	}
	switch name := strings.ToLower(string(declared[1])); name {
	case "utf-8", "utf8", "us-ascii", "ascii":
		return in, nil
	case "iso-8859-1", "latin1", "windows-1252", "cp1252":
		return charmap.Windows1252.NewDecoder().Reader(in), nil
	default:
		return nil, fmt.Errorf("%w: encoding %q is not read; save the file as UTF-8", ErrSyntax, name)
	}
}
