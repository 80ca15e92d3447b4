package main

import (
	"context"
	"database/sql/driver"
	"errors"
	"io"
	"time"

	"reseal/inventory"
	"reseal/inventory/store"
)

// The joints in service with their bridges, what seals them, and how they were
// last seen, each in the order of the joints' ids. Dates are made plain text,
// which the driver does not take for instants.
const (
	placesSQL = `SELECT j.id, j.geom, j.tag, j.label, j.status, j.scope, j.origin, j.geometry_source, j.bridge_id,
 b.state, b.structure_number, b.facility_carried, b.feature_intersected, b.route, b.milepost, b.district, b.county, b.access,
 j.place, j.movement, j.sequence, j.length_ft
 FROM joints j JOIN bridges b ON b.id = j.bridge_id WHERE j.status = 'in service' ORDER BY j.id`

	sealsSQL = `SELECT t.joint_id, s.kind, s.installed_on || ''
 FROM stretches t JOIN seals s ON s.stretch_id = t.id AND s.removed_on IS NULL
 WHERE t.ended_on IS NULL ORDER BY t.joint_id, t.from_ft, t.id`

	looksSQL = `WITH replaced AS (SELECT replaces_id FROM inspections WHERE replaces_id IS NOT NULL)
 SELECT i.joint_id, i.inspected_on || '', i.date_known, f.cs1_ft, f.cs2_ft, f.cs3_ft, f.cs4_ft, f.not_seen_ft
 FROM inspections i CROSS JOIN inspection_feet f ON f.inspection_id = i.id
 WHERE i.id NOT IN replaced AND NOT EXISTS (SELECT 1 FROM inspections l
   WHERE l.joint_id = i.joint_id AND (l.inspected_on, l.id) > (i.inspected_on, i.id) AND l.id NOT IN replaced
   AND EXISTS (SELECT 1 FROM inspection_feet x WHERE x.inspection_id = l.id))
 ORDER BY i.joint_id, i.inspected_on, i.id`
)

// eachJointOfRecord gives what inventory.EachJoint gives of all joints in
// service, in the order of record. The row is used again for the next.
//
// The view behind EachJoint looks a dozen values up for each joint, and
// database/sql converts each column by reflection. Three ordered scans side by
// side, read as the driver gives them, take a fourth of the time
// (BenchmarkExportJoints).
func eachJointOfRecord(ctx context.Context, s *store.Store, fn func(*inventory.JointRow) error) error {
	conn, err := s.Read().DB.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	if _, err := conn.ExecContext(ctx, "BEGIN"); err != nil { // one state for all three
		return err
	}
	defer conn.ExecContext(context.WithoutCancel(ctx), "ROLLBACK")
	return conn.Raw(func(c any) error {
		q, ok := c.(driver.QueryerContext)
		if !ok {
			return errors.ErrUnsupported
		}
		return mergeJoints(ctx, q, fn)
	})
}

func mergeJoints(ctx context.Context, q driver.QueryerContext, fn func(*inventory.JointRow) error) error {
	var places, seals, looks cursor
	for _, c := range []struct {
		*cursor
		query string
	}{{&places, placesSQL}, {&seals, sealsSQL}, {&looks, looksSQL}} {
		defer c.close()
		if err := c.open(ctx, q, c.query); err != nil {
			return err
		}
	}
	var row joinedJoint
	for !places.done {
		row = joinedJoint{}
		if err := row.place(places.row); err != nil {
			return err
		}
		if err := seals.of(row.ID, row.seal); err != nil {
			return err
		}
		if err := looks.of(row.ID, row.look); err != nil {
			return err
		}
		if err := fn(&row.JointRow); err != nil {
			return err
		}
		if err := places.next(); err != nil {
			return err
		}
	}
	return nil
}

// cursor walks over a query's rows, which are in the order of their first
// column, a joint's id.
type cursor struct {
	rows driver.Rows
	row  []driver.Value
	done bool
}

func (c *cursor) open(ctx context.Context, q driver.QueryerContext, query string) (err error) {
	if c.rows, err = q.QueryContext(ctx, query, nil); err != nil {
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
	for i, to := range []*string{
		2: &r.Tag, 3: &r.Label, 4: &r.Status, 5: &r.Scope, 6: &r.Origin, 7: &r.GeometrySource,
		9: &r.State, 10: &r.StructureNumber, 11: &r.FacilityCarried, 12: &r.FeatureIntersected, 13: &r.Route,
		15: &r.District, 16: &r.County, 17: &r.Access, 18: &r.Place, 19: &r.Movement,
	} {
		if to != nil {
			*to, _ = v[i].(string)
		}
	}
	var known bool
	if r.milepost, known = float(v[14]); known {
		r.Milepost = &r.milepost
	}
	if n, ok := v[20].(int64); ok {
		r.Sequence = int(n)
	}
	if r.lengthFt, known = float(v[21]); known {
		r.LengthFt = &r.lengthFt
	}
	return r.Geom.Scan(v[1])
}

// seal takes the first stretch that has one.
func (r *joinedJoint) seal(v []driver.Value) (err error) {
	if r.sealed {
		return nil
	}
	r.sealed = true
	r.SealKind, _ = v[1].(string)
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
