package table

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"path/filepath"
)

// Options of a reader. The zero value reads the first sheet.
type Options struct {
	// Sheet is the sheet of a workbook to read; empty is the first. A CSV file
	// has no sheets and ignores it.
	Sheet string
}

// Reader reads the rows of one CSV or XLSX file by declared columns, in one
// pass and in memory that does not grow with the file.
type Reader struct {
	name      string
	sheet     string
	columns   []Column
	places    []place
	header    []string
	line      int  // of the header
	separator byte // between cells of a text file; a comma for a workbook
	source    source
	closers   []func() error

	text    *textReader // of a CSV file, else nil
	row     Row
	faults  Faults
	notices []string
	noted   map[string]bool
	rows    int
	err     error
}

// Open opens a CSV or XLSX file and finds the columns in its header, the first
// row that is not blank. A header with faults returns a *Faults; other errors
// wrap ErrFormat, ErrEmpty, ErrSheet or that of the file system. Messages name
// the file by the last part of its path.
func Open(path string, columns []Column, opts Options) (*Reader, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	if info, err := file.Stat(); err == nil && info.IsDir() {
		return nil, errors.Join(fmt.Errorf("%s: %w: it is a folder (name the file in it)", path, ErrFormat), file.Close())
	}
	return open(file, path, filepath.Base(path), columns, opts)
}

// NewReader reads from r, as Open does from a file; name stands for the file
// in messages. A workbook is copied to a temporary file first, which Close
// removes.
func NewReader(r io.Reader, name string, columns []Column, opts Options) (*Reader, error) {
	return open(io.NopCloser(r), "", name, columns, opts)
}

// open reads in; path is empty when in is not a file of its own.
func open(in io.ReadCloser, path, name string, columns []Column, opts Options) (*Reader, error) {
	checkColumns(columns)
	r := &Reader{name: name, columns: columns, separator: ',', noted: make(map[string]bool), closers: []func() error{in.Close}}
	r.row.reader = r
	if err := r.start(in, path, opts); err != nil {
		return nil, errors.Join(err, r.Close())
	}
	return r, nil
}

func (r *Reader) start(in io.Reader, path string, opts Options) error {
	src := bufio.NewReaderSize(in, window)
	head, err := src.Peek(4096)
	if err != nil && !errors.Is(err, io.EOF) {
		return fmt.Errorf("%s: %w", r.name, err)
	}
	kind, err := sniff(head, r.name)
	if err != nil {
		return err
	}
	if kind == formatXLSX {
		err = r.startXLSX(src, path, opts)
	} else {
		err = r.startCSV(src)
	}
	if err != nil {
		return err
	}
	return r.readHeader()
}

func (r *Reader) startCSV(src *bufio.Reader) error {
	s, err := newCSVSource(src)
	if err != nil {
		return fmt.Errorf("%s: %w", r.name, err)
	}
	r.source, r.text, r.separator = s, s.text, byte(s.csv.Comma)
	return nil
}

func (r *Reader) startXLSX(src io.Reader, path string, opts Options) error {
	if path == "" {
		temp, err := os.CreateTemp("", "table-*.xlsx")
		if err != nil {
			return fmt.Errorf("%s: %w", r.name, err)
		}
		path = temp.Name()
		r.closers = append(r.closers, func() error { return os.Remove(path) })
		_, err = io.Copy(temp, src)
		if err = errors.Join(err, temp.Close()); err != nil {
			return fmt.Errorf("%s: %w", r.name, err)
		}
	}
	s, notice, err := openXLSX(path, r.name, opts.Sheet)
	if err != nil {
		return err
	}
	if notice != "" {
		r.note(notice)
	}
	r.source, r.sheet = s, s.sheet
	r.closers = append(r.closers, s.close)
	return nil
}

func (r *Reader) readHeader() error {
	rec, err := r.source.next()
	switch {
	case errors.Is(err, io.EOF):
		what := "the file has no rows"
		if r.sheet != "" {
			what = "sheet " + r.sheet + " has no rows"
		}
		return fmt.Errorf("%s: %w: %s (the first must name the columns)", r.name, ErrEmpty, what)
	case err != nil:
		return fmt.Errorf("%s: %w", r.name, err)
	}
	r.line = rec.line
	if rec.fault != nil {
		r.faults.Add(r.locate(*rec.fault, rec.line))
		return r.faults.Err()
	}
	for _, name := range rec.cells {
		name, _ := clean(name, false)
		r.header = append(r.header, name)
	}
	places, faults, notices := layout(r.columns, r.header)
	for _, fault := range faults {
		r.faults.Add(r.locate(fault, rec.line))
	}
	for _, n := range notices {
		r.note(n)
	}
	r.places = places
	return r.faults.Err()
}

// decimalComma reports a file that may write numbers with a decimal comma.
func (r *Reader) decimalComma() bool { return r.separator == ';' }

// locate fills in where a fault is.
func (r *Reader) locate(f Fault, line int) Fault {
	f.File, f.Sheet, f.Line = r.name, r.sheet, line
	return f
}

// note adds a notice once.
func (r *Reader) note(text string) {
	if !r.noted[text] {
		r.noted[text] = true
		r.notices = append(r.notices, r.name+": "+text)
	}
}

// Rows yields the rows below the header that are not blank, once. The Row is
// reused: its cells and faults hold until the next one. A row that cannot be
// split into cells is yielded too, with its fault. After the loop, Err tells
// whether the file was read to its end.
func (r *Reader) Rows() iter.Seq[*Row] {
	return func(yield func(*Row) bool) {
		for r.err == nil {
			rec, err := r.source.next()
			if err != nil {
				r.finish(err)
				return
			}
			r.rows++
			r.row.reset(rec)
			if !yield(&r.row) {
				return
			}
		}
	}
}

func (r *Reader) finish(err error) {
	if !errors.Is(err, io.EOF) {
		r.err = fmt.Errorf("%s: %w", r.name, err)
		return
	}
	if r.rows == 0 {
		r.note("there are no rows below the header")
	}
}

// Err returns why reading stopped before the end of the file, or nil.
func (r *Reader) Err() error { return r.err }

// Faults returns the faults found so far.
func (r *Reader) Faults() *Faults { return &r.faults }

// Notices returns what a user should know that is not a fault: columns not
// read, a unit or a text encoding that was assumed.
func (r *Reader) Notices() []string {
	if r.text != nil && r.text.latin {
		r.note("the text is not UTF-8 and is read as Windows-1252 (Latin-1); check names with accents")
	}
	return r.notices
}

// Header returns the names of the columns as the file has them.
func (r *Reader) Header() []string { return r.header }

// Has reports whether the file has the declared column.
func (r *Reader) Has(column int) bool { return r.places[column].cell >= 0 }

// Close closes the file and removes temporary ones.
func (r *Reader) Close() error {
	var errs []error
	for i := len(r.closers) - 1; i >= 0; i-- {
		errs = append(errs, r.closers[i]())
	}
	r.closers = nil
	return errors.Join(errs...)
}
