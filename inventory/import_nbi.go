package inventory

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"reseal/geo"
	"reseal/inventory/nbi"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

// Columns of a bridge that an import of the inventory fills in.
var (
	bridgeKeys = []string{"state", "structure_number", "uid", "created_at", "created_by", "changed_at", "changed_by"}
	nbiColumns = []string{
		"geom", "facility_carried", "feature_intersected", "route", "milepost", "district", "county", "owner", "location",
		"year_built", "year_reconstructed", "length_ft", "main_spans", "approach_spans", "skew_deg", "skew_varies",
		"curb_width_ft", "out_width_ft", "bearing_deg", "material", "continuous", "design", "lanes", "adt", "adt_year",
		"truck_pct", "detour_mi", "below", "nhs", "deck_rating", "superstructure_rating", "substructure_rating", "joints_rating",
		"inspection_months", "last_inspection", "twin", "source", "position_problem",
	}
)

// ImportNBI reads a delimited file of the National Bridge Inventory into the
// bridges: those on record are brought up to date where the file says
// something, others are added. Rows for routes below a bridge are passed by.
// A row that cannot be placed is kept without a place. The file is streamed.
func ImportNBI(ctx context.Context, tx *store.Tx, r io.Reader, name string, opt IntakeOptions) (Intake, error) {
	in := Intake{File: name, What: "bridges"}
	before, err := count(ctx, tx, "bridges")
	if err != nil {
		return in, err
	}
	if before == 0 { // one pass over all is faster than a trigger a row
		if err := tx.DropIndex(ctx, "bridges"); err != nil {
			return in, err
		}
	}
	rejects := NewRejects(opt, "state", "structure_number")
	out := tx.Bulk(ctx, "bridges", append(slices.Clone(bridgeKeys), nbiColumns...)...).OnConflict("state, structure_number", nbiColumns...)
	args := make([]any, 0, len(bridgeKeys)+len(nbiColumns))
	unplaced, oddValues := 0, 0
	seen := map[string]int{} // the line of each bridge
	err = nbi.ForEach(ctx, r, func(rec nbi.Record) error {
		in.Read++
		opt.Tell(in.Read)
		if bad := nbiFaults(name, &rec); len(bad) > 0 {
			rejects.Add(rec.Line, bad, rec.State, rec.StructureNumber)
			return nil
		}
		if !rec.RouteOn {
			in.PassedBy++
			return nil
		}
		key := rec.State + "/" + rec.StructureNumber
		if line := seen[key]; line > 0 {
			rejects.Add(rec.Line, []table.Fault{{
				File: name, Line: rec.Line, Problem: fmt.Sprintf("line %d is about the same bridge (%s)", line, key), Remedy: "keep one of the two rows",
			}}, rec.State, rec.StructureNumber)
			return nil
		}
		seen[key] = rec.Line
		place, problem := nbiPlace(&rec)
		if problem != "" {
			unplaced++
		}
		oddValues += len(rec.Problems)
		args = append(args[:0], rec.State, rec.StructureNumber, tx.NewUID(), tx.At, tx.Actor, tx.At, tx.Actor)
		return out.Add(nbiValues(args, &rec, place, problem)...)
	})
	if errors.Is(err, nbi.ErrNotInventory) {
		err = fmt.Errorf("%s: %w", name, err)
	}
	if err == nil {
		err = rejects.Close()
	}
	if err == nil {
		err = out.Close()
	}
	if err == nil && before > 0 {
		err = redraw(ctx, tx, "b.changed_at >= ?", tx.At)
	}
	if err == nil && before == 0 {
		err = tx.CreateIndex(ctx, "bridges")
	}
	if err != nil {
		return in, err
	}
	after, err := count(ctx, tx, "bridges")
	in.Rejected, in.Faults = rejects.Count, rejects.Faults
	in.Added = after - before
	in.Changed = out.Touched() - in.Added
	in.Unchanged = out.Count() - out.Touched()
	in.Note(in.PassedBy, "rows describe a route below a bridge and were passed by")
	in.Note(unplaced, "bridges could not be placed and are kept without a place; reseal check lists them")
	in.Note(oddValues, "values could not be read and were left out")
	return in, err
}

// nbiFaults are the problems for which a row cannot be kept.
func nbiFaults(file string, rec *nbi.Record) (bad []table.Fault) {
	for _, p := range rec.Problems {
		if p.Refuse {
			bad = append(bad, table.Fault{File: file, Line: rec.Line, Column: p.Column, Value: p.Value, Problem: p.Problem})
		}
	}
	return bad
}

// nbiPlace is the bridge's place, or why it has none.
func nbiPlace(rec *nbi.Record) (geo.Geometry, string) {
	if rec.Placed {
		return geo.Geometry{Geometry: rec.Position}, ""
	}
	for _, p := range rec.Problems {
		if strings.HasPrefix(p.Column, "LAT") || strings.HasPrefix(p.Column, "LONG") {
			return geo.Geometry{}, fmt.Sprintf("%s %q: %s", p.Column, p.Value, p.Problem)
		}
	}
	return geo.Geometry{}, "the file gives no position"
}

// nbiValues appends the values of nbiColumns; what the record leaves out is NULL.
func nbiValues(args []any, rec *nbi.Record, place geo.Geometry, problem string) []any {
	var milepost any
	if rec.HasMilepost {
		milepost = rounded(rec.MilepostMi, 1000)
	}
	return append(args,
		place, word(rec.FacilityCarried), word(rec.FeatureIntersected), word(rec.Route), milepost, word(rec.District), word(rec.County),
		word(rec.Owner), word(rec.Location), some(rec.YearBuilt), some(rec.YearReconstructed), someFt(rec.LengthFt),
		some(rec.MainSpans), rec.ApproachSpans, recorded(rec.SkewDeg), rec.SkewVaries, someFt(rec.CurbWidthFt), someFt(rec.OutWidthFt),
		recorded(rec.BearingDeg), word(rec.Material), rec.Continuous, word(rec.Design), some(rec.LanesOn), recorded(rec.ADT), some(rec.ADTYear),
		recorded(rec.TruckPct), recordedFt(rec.DetourMi), word(rec.ServiceUnder), rec.NHS, recorded(rec.DeckRating),
		recorded(rec.SuperstructureRating), recorded(rec.SubstructureRating), recorded(rec.JointsRating),
		some(rec.InspectionMonths), word(rec.InspectionMonth), word(rec.Twin), "bridge inventory", problem)
}

// word is text, or NULL where there is none.
func word(s string) any {
	if s = strings.TrimSpace(s); s == "" {
		return nil
	}
	return s
}

// some is a number where 0 stands for none.
func some(n int) any {
	if n == 0 {
		return nil
	}
	return n
}

func someFt(ft float64) any {
	if ft == 0 {
		return nil
	}
	return rounded(ft, 100)
}

// rounded keeps what the file's tenth of a metre or thousandth of a kilometre
// can tell, and spares people the digits that the conversion makes.
func rounded(v, parts float64) float64 { return math.Round(v*parts) / parts }

func recorded(n int) any {
	if n == nbi.NotRecorded {
		return nil
	}
	return n
}

func recordedFt(v float64) any {
	if v == nbi.NotRecorded {
		return nil
	}
	return rounded(v, 100)
}
