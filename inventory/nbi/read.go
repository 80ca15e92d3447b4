package nbi

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
)

// ErrNotInventory is wrapped by the error for a file that is no delimited
// National Bridge Inventory: empty, of another format, or without the columns
// that name a bridge.
var ErrNotInventory = errors.New("not a delimited bridge inventory")

// maxLineBytes bounds one line. A row of 123 columns has some 400 bytes.
const maxLineBytes = 1 << 18

// rowsPerCheck is how many rows go by between looks at the context: well under
// a hundredth of a second.
const rowsPerCheck = 1024

// ForEach reads r and calls fn for each row in the order of the file. It stops
// at the first error of fn and returns it unchanged, and with ctx's error when
// ctx is done. A file that is no inventory gives an error that wraps
// ErrNotInventory before any call of fn. Blank lines are passed over; one line
// is one row, whatever its quotes say.
//
// Text that is not valid UTF-8 is taken as Windows-1252. Memory does not grow
// with the file.
func ForEach(ctx context.Context, r io.Reader, fn func(Record) error) error {
	in := bufio.NewReaderSize(r, maxLineBytes)
	line, err := nextLine(in)
	if err != nil && err != io.EOF {
		return fmt.Errorf("line 1: %w", err)
	}
	t, herr := readHeader(line)
	if herr != nil {
		return herr
	}
	d := decoder{table: t}
	for n := 2; err != io.EOF; n++ {
		line, err = nextLine(in)
		if err != nil && err != io.EOF {
			return fmt.Errorf("line %d: %w", n, err)
		}
		if n%rowsPerCheck == 2 && ctx.Err() != nil {
			return ctx.Err()
		}
		// A lone Ctrl-Z ends some files written by old programs.
		if len(bytes.Trim(line, " \t\x1a\x00")) == 0 {
			continue
		}
		if err := fn(d.decode(line, n)); err != nil {
			return err
		}
	}
	return nil
}

// nextLine returns the next line without its end, valid until the next call,
// and io.EOF beside the last one.
func nextLine(in *bufio.Reader) ([]byte, error) {
	line, err := in.ReadSlice('\n')
	if err == bufio.ErrBufferFull {
		return nil, fmt.Errorf("%w: a line is longer than %d bytes", ErrNotInventory, maxLineBytes)
	}
	return bytes.TrimRight(line, "\r\n"), err
}
