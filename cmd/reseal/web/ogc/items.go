package ogc

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"reseal/cmd/reseal/layer"
	"reseal/geo/geojson"
	"reseal/inventory"
	"reseal/inventory/table"
)

// Limits of a page of features.
const (
	usualLimit = 100
	mostLimit  = 10000
)

// query is what a request for items asks for.
type query struct {
	limit, offset int
	box           *box
	from, to      table.CivilDate // of datetime; zero: open
	timed         bool
	equal         []equal
}

// equal asks for features with a value in a column.
type equal struct {
	column int
	value  string
}

// readQuery reads the parameters of items (7.15.2 to 7.15.5).
func readQuery(r *http.Request, c *Collection) (q query, err error) {
	names := []string{"limit", "offset", "bbox", "bbox-crs", "datetime"}
	for _, column := range c.Columns {
		names = append(names, column.Name)
	}
	if err := known(r, names...); err != nil {
		return q, err
	}
	v := r.URL.Query()
	q.limit = usualLimit
	for name, into := range map[string]*int{"limit": &q.limit, "offset": &q.offset} {
		if text := v.Get(name); text != "" {
			n, err := strconv.Atoi(text)
			if err != nil || n < 0 || n == 0 && name == "limit" {
				return q, invalid("%s is a whole number from %d, not %q", name, len(name)%2, text)
			}
			*into = n
		}
	}
	q.limit = min(q.limit, mostLimit)
	if crs := v.Get("bbox-crs"); crs != "" && crs != crs84 {
		return q, invalid("bbox-crs is %s alone", crs84)
	}
	if text := v.Get("bbox"); text != "" {
		if q.box, err = readBox(text); err != nil {
			return q, err
		}
	}
	if text := v.Get("datetime"); text != "" {
		q.timed = true
		if q.from, q.to, err = readTime(text); err != nil {
			return q, err
		}
	}
	for i, column := range c.Columns {
		if value, asked := v[column.Name]; asked {
			q.equal = append(q.equal, equal{i, value[0]})
		}
	}
	return q, nil
}

// readTime reads an instant or an interval of RFC 3339 date-times or dates
// (7.15.4). Features have dates: the time of day does not count.
func readTime(text string) (from, to table.CivilDate, err error) {
	day := func(s string) (d table.CivilDate, err error) {
		if s == "" || s == ".." {
			return d, nil
		}
		for _, layout := range []string{time.RFC3339, time.DateOnly} {
			if t, err := time.Parse(layout, s); err == nil {
				return table.DateOf(t), nil
			}
		}
		return d, invalid("datetime is YYYY-MM-DD or RFC 3339, or two of them with a slash between, not %q", text)
	}
	first, last, interval := strings.Cut(text, "/")
	if !interval {
		last = first
	}
	if from, err = day(first); err == nil {
		to, err = day(last)
	}
	switch open := (table.CivilDate{}); {
	case err != nil:
	case from == open && to == open:
		err = invalid("datetime %q is open at both ends", text)
	case from != open && to != open && before(to, from):
		err = invalid("datetime %q ends before it begins", text)
	}
	return from, to, err
}

func before(a, b table.CivilDate) bool {
	return slices.Compare([]int{a.Year, int(a.Month), a.Day}, []int{b.Year, int(b.Month), b.Day}) < 0
}

// plan splits the query: what the filter can say, and what is looked at row by
// row.
func (q query) plan(c *Collection) (f inventory.Filter, rest query) {
	rest = q
	f.Sort = "record"
	rest.equal = nil
	for _, e := range q.equal {
		if c.Filters == nil || !c.Filters(&f, c.Columns[e.column].Name, e.value) {
			rest.equal = append(rest.equal, e)
		}
	}
	if q.timed && c.Time == "" {
		rest.timed = false // features without a time always match
	}
	if c.Count != nil && rest.box == nil && !rest.timed && len(rest.equal) == 0 {
		f.Limit, f.Offset = q.limit+1, q.offset
		rest.offset = 0
	}
	return f, rest
}

func (s *Service) items(w http.ResponseWriter, r *http.Request) error {
	c, err := s.find(r)
	if err != nil {
		return err
	}
	q, err := readQuery(r, c)
	if err != nil {
		return err
	}
	f, rest := q.plan(c)
	total := -1
	if f.Limit > 0 {
		if total, err = c.Count(r.Context(), f); err != nil {
			return err
		}
	}
	out := &began{ResponseWriter: w}
	p := newPicker(c, rest)
	to := layer.NewGeoJSON(out, c.Columns, geojson.Options{Members: func() []byte { return s.members(r, c, q, p, total) }})
	p.out = to
	w.Header().Set("Content-Type", typeGeoJSON)
	if err := s.read(r, c, f, rest, p); err != nil && !errors.Is(err, errEnough) {
		if out.sent {
			s.Log(r, err)
			panic(http.ErrAbortHandler) // the client must not take a part for the whole
		}
		return err
	}
	return to.Close()
}

// began remembers whether anything was sent.
type began struct {
	http.ResponseWriter
	sent bool
}

func (b *began) Write(p []byte) (int, error) {
	b.sent = true
	return b.ResponseWriter.Write(p)
}

// read gives the rows to the picker: those in the box by way of the index,
// then those that lie nowhere, which a box matches too (7.15.3, requirement
// /req/core/fc-bbox-response).
func (s *Service) read(r *http.Request, c *Collection, f inventory.Filter, q query, p *picker) error {
	if c.Count == nil || q.box == nil || q.box.crosses() {
		return c.Each(r.Context(), f, p)
	}
	f.Box = &orb.Bound{Min: orb.Point{q.box.west, q.box.south}, Max: orb.Point{q.box.east, q.box.north}}
	if err := c.Each(r.Context(), f, p); err != nil {
		return err
	}
	f.Box, f.Unplaced = nil, true
	return c.Each(r.Context(), f, p)
}

// members are what a page of features says of itself (7.15.7, 7.15.8).
func (s *Service) members(r *http.Request, c *Collection, q query, p *picker, total int) []byte {
	at := s.base(r) + "/collections/" + c.ID
	page := func(offset int) string {
		v := url.Values{}
		for name, values := range r.URL.Query() {
			v[name] = values
		}
		v.Set("limit", strconv.Itoa(q.limit))
		v.Set("offset", strconv.Itoa(offset))
		return at + "/items?" + v.Encode()
	}
	self := at + "/items"
	if r.URL.RawQuery != "" {
		self += "?" + r.URL.RawQuery
	}
	links := []link{{self, "self", typeGeoJSON, "This document"}, {at, "collection", typeJSON, c.Title}}
	if p.more {
		links = append(links, link{page(q.offset + q.limit), "next", typeGeoJSON, "The next page"})
	}
	if q.offset > 0 {
		links = append(links, link{page(max(0, q.offset-q.limit)), "prev", typeGeoJSON, "The page before"})
	}
	if total < 0 && !p.more && (p.taken > 0 || q.offset == 0) {
		total = q.offset + p.taken // all rows were looked at
	}
	b := fmt.Appendf(nil, `"timeStamp":%q,"numberReturned":%d`, s.Now().UTC().Format(time.RFC3339), p.taken)
	if total >= 0 {
		b = fmt.Appendf(b, `,"numberMatched":%d`, total)
	}
	text, _ := json.Marshal(links) // texts alone: nothing can fail
	return append(append(b, `,"links":`...), text...)
}

// item answers with one feature (7.16).
func (s *Service) item(w http.ResponseWriter, r *http.Request) error {
	c, err := s.find(r)
	if err != nil {
		return err
	}
	if err := known(r); err != nil {
		return err
	}
	id, err := strconv.ParseInt(r.PathValue("item"), 10, 64)
	if err != nil || id <= 0 {
		return notFound("there is no feature %q", r.PathValue("item"))
	}
	p := newPicker(c, query{limit: 1})
	p.only = id
	var b bytes.Buffer
	to := layer.NewGeoJSON(&b, c.Columns, geojson.Options{Lines: true})
	p.out = to
	if err := c.Each(r.Context(), inventory.Filter{Sort: "record", ID: id}, p); err != nil && !errors.Is(err, errEnough) {
		return err
	}
	if err := to.Close(); err != nil {
		return err
	}
	if p.taken == 0 {
		return notFound("there is no feature %d in %s", id, c.ID)
	}
	at := s.base(r) + "/collections/" + c.ID
	links, err := json.Marshal([]link{{at + "/items/" + strconv.FormatInt(id, 10), "self", typeGeoJSON, "This document"}, {at, "collection", typeJSON, c.Title}})
	if err != nil {
		return err
	}
	feature := bytes.TrimSuffix(b.Bytes(), []byte("}\n"))
	w.Header().Set("Content-Type", typeGeoJSON)
	fmt.Fprintf(w, "%s,\"links\":%s}\n", feature, links) // the connection is all that can fail
	return nil
}
