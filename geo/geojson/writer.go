package geojson

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"

	"github.com/paulmach/orb"
)

// ErrInvalid marks a geometry, a number or a sequence of calls that cannot
// become GeoJSON.
var ErrInvalid = errors.New("invalid GeoJSON")

// DefaultDecimals is the number of decimals of coordinates: about a centimetre.
const DefaultDecimals = 7

// flushAt is the size in bytes at which finished features are handed on.
const flushAt = 64 << 10

// Options choose the form of the output. The zero value is a FeatureCollection
// with coordinates to 7 decimals.
type Options struct {
	// Decimals of coordinates, 1 to 15; 0 means DefaultDecimals.
	Decimals int
	// Lines writes one feature a line and nothing around them
	// (newline-delimited), instead of a FeatureCollection.
	Lines bool
	// BBox adds the bounding box of all features to the FeatureCollection. It
	// stands at the end, because only then is it known. No effect with Lines.
	BBox bool
	// Members, where not nil, is called at the end and gives further members of
	// the FeatureCollection, such as "links":[]. No effect with Lines.
	Members func() []byte
}

// Writer writes features to a stream. Each feature is Begin, its properties in
// the order of the calls, and End; Close ends the document. The memory used is
// that of a buffer and the largest feature.
//
// A feature that cannot be written is left out whole: End says why, and the
// next can follow. A stream that cannot be written to fails every End from then
// on; so does a property outside a feature, a mistake of the program. Keys are
// the caller's to keep unique.
type Writer struct {
	out       io.Writer
	opt       Options
	buf       []byte
	featureAt int // where the open feature begins in buf
	open      bool
	closed    bool
	written   int   // features
	props     int   // of the open feature
	bad       error // of the open feature
	failed    error // of the stream
	box, part orb.Bound
}

// NewWriter returns a Writer to out. Nothing is written before the buffer is
// full or Close is called.
func NewWriter(out io.Writer, opt Options) *Writer {
	if opt.Decimals == 0 {
		opt.Decimals = DefaultDecimals
	}
	w := &Writer{out: out, opt: opt, box: emptyBound(), buf: make([]byte, 0, flushAt+flushAt/8)}
	if !opt.Lines {
		w.buf = append(w.buf, `{"type":"FeatureCollection","features":[`...)
	}
	return w
}

// Begin begins a feature. An id of 0 leaves the member out. A nil or empty
// geometry is written as null: a feature that has not been located.
func (w *Writer) Begin(id int64, g orb.Geometry) {
	if w.open {
		w.bad = errors.Join(w.bad, fmt.Errorf("%w: feature begun inside another", ErrInvalid))
		return
	}
	w.open, w.props, w.bad = true, 0, nil
	w.featureAt = len(w.buf)
	if w.written > 0 && !w.opt.Lines {
		w.buf = append(w.buf, ',')
	}
	if !w.opt.Lines {
		w.buf = append(w.buf, '\n')
	}
	w.buf = append(w.buf, `{"type":"Feature",`...)
	if id != 0 {
		w.buf = append(w.buf, `"id":`...)
		w.buf = append(strconv.AppendInt(w.buf, id, 10), ',')
	}
	w.buf = append(w.buf, `"geometry":`...)
	w.buf, w.bad = AppendGeometry(w.buf, g, w.opt.Decimals)
	if w.opt.BBox && w.bad == nil {
		w.part = emptyBound()
		growBound(&w.part, g)
	}
	w.buf = append(w.buf, `,"properties":{`...)
}

// key appends the key of a property; it is false outside a feature.
func (w *Writer) key(key string) bool {
	if !w.open {
		w.failed = errors.Join(w.failed, fmt.Errorf("%w: property %q outside a feature", ErrInvalid, key))
		return false
	}
	if w.props > 0 {
		w.buf = append(w.buf, ',')
	}
	w.props++
	w.buf = append(AppendString(w.buf, key), ':')
	return true
}

// Str adds a text property. Bytes that are not UTF-8 become U+FFFD.
func (w *Writer) Str(key, value string) {
	if w.key(key) {
		w.buf = AppendString(w.buf, value)
	}
}

// Int adds a whole number. Readers that hold numbers as float64 keep it exact
// up to 2^53.
func (w *Writer) Int(key string, value int64) {
	if w.key(key) {
		w.buf = strconv.AppendInt(w.buf, value, 10)
	}
}

// Float adds a number with as many digits as it takes to read the same number
// back. One that is not finite fails the feature: JSON has no such number, and
// null would pass for a value that is not known.
func (w *Writer) Float(key string, value float64) {
	if !w.key(key) {
		return
	}
	if math.IsNaN(value - value) {
		w.bad = errors.Join(w.bad, fmt.Errorf("%w: property %q is %v", ErrInvalid, key, value))
		return
	}
	w.buf = appendFloat(w.buf, value)
}

// Bool adds true or false.
func (w *Writer) Bool(key string, value bool) {
	if w.key(key) {
		w.buf = strconv.AppendBool(w.buf, value)
	}
}

// Null adds a property that is not known.
func (w *Writer) Null(key string) {
	if w.key(key) {
		w.buf = append(w.buf, "null"...)
	}
}

// End ends the feature. An error that wraps ErrInvalid means that this feature
// was left out; any other comes from the stream.
func (w *Writer) End() error {
	if w.failed != nil {
		return w.failed
	}
	if !w.open || w.closed {
		return fmt.Errorf("%w: end without a feature", ErrInvalid)
	}
	w.open = false
	if w.bad != nil {
		w.buf = w.buf[:w.featureAt]
		return w.bad
	}
	w.buf = append(w.buf, '}', '}')
	if w.opt.Lines {
		w.buf = append(w.buf, '\n')
	}
	w.written++
	if w.opt.BBox && !w.part.IsEmpty() {
		w.box = w.box.Union(w.part)
	}
	if len(w.buf) >= flushAt {
		return w.flush()
	}
	return nil
}

// Close ends the document and writes what is left; it does not close the
// stream. A feature still open is left out, and is an error. A second Close
// does nothing.
func (w *Writer) Close() error {
	if w.closed {
		return w.failed
	}
	w.closed = true
	var unfinished error
	if w.open {
		w.open = false
		w.buf = w.buf[:w.featureAt]
		unfinished = fmt.Errorf("%w: the last feature was not ended, and is left out", ErrInvalid)
	}
	if !w.opt.Lines {
		w.buf = append(w.buf, "\n]"...)
		if w.opt.BBox && !w.box.IsEmpty() {
			w.buf = append(w.buf, `,"bbox":`...)
			w.buf = appendBound(w.buf, w.box, w.opt.Decimals)
		}
		if w.opt.Members != nil {
			w.buf = append(append(w.buf, ','), w.opt.Members()...)
		}
		w.buf = append(w.buf, "}\n"...)
	}
	return errors.Join(unfinished, w.flush())
}

// Written returns the number of features ended without an error.
func (w *Writer) Written() int { return w.written }

func (w *Writer) flush() error {
	n, err := w.out.Write(w.buf)
	if err == nil && n < len(w.buf) {
		err = io.ErrShortWrite
	}
	w.buf = w.buf[:0]
	if err != nil {
		w.failed = errors.Join(w.failed, fmt.Errorf("writing GeoJSON: %w", err))
	}
	return w.failed
}
