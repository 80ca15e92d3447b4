package layer

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"reseal/cmd/reseal/layer/layertest"
	"reseal/inventory"
	"reseal/inventory/store"
)

// everyPart asks for all that a joint's row can hold.
var everyPart = JointParts{Bridges: true, Seals: true, Looks: true}

// unevenNetwork is an invented inventory of three pages of joints, in which
// the seals and inspections of some are not the plain case.
func unevenNetwork(t *testing.T) *store.Store {
	t.Helper()
	s := layertest.Network(t, 2*pageJoints+500)
	err := s.Update(t.Context(), "invented", func(ctx context.Context, tx *store.Tx) error {
		for _, q := range []string{
			// Joint 3: work in half widths, the first half without a seal on record.
			"UPDATE stretches SET to_ft = 10 WHERE joint_id = 3",
			"UPDATE seals SET removed_on = '2025-01-01', removed_why = 'wear' WHERE stretch_id = 3",
			"INSERT INTO stretches (id, joint_id, from_ft, to_ft) VALUES (90001, 3, 10, 24)",
			"INSERT INTO seals (stretch_id, kind, installed_on, installed_precision) VALUES (90001, 'foam seal', '2026-01-01', 'year')",
			"INSERT INTO inspection_feet (inspection_id, stretch_id, cs1_ft, cs4_ft, not_seen_ft) VALUES (3, 90001, 8, 4, 2)",
			// Joint 2: 0.1 + 0.2 ft of two stretches.
			"INSERT INTO stretches (id, joint_id, from_ft, to_ft) VALUES (90002, 2, 24, 30)",
			"UPDATE inspection_feet SET cs3_ft = 0.1 WHERE inspection_id = 2",
			"INSERT INTO inspection_feet (inspection_id, stretch_id, cs3_ft) VALUES (2, 90002, 0.2)",
			// Joint 4: its inspection was replaced; joint 5: replaced by one without feet.
			"INSERT INTO inspections (id, joint_id, inspected_on, replaces_id) VALUES (90002, 4, '2025-12-31', 4), (90003, 5, '2026-11-01', 5)",
			"INSERT INTO inspection_feet (inspection_id, stretch_id, cs2_ft) VALUES (90002, 4, 24)",
			// Joint 6: a later quick entry; joint 7: two on one day.
			"INSERT INTO inspections (id, joint_id, inspected_on, quick, quick_worst) VALUES (90005, 6, '2026-11-02', 1, 3)",
			"UPDATE inspections SET inspected_on = '2026-05-05' WHERE joint_id = 7",
			"INSERT INTO inspections (id, joint_id, inspected_on, date_known) VALUES (90004, 7, '2026-05-05', 'month')",
			"INSERT INTO inspection_feet (inspection_id, stretch_id, cs3_ft) VALUES (90004, 7, 27)",
			// Joint 9 is retired, joint 10 has no length; the last was never seen, after a gap in the ids.
			"UPDATE joints SET status = 'retired' WHERE id = 9", "UPDATE joints SET length_ft = NULL, label = 'west' WHERE id = 10",
			"INSERT INTO joints (id, tag, bridge_id) VALUES (20001, 'J020001', 1)",
		} {
			if _, err := tx.ExecContext(ctx, q); err != nil {
				return fmt.Errorf("%s: %w", q, err)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// kept copies a row that will be used again.
func kept(j *inventory.JointRow) inventory.JointRow {
	out := *j
	for _, p := range []**float64{&out.Milepost, &out.LengthFt} {
		if *p != nil {
			v := **p
			*p = &v
		}
	}
	return out
}

// TestEachJointOfRecord: the fast reader gives what the view gives.
func TestEachJointOfRecord(t *testing.T) {
	s := unevenNetwork(t)
	var want, got []inventory.JointRow
	err := inventory.EachJoint(t.Context(), s.Read(), inventory.Filter{}, func(j *inventory.JointRow) error {
		want = append(want, *j)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	slices.SortFunc(want, func(a, b inventory.JointRow) int { return int(a.ID - b.ID) })
	err = EachJointOfRecord(t.Context(), s, everyPart, func(j *inventory.JointRow) error {
		got = append(got, kept(j))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if feet := got[1].StateFt[2]; feet != 0.3 {
		t.Errorf("0.1 and 0.2 ft are %v", feet)
	}
	if diff := cmp.Diff(want, got); diff != "" || len(got) != 2*pageJoints+500 {
		t.Errorf("%d joints (-view +fast):\n%.4000s", len(got), diff)
	}
}

// TestEachJointOfOneState: what is written while the joints are read is not
// seen on any of the connections.
func TestEachJointOfOneState(t *testing.T) {
	s := unevenNetwork(t)
	rows, late := 0, 0
	err := EachJointOfRecord(t.Context(), s, everyPart, func(j *inventory.JointRow) error {
		if rows++; rows == 1 {
			err := s.Update(t.Context(), "someone else", func(ctx context.Context, tx *store.Tx) error {
				_, err := tx.ExecContext(ctx, "UPDATE joints SET label = 'late'")
				return err
			})
			if err != nil {
				return err
			}
		}
		if j.Label == "late" {
			late++
		}
		return nil
	})
	if err != nil || late != 0 || rows != 2*pageJoints+500 {
		t.Errorf("%d of %d joints are of a later state (%v)", late, rows, err)
	}
}

// TestEachJointOfRecordWhileWriting: while someone else is writing, one
// connection has to do, and does.
func TestEachJointOfRecordWhileWriting(t *testing.T) {
	s := unevenNetwork(t)
	rows := 0
	err := s.Update(t.Context(), "someone else", func(ctx context.Context, tx *store.Tx) error {
		if _, err := tx.ExecContext(ctx, "UPDATE joints SET label = 'late'"); err != nil {
			return err
		}
		return EachJointOfRecord(ctx, s, everyPart, func(j *inventory.JointRow) error {
			if rows++; j.Label == "late" {
				return errors.New("saw what is not written yet")
			}
			return nil
		})
	})
	if err != nil || rows != 2*pageJoints+500 {
		t.Errorf("%d joints: %v", rows, err)
	}
}

func TestEachJointOfRecordStops(t *testing.T) {
	s := unevenNetwork(t)
	enough := errors.New("enough")
	for _, at := range []int{1, pageJoints + 1, 2*pageJoints + 400} {
		rows := 0
		err := EachJointOfRecord(t.Context(), s, everyPart, func(*inventory.JointRow) error {
			if rows++; rows == at {
				return enough
			}
			return nil
		})
		if !errors.Is(err, enough) || rows != at {
			t.Errorf("at %d: %v after %d joints", at, err, rows)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	err := EachJointOfRecord(ctx, s, everyPart, func(*inventory.JointRow) error {
		cancel()
		return nil
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("interrupted: %v", err)
	}
	if n := s.Read().DB.Stats().InUse; n != 0 {
		t.Errorf("%d connections are still in use", n)
	}
}
