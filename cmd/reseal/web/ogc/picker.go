package ogc

import (
	"errors"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"

	"reseal/cmd/reseal/layer"
	"reseal/inventory/table"
)

// errEnough ends the reading of rows: the page is full.
var errEnough = errors.New("enough")

// box is a bounding box; one whose west lies east of its east crosses the
// antimeridian.
type box struct{ west, south, east, north float64 }

func readBox(text string) (*box, error) {
	parts := strings.Split(text, ",")
	n := make([]float64, len(parts))
	for i, part := range parts {
		var err error
		if n[i], err = strconv.ParseFloat(part, 64); err != nil || n[i] != n[i] {
			return nil, invalid("bbox is four numbers, west,south,east,north, not %q", text)
		}
	}
	var b box
	switch len(n) {
	case 4:
		b = box{n[0], n[1], n[2], n[3]}
	case 6: // heights do not count: features have none
		b = box{n[0], n[1], n[3], n[4]}
	default:
		return nil, invalid("bbox is four numbers, west,south,east,north, not %q", text)
	}
	if !(b.west >= -180 && b.west <= 180 && b.east >= -180 && b.east <= 180 && b.south >= -90 && b.north <= 90 && b.south <= b.north) {
		return nil, invalid("bbox %q is not within longitude and latitude", text)
	}
	return &b, nil
}

func (b *box) crosses() bool { return b.west > b.east }

// meets tells whether a point or a line has a point in the box.
func (b *box) meets(g orb.Geometry) bool {
	if b.crosses() {
		return (&box{b.west, b.south, 180, b.north}).meets(g) || (&box{-180, b.south, b.east, b.north}).meets(g)
	}
	bound := orb.Bound{Min: orb.Point{b.west, b.south}, Max: orb.Point{b.east, b.north}}
	switch g := g.(type) {
	case orb.Point:
		return bound.Contains(g)
	case orb.LineString:
		return len(clip.LineString(bound, orb.Clone(g).(orb.LineString))) > 0
	}
	return bound.Intersects(g.Bound())
}

// picker is a sink that hands on the rows which a query asks for.
type picker struct {
	query
	columns []table.Column
	time    int // the column of the time; below 0: none
	only    int64
	out     layer.Sink

	rows  int64 // seen so far
	id    int64
	g     orb.Geometry
	cells []cell
	left  int // matches to leave out yet
	taken int
	more  bool // a further row matches
}

// cell is a value of the row being looked at.
type cell struct {
	set  bool
	text string
	n    float64
	i    int64
	date table.CivilDate
	kind cellKind
}

type cellKind uint8

const (
	aText cellKind = iota
	anInt
	aFloat
	aBool
	aCents
	aDate
)

func newPicker(c *Collection, q query) *picker {
	p := &picker{query: q, columns: c.Columns, time: -1, cells: make([]cell, len(c.Columns)), left: q.offset}
	for i, column := range c.Columns {
		if column.Name == c.Time {
			p.time = i
		}
	}
	return p
}

// Begin begins a row. Rows without an id are numbered as they come.
func (p *picker) Begin(id int64, g orb.Geometry) {
	p.rows++
	if id == 0 {
		id = p.rows
	}
	p.id, p.g = id, g
	clear(p.cells)
}

func (p *picker) Text(at int, s string) { p.cells[at] = cell{set: true, kind: aText, text: s} }
func (p *picker) Int(at, v int) {
	p.cells[at] = cell{set: true, kind: anInt, i: int64(v), n: float64(v)}
}
func (p *picker) Float(at int, v float64) { p.cells[at] = cell{set: true, kind: aFloat, n: v} }
func (p *picker) Cents(at int, cents int64) {
	p.cells[at] = cell{set: true, kind: aCents, i: cents, n: float64(cents) / 100}
}

// Bool sets true or false.
func (p *picker) Bool(at int, v bool) {
	p.cells[at] = cell{set: true, kind: aBool, text: strconv.FormatBool(v)}
}

// Date sets a day.
func (p *picker) Date(at int, d table.CivilDate) {
	p.cells[at] = cell{set: true, kind: aDate, date: d, text: d.String()}
}

// End hands the row on if the query asks for it.
func (p *picker) End() error {
	switch {
	case !p.matches():
		return nil
	case p.left > 0:
		p.left--
		return nil
	case p.taken == p.limit:
		p.more = true
		return errEnough
	}
	p.taken++
	p.out.Begin(p.id, p.g)
	for i := range p.cells {
		p.cells[i].put(p.out, i)
	}
	return p.out.End()
}

// Close leaves the sink open: the page closes it.
func (p *picker) Close() error { return nil }

func (p *picker) matches() bool {
	if p.only != 0 && p.id != p.only {
		return false
	}
	if p.box != nil && p.g != nil && !p.box.meets(p.g) {
		return false
	}
	if p.timed && p.time >= 0 && p.cells[p.time].set {
		open, d := table.CivilDate{}, p.cells[p.time].date
		if p.from != open && before(d, p.from) || p.to != open && before(p.to, d) {
			return false
		}
	}
	for _, e := range p.equal {
		if !p.cells[e.column].is(e.value) {
			return false
		}
	}
	return true
}

// is compares a cell with what the address says; an empty value asks for what
// is not on record.
func (c *cell) is(value string) bool {
	switch {
	case !c.set:
		return value == ""
	case c.kind == anInt, c.kind == aFloat, c.kind == aCents:
		n, err := strconv.ParseFloat(value, 64)
		return err == nil && n == c.n
	}
	return c.text == value
}

func (c *cell) put(to layer.Sink, at int) {
	if !c.set {
		return
	}
	switch c.kind {
	case aText:
		to.Text(at, c.text)
	case anInt:
		to.Int(at, int(c.i))
	case aFloat:
		to.Float(at, c.n)
	case aBool:
		to.Bool(at, c.text == "true")
	case aCents:
		to.Cents(at, c.i)
	case aDate:
		to.Date(at, c.date)
	}
}
