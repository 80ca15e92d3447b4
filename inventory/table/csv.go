package table

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
)

// longestRecord bounds one row of a CSV file, so that a quote that is never
// closed does not read the rest of a large file into memory.
const longestRecord = 1 << 20

var errLongRecord = errors.New("record too long")

// record is one row of a source. Its cells are valid until the next one.
type record struct {
	cells []string
	line  int
	fault *Fault // why the row cannot be split into cells, or nil
}

// source yields the rows of a file, then io.EOF.
type source interface {
	next() (record, error)
	close() error
}

// csvSource reads RFC 4180 text.
type csvSource struct {
	text   *textReader
	budget *budgetReader
	csv    *csv.Reader
	width  int // cells of the header, 0 before it is read
	last   int // line of the last row read whole
}

func newCSVSource(src *bufio.Reader) (*csvSource, error) {
	text := &textReader{src: src}
	budget := &budgetReader{r: text}
	lines := bufio.NewReaderSize(budget, window)
	head, err := lines.Peek(window / 2)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, err
	}
	s := &csvSource{text: text, budget: budget, csv: csv.NewReader(lines)}
	s.csv.Comma = separator(head)
	s.csv.FieldsPerRecord = -1
	s.csv.ReuseRecord = true
	return s, nil
}

// separator chooses the comma, semicolon or tab that is most frequent in the
// first line outside quotes, or the one that a "sep=;" line declares.
func separator(head []byte) rune {
	line := strings.TrimLeft(string(head), "\r\n")
	if len(line) > 4 && strings.EqualFold(line[:4], "sep=") && strings.ContainsRune(",;\t", rune(line[4])) {
		return rune(line[4])
	}
	var commas, semicolons, tabs int
	quoted := false
scan:
	for _, r := range line {
		switch {
		case r == '"':
			quoted = !quoted
		case quoted:
		case r == '\n':
			break scan
		case r == ',':
			commas++
		case r == ';':
			semicolons++
		case r == '\t':
			tabs++
		}
	}
	switch {
	case tabs > commas && tabs >= semicolons:
		return '\t'
	case semicolons > commas:
		return ';'
	}
	return ','
}

func (s *csvSource) next() (record, error) {
	for {
		s.budget.used = 0
		cells, err := s.csv.Read()
		if err != nil {
			return s.failed(cells, err)
		}
		s.last, _ = s.csv.FieldPos(0)
		if blank(cells) || s.width == 0 && len(cells) == 2 && strings.EqualFold(cells[0], "sep=") {
			continue
		}
		if s.width == 0 {
			s.width = len(cells)
		}
		return record{cells, s.last, s.widthFault(cells)}, nil
	}
}

// failed turns a fault of one row into a record that carries it.
func (s *csvSource) failed(cells []string, err error) (record, error) {
	var parse *csv.ParseError
	if errors.As(err, &parse) {
		return record{cells: cells, line: parse.StartLine, fault: quoteFault(parse)}, nil
	}
	if errors.Is(err, errLongRecord) {
		err = fmt.Errorf("the row after line %d is over %d MB long: a quote is opened and not closed", s.last, longestRecord>>20)
	}
	return record{}, err
}

func (s *csvSource) close() error { return nil }

// widthFault refuses a row of another number of cells than the header: a
// separator too many or too few shifts all the cells after it.
func (s *csvSource) widthFault(cells []string) *Fault {
	if len(cells) == s.width || len(cells) > s.width && blank(cells[s.width:]) {
		return nil
	}
	return &Fault{
		Problem: fmt.Sprintf("the row has %d cells where the header has %d", len(cells), s.width),
		Remedy:  "put a text that holds the separator in double quotes, and leave no separator out",
	}
}

func quoteFault(err *csv.ParseError) *Fault {
	if errors.Is(err.Err, csv.ErrBareQuote) {
		return &Fault{
			Problem: "a double quote stands inside a cell that is not quoted",
			Remedy:  `put the cell in double quotes and write the inner one twice: "4"" seal"`,
		}
	}
	return &Fault{
		Problem: "a quoted cell is not closed, or goes on after its closing quote",
		Remedy:  `close it with a double quote and write inner ones twice: "4"" seal"`,
	}
}

func blank(cells []string) bool {
	for _, c := range cells {
		if strings.TrimSpace(c) != "" {
			return false
		}
	}
	return true
}

// budgetReader fails when much more is read than one record may hold.
type budgetReader struct {
	r    io.Reader
	used int
}

func (b *budgetReader) Read(p []byte) (int, error) {
	if b.used > longestRecord {
		return 0, errLongRecord
	}
	n, err := b.r.Read(p)
	b.used += n
	return n, err
}
