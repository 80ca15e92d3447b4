package layer

import (
	"context"

	"github.com/paulmach/orb"

	"reseal/condition"
	"reseal/inventory"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

// All are the layers, in the order in which help lists them.
func All() []Layer {
	return []Layer{bridgeLayer(), jointLayer(), dueLayer(), findingLayer(), forecastLayer(), workListLayer()}
}

// Named is the layer with a name, or nil.
func Named(name string) Layer {
	for _, l := range All() {
		if l.Name() == name {
			return l
		}
	}
	return nil
}

func bridgeLayer() *rows[inventory.Bridge] {
	type row = inventory.Bridge
	return &rows[row]{
		title: "bridges",
		at:    func(b *row) (int64, orb.Geometry) { return b.ID, b.Geom.Geometry },
		each: func(ctx context.Context, s *store.Store, q Query, fn func(*row) error) error {
			return inventory.EachBridge(ctx, s.Read(), q.Filter, fn)
		},
		fields: []field[row]{
			textField("state", func(b *row) string { return b.State }),
			textField("structure_number", func(b *row) string { return b.StructureNumber }),
			textField("name", func(b *row) string { return b.Name }),
			textField("facility_carried", func(b *row) string { return b.FacilityCarried }),
			textField("feature_intersected", func(b *row) string { return b.FeatureIntersected }),
			textField("route", func(b *row) string { return b.Route }),
			numberField("milepost", table.Float, func(b *row) *float64 { return b.Milepost }),
			textField("district", func(b *row) string { return b.District }),
			textField("county", func(b *row) string { return b.County }),
			textField("owner", func(b *row) string { return b.Owner }),
			countField("year_built", func(b *row) int { return b.YearBuilt }),
			numberField("length_ft", table.Length, func(b *row) *float64 { return b.LengthFt }),
			countField("spans", func(b *row) int { return b.Spans() }),
			numberField("skew_deg", table.Float, func(b *row) *float64 { return b.SkewDeg }),
			numberField("curb_width_ft", table.Length, func(b *row) *float64 { return b.CurbWidthFt }),
			textField("material", func(b *row) string { return b.Material }),
			textField("design", func(b *row) string { return b.Design }),
			boolField("continuous", func(b *row) *bool { return b.Continuous }),
			wholeField("lanes", func(b *row) *int { return b.Lanes }),
			wholeField("adt", func(b *row) *int { return b.ADT }),
			numberField("truck_pct", table.Percent, func(b *row) *float64 { return b.TruckPct }),
			textField("deicing", func(b *row) string { return b.Deicing }),
			textField("below", func(b *row) string { return b.Below }),
			wholeField("deck_rating", func(b *row) *int { return b.DeckRating }),
			wholeField("superstructure_rating", func(b *row) *int { return b.SuperstructureRating }),
			wholeField("substructure_rating", func(b *row) *int { return b.SubstructureRating }),
			wholeField("joints_rating", func(b *row) *int { return b.JointsRating }),
			countField("inspection_months", func(b *row) int { return b.InspectionMonths }),
			textField("last_inspection", func(b *row) string { return b.LastInspection }),
			textField("access", func(b *row) string { return b.Access }),
			textField("status", func(b *row) string { return b.Status }),
			textField("source", func(b *row) string { return b.Source }),
			textField("notes", func(b *row) string { return b.Notes }),
		},
	}
}

func jointLayer() *rows[inventory.JointRow] {
	return &rows[inventory.JointRow]{
		title:  "joints",
		at:     jointAt,
		fields: append(placeFields(theJoint), conditionFields(theJoint)...),
		each: func(ctx context.Context, s *store.Store, q Query, fn func(*inventory.JointRow) error) error {
			if q.Filter == (inventory.Filter{}) {
				with := JointParts{
					Bridges: q.wants("state", "structure_number", "facility_carried", "feature_intersected", "route", "milepost",
						"district", "county", "access"),
					Seals: q.wants("seal_kind", "installed_on", "installed_precision"),
					Looks: q.wants("inspected_on", "date_known", "worst_state", "cs1_ft", "cs2_ft", "cs3_ft", "cs4_ft", "not_seen_ft"),
				}
				return EachJointOfRecord(ctx, s, with, fn)
			}
			return inventory.EachJoint(ctx, s.Read(), q.Filter, fn)
		},
	}
}

func jointAt(j *inventory.JointRow) (int64, orb.Geometry) { return j.ID, j.Geom.Geometry }

func theJoint(j *inventory.JointRow) *inventory.JointRow { return j }

// placeFields say which joint a row is about, and where it lies.
func placeFields[T any](of func(*T) *inventory.JointRow) []field[T] {
	return []field[T]{
		textField("tag", func(r *T) string { return of(r).Tag }),
		textField("label", func(r *T) string { return of(r).Label }),
		textField("state", func(r *T) string { return of(r).State }),
		textField("structure_number", func(r *T) string { return of(r).StructureNumber }),
		textField("facility_carried", func(r *T) string { return of(r).FacilityCarried }),
		textField("feature_intersected", func(r *T) string { return of(r).FeatureIntersected }),
		textField("route", func(r *T) string { return of(r).Route }),
		numberField("milepost", table.Float, func(r *T) *float64 { return of(r).Milepost }),
		textField("district", func(r *T) string { return of(r).District }),
		textField("county", func(r *T) string { return of(r).County }),
		textField("place", func(r *T) string { return of(r).Place }),
		countField("sequence", func(r *T) int { return of(r).Sequence }),
		numberField("length_ft", table.Length, func(r *T) *float64 { return of(r).LengthFt }),
	}
}

// conditionFields say what is in the joint and how it was when last seen.
func conditionFields[T any](of func(*T) *inventory.JointRow) []field[T] {
	feet := func(state int) func(*T) *float64 {
		return func(r *T) *float64 {
			if j := of(r); j.WorstState > 0 {
				return &j.StateFt[state-1]
			}
			return nil
		}
	}
	return []field[T]{
		textField("movement", func(r *T) string { return of(r).Movement }),
		textField("seal_kind", func(r *T) string { return of(r).SealKind }),
		dateField("installed_on", func(r *T) inventory.Date { return of(r).InstalledOn }),
		textField("installed_precision", func(r *T) string { return of(r).InstalledPrecision }), // of a year, its first day stands above
		dateField("inspected_on", func(r *T) inventory.Date { return of(r).InspectedOn }),
		textField("date_known", func(r *T) string { return of(r).DateKnown }),
		countField("worst_state", func(r *T) int { return of(r).WorstState }),
		numberField("cs1_ft", table.Length, feet(1)),
		numberField("cs2_ft", table.Length, feet(2)),
		numberField("cs3_ft", table.Length, feet(3)),
		numberField("cs4_ft", table.Length, feet(4)),
		numberField("not_seen_ft", table.Length, func(r *T) *float64 {
			if j := of(r); !j.InspectedOn.IsZero() {
				return &j.NotSeenFt
			}
			return nil
		}),
		textField("access", func(r *T) string { return of(r).Access }),
		textField("scope", func(r *T) string { return of(r).Scope }),
		textField("origin", func(r *T) string { return of(r).Origin }),
		textField("geometry_source", func(r *T) string { return of(r).GeometrySource }),
		textField("status", func(r *T) string { return of(r).Status }),
	}
}

func dueLayer() *rows[condition.Due] {
	type row = condition.Due
	joint := func(d *row) *inventory.JointRow { return &d.JointRow }
	fields := append([]field[row]{
		dateField("due_on", func(d *row) inventory.Date { return d.DueOn }), // none: now, never inspected
		textField("why", func(d *row) string { return d.Why }),
	}, placeFields(joint)...)
	return &rows[row]{
		title: "due", caution: DueCaution,
		at:     func(d *row) (int64, orb.Geometry) { return jointAt(&d.JointRow) },
		fields: append(fields, conditionFields(joint)...),
		each: func(ctx context.Context, s *store.Store, q Query, fn func(*row) error) error {
			due, err := q.Due(ctx)
			for i := range due {
				if err := fn(due[i]); err != nil {
					return err
				}
			}
			return err
		},
	}
}

// foundAt is a finding with the joint that it was made at.
type foundAt struct {
	inventory.Finding
	joint    *inventory.JointRow
	daysOpen int
}

func findingLayer() *rows[foundAt] {
	type row = foundAt
	return &rows[row]{
		title: "findings",
		at:    func(f *row) (int64, orb.Geometry) { return f.ID, f.joint.Geom.Geometry },
		fields: append([]field[row]{
			countField("finding", func(f *row) int { return int(f.ID) }),
			textField("kind", func(f *row) string { return f.Kind }),
			textField("urgency", func(f *row) string { return f.Urgency }),
			dateField("found_on", func(f *row) inventory.Date { return f.FoundOn }),
			wholeField("days_open", func(f *row) *int { return &f.daysOpen }),
			numberField("from_ft", table.Length, func(f *row) *float64 { return f.FromFt }),
			numberField("to_ft", table.Length, func(f *row) *float64 { return f.ToFt }),
			textField("source", func(f *row) string { return f.Source }),
			textField("action", func(f *row) string { return f.Action }),
			textField("owner", func(f *row) string { return f.Owner }),
			dateField("closed_on", func(f *row) inventory.Date { return f.ClosedOn }),
			textField("closed_note", func(f *row) string { return f.ClosedNote }),
			textField("notes", func(f *row) string { return f.Notes }),
		}, placeFields(func(f *row) *inventory.JointRow { return f.joint })...),
		each: eachFinding,
	}
}

// eachFinding gives the findings at the joints that are wanted, in the order
// of the joints.
func eachFinding(ctx context.Context, s *store.Store, q Query, fn func(*foundAt) error) error {
	found, err := inventory.Findings(ctx, s.Read(), inventory.FindingFilter{Closed: q.Closed})
	if err != nil {
		return err
	}
	at := map[int64][]inventory.Finding{}
	for _, f := range found {
		at[f.JointID] = append(at[f.JointID], f)
	}
	return inventory.EachJoint(ctx, s.Read(), q.Filter, func(j *inventory.JointRow) error {
		for _, f := range at[j.ID] {
			if err := fn(&foundAt{Finding: f, joint: j, daysOpen: f.DaysOpen(q.Today)}); err != nil {
				return err
			}
		}
		return nil
	})
}

// foreseen is a joint with the forecast that was last saved for it.
type foreseen struct {
	joint           *inventory.JointRow
	asOf            inventory.Date
	basis           string
	shares          [4]float64
	failed          float64
	early, at, late int
}

func forecastLayer() *rows[foreseen] {
	type row = foreseen
	share := func(state int) func(*row) *float64 { return func(f *row) *float64 { return &f.shares[state-1] } }
	return &rows[row]{
		title: "forecast", projected: true,
		at: func(f *row) (int64, orb.Geometry) { return jointAt(f.joint) },
		fields: append(placeFields(func(f *row) *inventory.JointRow { return f.joint }),
			dateField("as_of", func(f *row) inventory.Date { return f.asOf }),
			textField("basis", func(f *row) string { return f.basis }),
			textField("seal_kind", func(f *row) string { return f.joint.SealKind }),
			numberField("cs1_share", table.Float, share(1)),
			numberField("cs2_share", table.Float, share(2)),
			numberField("cs3_share", table.Float, share(3)),
			numberField("cs4_share", table.Float, share(4)),
			numberField("failed_probability", table.Float, func(f *row) *float64 { return &f.failed }),
			countField("replace_year_10", func(f *row) int { return f.early }),
			countField("replace_year", func(f *row) int { return f.at }),
			countField("replace_year_90", func(f *row) int { return f.late }),
		),
		each: eachStoredForecast,
	}
}

// eachStoredForecast gives the forecasts on record of the joints that are wanted.
func eachStoredForecast(ctx context.Context, s *store.Store, q Query, fn func(*foreseen) error) error {
	saved, err := savedForecasts(ctx, s)
	if err != nil {
		return err
	}
	if len(saved) == 0 {
		return store.NotFound("make one with: reseal forecast", "there is no forecast on record")
	}
	return inventory.EachJoint(ctx, s.Read(), q.Filter, func(j *inventory.JointRow) error {
		f, ok := saved[j.ID]
		if !ok {
			return nil
		}
		f.joint = j
		return fn(f)
	})
}

func savedForecasts(ctx context.Context, s *store.Store) (map[int64]*foreseen, error) {
	rows, err := s.Read().QueryContext(ctx, `SELECT joint_id, as_of, basis, cs1, cs2, cs3, cs4, failed_probability,
		coalesce(replace_year_10, 0), coalesce(replace_year, 0), coalesce(replace_year_90, 0) FROM forecasts`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	saved := map[int64]*foreseen{}
	for rows.Next() {
		var id int64
		f := &foreseen{}
		if err := rows.Scan(&id, &f.asOf, &f.basis, &f.shares[0], &f.shares[1], &f.shares[2], &f.shares[3], &f.failed,
			&f.early, &f.at, &f.late); err != nil {
			return nil, err
		}
		saved[id] = f
	}
	return saved, rows.Err()
}
