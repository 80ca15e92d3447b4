package intake

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"io"

	"reseal/inventory"
	"reseal/inventory/table"
)

// Unpack reads what gzip packed, and anything else as it is.
func Unpack(r io.Reader) (*bufio.Reader, error) {
	b := bufio.NewReaderSize(r, 1<<18)
	if magic, _ := b.Peek(2); !bytes.Equal(magic, []byte{0x1f, 0x8b}) {
		return b, nil
	}
	z, err := gzip.NewReader(b)
	if err != nil {
		return nil, err
	}
	return bufio.NewReaderSize(z, 1<<18), nil
}

// Recognise tells of which kind a file is, as far as the file itself makes
// that certain; it returns an empty name where it does not. r may be read to
// its end. sheet is that of a workbook; empty is the first.
//
// XML can only be element data. A spreadsheet is of a kind where its header
// has all that the kind requires, more columns of this kind than of any other,
// and no more strange columns than known ones.
func Recognise(r *bufio.Reader, name, sheet string) (string, error) {
	head, _ := r.Peek(64)
	text := bytes.TrimLeft(bytes.Trim(head, "\xef\xbb\xbf\xfe\xff\x00"), " \t\r\n")
	if len(text) > 0 && text[0] == '<' {
		return "elements", nil
	}
	if inventory.IsNBI(r) {
		return "bridges", nil
	}
	t, err := table.NewReader(r, name, nil, table.Options{Sheet: sheet})
	if err != nil {
		return "", err
	}
	header := t.Header()
	if err := t.Close(); err != nil {
		return "", err
	}
	best, most, second := "", 0, 0
	for _, k := range Kinds() {
		if k.Sheet == nil {
			continue
		}
		switch known, whole := k.Sheet().Fits(header); {
		case !whole:
		case known > most:
			best, most, second = k.Name, known, most
		case known > second:
			second = known
		}
	}
	if most == second || 2*most < len(header) {
		return "", nil
	}
	return best, nil
}
