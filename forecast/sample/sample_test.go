package sample_test

import (
	"context"
	"fmt"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"reseal/forecast/sample"
	"reseal/inventory"
	"reseal/inventory/store"
)

var (
	ctx   = context.Background()
	today = inventory.Date{Year: 2026, Month: 11, Day: 25}
)

func makeSample(t testing.TB, seed uint64) (*store.Store, sample.Made) {
	t.Helper()
	s, err := store.Open(ctx, filepath.Join(t.TempDir(), "sample.gpkg"), store.Options{Create: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	var made sample.Made
	err = s.Update(ctx, "test", func(ctx context.Context, tx *store.Tx) (err error) {
		made, err = sample.Make(ctx, tx, sample.Options{Seed: seed, Today: today})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return s, made
}

// digest is all of a network but its random keys and the instants of making.
func digest(t testing.TB, s *store.Store) string {
	t.Helper()
	var b strings.Builder
	for _, q := range []string{
		"SELECT group_concat(structure_number || coalesce(hex(geom), '') || milepost || adt) FROM bridges",
		"SELECT group_concat(s.kind || coalesce(s.installed_on, '') || coalesce(s.removed_on, '')) FROM seals s",
		"SELECT group_concat(i.joint_id || i.inspected_on || f.cs1_ft || '/' || f.cs4_ft) FROM inspections i JOIN inspection_feet f ON f.inspection_id = i.id",
		"SELECT group_concat(joint_id || read_on || gap_in) FROM readings",
		"SELECT group_concat(joint_id || done_on || treatment) FROM work",
		"SELECT group_concat(joint_id || kind || found_on) FROM findings",
	} {
		var text string
		if err := s.Read().NewRaw(q).Scan(ctx, &text); err != nil {
			t.Fatal(err)
		}
		b.WriteString(text)
	}
	return b.String()
}

func TestSameSeedSameNetwork(t *testing.T) {
	a, _ := makeSample(t, 7)
	b, _ := makeSample(t, 7)
	c, _ := makeSample(t, 8)
	if digest(t, a) != digest(t, b) {
		t.Error("the same seed made two networks")
	}
	if digest(t, a) == digest(t, c) {
		t.Error("two seeds made the same network")
	}
}

// TestPlausible holds the network to what a planner would believe, and to
// being recognisable as invented.
func TestPlausible(t *testing.T) {
	s, made := makeSample(t, 1)
	if made.Bridges != 400 || made.Joints < 1000 || made.Joints > 1500 {
		t.Errorf("made %+v", made)
	}
	for _, tt := range []struct {
		what, query string
		low, high   float64
	}{
		{"share of joints with 10 % of their feet in CS4", "SELECT avg(cs4_ft >= 0.1 * length_ft) FROM joint_condition WHERE worst_state IS NOT NULL", 0.05, 0.3},
		{"years between two new seals", "SELECT avg(julianday(removed_on) - julianday(installed_on)) / 365.25 FROM seals WHERE removed_on IS NOT NULL AND installed_precision = 'day'", 4, 16},
		{"inspections a joint in ten years", "SELECT avg(n) FROM (SELECT count(*) AS n FROM inspections GROUP BY joint_id)", 3.5, 5.5},
		{"bridges without a place", "SELECT 1.0 * count(*) FROM bridges WHERE geom IS NULL", 1, 10},
		{"share of seals without a date", "SELECT avg(installed_on IS NULL) FROM seals WHERE removed_on IS NULL", 0.01, 0.15},
		{"gap at most", "SELECT max(gap_in) FROM readings", 2, 12},
		{"rows not marked as invented", "SELECT 1.0 * count(*) FROM bridges WHERE source <> 'invented' OR name NOT LIKE 'Invented%'", 0, 0},
		{"bridges in a state that exists", fmt.Sprintf("SELECT 1.0 * count(*) FROM bridges WHERE state <> '%s'", sample.State), 0, 0},
		{"broken references", "SELECT 1.0 * count(*) FROM pragma_foreign_key_check", 0, 0},
		{"inspections in the future", "SELECT 1.0 * count(*) FROM inspections WHERE inspected_on > '2026-11-25'", 0, 0},
		{"feet that miss the length by over 1 ft", "SELECT 1.0 * count(*) FROM joint_condition WHERE abs(cs1_ft + cs2_ft + cs3_ft + cs4_ft + not_seen_ft - length_ft) > 1", 0, 0},
	} {
		var got float64
		if err := s.Read().NewRaw(tt.query).Scan(ctx, &got); err != nil || got < tt.low || got > tt.high {
			t.Errorf("%s: %.3g (%v), want %g to %g", tt.what, got, err, tt.low, tt.high)
		}
	}
}

// Feet and mileposts have three decimals at the most: what is worked out from others
// is rounded, and no file shows 0.10000000000000142 ft.
func TestFeetAndMilepostsAreRound(t *testing.T) {
	s, _ := makeSample(t, 1)
	for name, query := range map[string]string{
		"milepost": "SELECT milepost FROM bridges", "length_ft": "SELECT length_ft FROM joints WHERE length_ft IS NOT NULL",
		"feet": "SELECT cs1_ft FROM inspection_feet UNION SELECT cs2_ft FROM inspection_feet UNION SELECT cs3_ft FROM inspection_feet UNION SELECT cs4_ft FROM inspection_feet",
	} {
		var all []float64
		if err := s.Read().NewRaw(query).Scan(ctx, &all); err != nil {
			t.Fatal(err)
		}
		if len(all) < 10 {
			t.Errorf("%s: only %d", name, len(all))
		}
		for _, v := range all {
			if text := strconv.FormatFloat(v, 'f', -1, 64); len(text)-strings.IndexByte(text+".", '.') > 4 {
				t.Fatalf("%s of %s", name, text)
			}
		}
	}
}
