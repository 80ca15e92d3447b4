package table

import (
	"bufio"
	"io"
	"strconv"
	"strings"
)

// BadRows writes the rows that an import left out: the original cells, with the
// separator of the original so that decimal commas keep their meaning, and the
// line and the faults after them. Mended, the file can be imported by itself;
// its two last columns are then not read.
type BadRows struct {
	out       *bufio.Writer
	buf       []byte
	width     int
	separator byte
	text      bool // the rows come from a text file
	// Count is how many rows were written.
	Count int
}

// The columns that BadRows appends.
const (
	badLine   = "fault_on_line"
	badReason = "fault"
)

// NewBadRows begins a file of rows left out of r.
func NewBadRows(w io.Writer, r *Reader) (*BadRows, error) {
	b := &BadRows{out: bufio.NewWriter(w), width: len(r.header), separator: r.separator, text: r.text != nil}
	return b, b.write(append(append([]string{}, r.header...), badLine, badReason))
}

// Write adds a row with its faults. Cells that the header has no column for
// come last.
func (b *BadRows) Write(row *Row) error {
	cells := make([]string, b.width, b.width+2)
	copy(cells, row.cells)
	reasons := make([]string, len(row.faults))
	for i, f := range row.faults {
		reasons[i] = f.reason()
		if f.Column != "" {
			reasons[i] = f.Column + ": " + reasons[i]
		}
	}
	b.Count++
	cells = append(cells, strconv.Itoa(row.line), strings.Join(reasons, "; "))
	if len(row.cells) > b.width {
		cells = append(cells, row.cells[b.width:]...)
	}
	return b.write(cells)
}

func (b *BadRows) write(cells []string) error {
	b.buf = b.buf[:0]
	for i, c := range cells {
		if i > 0 {
			b.buf = append(b.buf, b.separator)
		}
		if b.text {
			c = unguard(c)
		}
		b.buf = appendText(b.buf, guard(c))
	}
	b.buf = append(b.buf, '\n')
	_, err := b.out.Write(b.buf)
	return err
}

// Close completes the file. It does not close the underlying writer.
func (b *BadRows) Close() error { return b.out.Flush() }
