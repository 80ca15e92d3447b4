package layer

import (
	"cmp"
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"io"
	"runtime"
	"time"

	"golang.org/x/sync/errgroup"

	"reseal/inventory"
	"reseal/inventory/store"
)

// The joints in service with their bridges, what seals them, and how they were
// last seen, each in the order of the joints' ids, from one id up to another.
// Dates are made plain text, which the driver does not take for instants.
const (
	ownSQL = `SELECT j.id, j.geom, j.tag, j.label, j.status, j.scope, j.origin, j.geometry_source, j.bridge_id,
 j.place, j.movement, j.sequence, j.length_ft`

	bridgeSQL = `, b.state, b.structure_number, b.facility_carried, b.feature_intersected, b.route, b.milepost, b.district, b.county, b.access`

	fromSQL  = ` FROM joints j`
	joinSQL  = ` JOIN bridges b ON b.id = j.bridge_id`
	whereSQL = ` WHERE j.id >= ?1 AND j.id < ?2 AND j.status = 'in service' ORDER BY j.id`

	sealsSQL = `SELECT t.joint_id, s.kind, s.installed_on || '', s.installed_precision
 FROM stretches t JOIN seals s ON s.stretch_id = t.id AND s.removed_on IS NULL
 WHERE t.joint_id >= ?1 AND t.joint_id < ?2 AND t.ended_on IS NULL ORDER BY t.joint_id, t.from_ft, t.id`

	looksSQL = `WITH replaced AS (SELECT replaces_id FROM inspections WHERE replaces_id IS NOT NULL)
 SELECT i.joint_id, i.inspected_on || '', i.date_known, f.cs1_ft, f.cs2_ft, f.cs3_ft, f.cs4_ft, f.not_seen_ft
 FROM inspections i CROSS JOIN inspection_feet f ON f.inspection_id = i.id
 WHERE i.joint_id >= ?1 AND i.joint_id < ?2 AND i.id NOT IN replaced AND NOT EXISTS (SELECT 1 FROM inspections l
   WHERE l.joint_id = i.joint_id AND (l.inspected_on, l.id) > (i.inspected_on, i.id) AND l.id NOT IN replaced
   AND EXISTS (SELECT 1 FROM inspection_feet x WHERE x.inspection_id = l.id))
 ORDER BY i.joint_id, i.inspected_on, i.id`
)

// JointParts are what may be left out where no field asks for it.
type JointParts struct{ Bridges, Seals, Looks bool }

// placesSQL is the query of the joints themselves.
func (p JointParts) placesSQL() string {
	if p.Bridges {
		return ownSQL + bridgeSQL + fromSQL + joinSQL + whereSQL
	}
	return ownSQL + fromSQL + whereSQL
}

const (
	pageJoints  = 2000 // ids that are read at a time
	pageReaders = 3    // connections at most, of the four that the store keeps

	connWait = 50 * time.Millisecond  // for another connection to become free
	lockWait = 200 * time.Millisecond // for a writer to finish
)

// EachJointOfRecord gives what inventory.EachJoint gives of all joints in
// service, in the order of record; of bridges, seals and inspections only on
// request. The row is used again for another joint.
//
// The view behind EachJoint looks a dozen values up for each joint, and
// database/sql converts each column by reflection. Three ordered scans side by
// side, read as the driver gives them, take a third of the time; pages of them are
// read on several connections at once and handed on in order
// (BenchmarkExportJoints).
func EachJointOfRecord(ctx context.Context, s *store.Store, with JointParts, fn func(*inventory.JointRow) error) error {
	var first, last int64
	err := s.Read().NewRaw("SELECT coalesce(min(id), 0), coalesce(max(id), -1) FROM joints").Scan(ctx, &first, &last)
	if err != nil {
		return err
	}
	want := min(runtime.GOMAXPROCS(0), pageReaders, int((last-first)/pageJoints)+1)
	readers, err := readersOfOneState(ctx, s, want)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(ctx)
	work, ctx := errgroup.WithContext(ctx)
	pages := make([]chan []joinedJoint, len(readers))
	for i, conn := range readers {
		pages[i] = make(chan []joinedJoint, 1)
		work.Go(func() error {
			defer close(pages[i])
			// One page is handed on, one waits, one is being read.
			var turn [3][]joinedJoint
			for n, from := 0, first+int64(i)*pageJoints; from <= last; n, from = n+1, from+int64(len(readers))*pageJoints {
				page, err := readJoints(ctx, conn, with, from, turn[n%3])
				if err != nil {
					return err
				}
				turn[n%3] = page
				select {
				case pages[i] <- page:
				case <-ctx.Done():
					return ctx.Err()
				}
			}
			return nil
		})
	}
	failed := handOn(pages, fn)
	if failed != nil {
		cancel()
	}
	err = work.Wait()
	cancel()
	endReads(readers)
	return cmp.Or(failed, err)
}

// handOn calls fn for the joints of the pages, which the readers take by turns.
func handOn(pages []chan []joinedJoint, fn func(*inventory.JointRow) error) error {
	for turn := 0; ; turn++ {
		page, more := <-pages[turn%len(pages)]
		if !more {
			return nil
		}
		for i := range page {
			if err := fn(&page[i].JointRow); err != nil {
				return err
			}
		}
	}
}

// readersOfOneState begins to read on up to n connections that all see the
// inventory as it is at one moment, in which nothing is written. One connection
// sees one state anyway, and has to do where the inventory cannot be locked:
// it is read-only, or someone is writing to it.
func readersOfOneState(ctx context.Context, s *store.Store, n int) ([]*sql.Conn, error) {
	conn, err := s.Read().DB.Conn(ctx)
	if err != nil {
		return nil, err
	}
	conns := []*sql.Conn{conn}
	for len(conns) < n { // those that are free: others may be reading too
		soon, cancel := context.WithTimeout(ctx, connWait)
		conn, err := s.Read().DB.Conn(soon)
		cancel()
		if err != nil {
			break
		}
		conns = append(conns, conn)
	}
	soon, cancel := context.WithTimeout(ctx, lockWait)
	defer cancel()
	if len(conns) > 1 && s.Try(soon, "", func(ctx context.Context, _ *store.Tx) error { return beginReads(ctx, conns) }) == nil {
		return conns, nil
	}
	endReads(conns[1:])
	if err := beginReads(ctx, conns[:1]); err != nil {
		endReads(conns[:1])
		return nil, err
	}
	return conns[:1], nil
}

// beginReads holds each connection at the state that it sees now.
func beginReads(ctx context.Context, conns []*sql.Conn) error {
	for _, conn := range conns {
		conn.ExecContext(ctx, "ROLLBACK") // of an earlier try; fails where there was none
		for _, q := range []string{"BEGIN", "SELECT 1 FROM joints LIMIT 1"} {
			if _, err := conn.ExecContext(ctx, q); err != nil {
				return err
			}
		}
	}
	return nil
}

func endReads(conns []*sql.Conn) {
	for _, conn := range conns {
		conn.ExecContext(context.Background(), "ROLLBACK") // fails where nothing was begun
		conn.Close()
	}
}

// readJoints reads the joints with the pageJoints ids from one on into page.
func readJoints(ctx context.Context, conn *sql.Conn, with JointParts, from int64, page []joinedJoint) ([]joinedJoint, error) {
	err := conn.Raw(func(c any) error {
		q, ok := c.(driver.QueryerContext)
		if !ok {
			return errors.ErrUnsupported
		}
		var err error
		page, err = mergeJoints(ctx, q, with, from, page)
		return err
	})
	return page, err
}

func mergeJoints(ctx context.Context, q driver.QueryerContext, with JointParts, from int64, page []joinedJoint) ([]joinedJoint, error) {
	var places, seals, looks cursor
	for _, c := range []struct {
		*cursor
		query  string
		wanted bool
	}{{&places, with.placesSQL(), true}, {&seals, sealsSQL, with.Seals}, {&looks, looksSQL, with.Looks}} {
		if c.done = !c.wanted; c.done {
			continue
		}
		defer c.close()
		if err := c.open(ctx, q, c.query, from, from+pageJoints); err != nil {
			return nil, err
		}
	}
	if page = page[:0]; cap(page) == 0 {
		page = make([]joinedJoint, 0, pageJoints) // rows point into themselves: they must not move
	}
	for !places.done {
		page = append(page, joinedJoint{})
		row := &page[len(page)-1]
		if err := row.place(places.row); err != nil {
			return nil, err
		}
		if err := seals.of(row.ID, row.seal); err != nil {
			return nil, err
		}
		if err := looks.of(row.ID, row.look); err != nil {
			return nil, err
		}
		if err := places.next(); err != nil {
			return nil, err
		}
	}
	return page, nil
}

// cursor walks over a query's rows, which are in the order of their first
// column, a joint's id.
type cursor struct {
	rows driver.Rows
	row  []driver.Value
	done bool
}

func (c *cursor) open(ctx context.Context, q driver.QueryerContext, query string, from, to int64) (err error) {
	args := []driver.NamedValue{{Ordinal: 1, Value: from}, {Ordinal: 2, Value: to}}
	if c.rows, err = q.QueryContext(ctx, query, args); err != nil {
		return err
	}
	c.row = make([]driver.Value, len(c.rows.Columns()))
	return c.next()
}

func (c *cursor) next() error {
	err := c.rows.Next(c.row)
	if errors.Is(err, io.EOF) {
		c.done = true
		return nil
	}
	return err
}

// of passes over the rows of joints before id, and calls take for those of id.
func (c *cursor) of(id int64, take func([]driver.Value) error) error {
	for !c.done {
		at := c.row[0].(int64)
		if at > id {
			return nil
		}
		if at == id {
			if err := take(c.row); err != nil {
				return err
			}
		}
		if err := c.next(); err != nil {
			return err
		}
	}
	return nil
}

func (c *cursor) close() {
	if c.rows != nil {
		c.rows.Close()
	}
}

// joinedJoint is a joint put together from the three scans.
type joinedJoint struct {
	inventory.JointRow
	milepost, lengthFt float64
	sealed             bool
}

func (r *joinedJoint) place(v []driver.Value) error {
	r.ID, r.BridgeID = v[0].(int64), v[8].(int64)
	texts(v[2:], &r.Tag, &r.Label, &r.Status, &r.Scope, &r.Origin, &r.GeometrySource)
	texts(v[9:], &r.Place, &r.Movement)
	if n, ok := v[11].(int64); ok {
		r.Sequence = int(n)
	}
	var known bool
	if r.lengthFt, known = float(v[12]); known {
		r.LengthFt = &r.lengthFt
	}
	if b := v[13:]; len(b) > 0 {
		texts(b, &r.State, &r.StructureNumber, &r.FacilityCarried, &r.FeatureIntersected, &r.Route)
		if r.milepost, known = float(b[5]); known {
			r.Milepost = &r.milepost
		}
		texts(b[6:], &r.District, &r.County, &r.Access)
	}
	return r.Geom.Scan(v[1])
}

// texts reads text columns; NULL is empty.
func texts(v []driver.Value, to ...*string) {
	for i := range to {
		*to[i], _ = v[i].(string)
	}
}

// seal takes the first stretch that has one.
func (r *joinedJoint) seal(v []driver.Value) (err error) {
	if r.sealed {
		return nil
	}
	r.sealed = true
	r.SealKind, _ = v[1].(string)
	r.InstalledPrecision, _ = v[3].(string)
	r.InstalledOn, err = day(v[2])
	return err
}

// look adds up the feet of the stretches.
func (r *joinedJoint) look(v []driver.Value) (err error) {
	if r.InspectedOn, err = day(v[1]); err != nil {
		return err
	}
	r.DateKnown, _ = v[2].(string)
	for s := range r.StateFt {
		ft, _ := float(v[3+s])
		r.StateFt[s] += ft
		if ft > 0 {
			r.WorstState = max(r.WorstState, s+1)
		}
	}
	ft, _ := float(v[7])
	r.NotSeenFt += ft
	r.RoundFeet()
	return nil
}

func float(v driver.Value) (float64, bool) {
	switch v := v.(type) {
	case float64:
		return v, true
	case int64:
		return float64(v), true
	}
	return 0, false
}

// day reads YYYY-MM-DD without going through an instant.
func day(v driver.Value) (inventory.Date, error) {
	s, ok := v.(string)
	if !ok {
		return inventory.Date{}, nil
	}
	if len(s) == len(time.DateOnly) && s[4] == '-' && s[7] == '-' {
		y, m, d := digits(s[:4]), digits(s[5:7]), digits(s[8:])
		if y > 0 && m >= 1 && m <= 12 && d >= 1 && d <= 28 {
			return inventory.Date{Year: y, Month: time.Month(m), Day: d}, nil
		}
	}
	var out inventory.Date
	err := out.Scan(s) // the end of a month, or no date
	return out, err
}

func digits(s string) int {
	n := 0
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return -1
		}
		n = 10*n + int(s[i]-'0')
	}
	return n
}
