package table

import (
	"bufio"
	"encoding/json"
	"io"
	"strconv"
)

// NewJSON returns a writer of a JSON array (RFC 8259) with an object for each
// row: numbers plain, money in dollars with cents, dates as ISO 8601 text, yes
// and no as true and false, null where a cell is blank.
func NewJSON(w io.Writer, columns []Column) *Writer {
	checkColumns(columns)
	s := &jsonSink{out: bufio.NewWriterSize(w, window)}
	for i, c := range columns {
		key := strconv.AppendQuote(nil, c.Name) // names are lower case and underscores
		if i > 0 {
			key = append([]byte{','}, key...)
		}
		s.keys = append(s.keys, append(key, ':'))
	}
	return &Writer{columns: columns, cells: make([]cell, len(columns)), sink: s}
}

// jsonSink appends rows to a buffer that is used again.
type jsonSink struct {
	out  *bufio.Writer
	keys [][]byte
	buf  []byte
	rows int
}

func (s *jsonSink) row(columns []Column, cells []cell) error {
	s.buf = append(s.buf[:0], "[\n{"...)
	if s.rows++; s.rows > 1 {
		s.buf[0] = ','
	}
	for i := range cells {
		s.buf = append(s.buf, s.keys[i]...)
		if c := &cells[i]; c.set {
			s.buf = appendJSON(s.buf, columns[i].Kind, c)
		} else {
			s.buf = append(s.buf, "null"...)
		}
	}
	s.buf = append(s.buf, '}')
	_, err := s.out.Write(s.buf)
	return err
}

func appendJSON(b []byte, kind Kind, c *cell) []byte {
	switch kind {
	case Text:
		text, err := json.Marshal(c.text)
		if err != nil {
			panic(err) // a string always can be
		}
		return append(b, text...)
	case Date:
		return strconv.AppendQuote(b, c.date.String())
	case Bool:
		return strconv.AppendBool(b, c.number != 0)
	}
	return appendCell(b, kind, c)
}

func (s *jsonSink) readFirst([]string) error { return nil }

func (s *jsonSink) close() error {
	end := "\n]\n"
	if s.rows == 0 {
		end = "[]\n"
	}
	if _, err := s.out.WriteString(end); err != nil {
		return err
	}
	return s.out.Flush()
}
