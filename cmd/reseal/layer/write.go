package layer

import (
	"io"
	"time"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkt"

	"reseal/geo/geojson"
	"reseal/inventory/table"
)

// GeoJSON is a Sink that writes rows as GeoJSON features. A field that is not set is null.
type GeoJSON struct {
	*geojson.Writer
	columns []table.Column
	next    int // the field that comes next
}

// NewGeoJSON writes in the form that the options choose.
func NewGeoJSON(w io.Writer, columns []table.Column, o geojson.Options) *GeoJSON {
	return &GeoJSON{Writer: geojson.NewWriter(w, o), columns: columns}
}

// Begin begins a feature.
func (s *GeoJSON) Begin(id int64, g orb.Geometry) {
	s.Writer.Begin(id, g)
	s.next = 0
}

// key fills up with nulls to a field and returns its name.
func (s *GeoJSON) key(field int) string {
	for ; s.next < field; s.next++ {
		s.Null(s.columns[s.next].Name)
	}
	s.next++
	return s.columns[field].Name
}

func (s *GeoJSON) Text(field int, v string)     { s.Writer.Str(s.key(field), v) }
func (s *GeoJSON) Int(field, v int)             { s.Writer.Int(s.key(field), int64(v)) }
func (s *GeoJSON) Float(field int, v float64)   { s.Writer.Float(s.key(field), v) }
func (s *GeoJSON) Bool(field int, v bool)       { s.Writer.Bool(s.key(field), v) }
func (s *GeoJSON) Cents(field int, cents int64) { s.Writer.Float(s.key(field), float64(cents)/100) }

// Date writes ISO 8601.
func (s *GeoJSON) Date(field int, d table.CivilDate) {
	s.Writer.Str(s.key(field), isoDay(d))
}

// End ends the feature; what was not set is null.
func (s *GeoJSON) End() error {
	for ; s.next < len(s.columns); s.next++ {
		s.Null(s.columns[s.next].Name)
	}
	return s.Writer.End()
}

// Close ends the document; it does not close the stream.
func (s *GeoJSON) Close() error { return s.Writer.Close() }

// Table is a Sink that writes rows as CSV or XLSX, with the geometry in columns at the
// end: lon and lat of its middle, or the whole of it as well-known text.
type Table struct {
	*table.Writer
	at    int // the first column of the geometry
	asWKT bool
	g     orb.Geometry
}

// NewTable adds the geometry's columns to those of the fields.
func NewTable(columns []table.Column, asWKT bool, open func([]table.Column) (*table.Writer, error)) (*Table, error) {
	s := &Table{at: len(columns), asWKT: asWKT}
	if asWKT {
		columns = append(columns, table.Column{Name: "wkt"})
	} else {
		columns = append(columns, table.Column{Name: "lon", Kind: table.Float}, table.Column{Name: "lat", Kind: table.Float})
	}
	var err error
	s.Writer, err = open(columns)
	return s, err
}

// Begin begins a row.
func (s *Table) Begin(_ int64, g orb.Geometry) { s.g = g }

// End ends the row, with its place.
func (s *Table) End() error {
	switch {
	case s.g == nil:
	case s.asWKT:
		s.Text(s.at, wkt.MarshalString(orb.Round(orb.Clone(s.g), 1e7)))
	default:
		p := orb.Round(Middle(s.g), 1e7).(orb.Point)
		s.Float(s.at, p[0])
		s.Float(s.at+1, p[1])
	}
	return s.EndRow()
}

// Close completes the file; it does not close the stream.
func (s *Table) Close() error { return s.Writer.Close() }

// isoDay is YYYY-MM-DD of a whole date. CivilDate.String goes through fmt,
// which is several times slower, and every row has dates.
func isoDay(d table.CivilDate) string {
	if d.Day == 0 || d.Year < 1000 || d.Year > 9999 {
		return d.String()
	}
	b := [len(time.DateOnly)]byte{4: '-', 7: '-'}
	put := func(at, width, n int) {
		for i := at + width - 1; i >= at; i-- {
			b[i] = byte('0' + n%10)
			n /= 10
		}
	}
	put(0, 4, d.Year)
	put(5, 2, int(d.Month))
	put(8, 2, d.Day)
	return string(b[:])
}
