package condition_test

import (
	"testing"

	"reseal/condition"
	"reseal/inventory"
	"reseal/inventory/store"
)

// broken returns how often each rule is broken.
func broken(t *testing.T, s *store.Store) map[string]int {
	t.Helper()
	got := map[string]int{}
	err := condition.Check(ctx, s.Read(), today, func(b condition.Broken) error {
		if b.Ref == "" {
			t.Errorf("rule %q: a case without a reference", b.Rule.Name)
		}
		got[b.Rule.Name]++
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// TestEachRule breaks each rule once and sees that the rule, and no other of
// the same weight, speaks of it.
func TestEachRule(t *testing.T) {
	exec := func(q string) func(*testing.T, *store.Store, *inventory.Joint) {
		return func(t *testing.T, s *store.Store, _ *inventory.Joint) {
			update(t, s, func(tx *store.Tx) error { _, err := tx.ExecContext(ctx, q); return err })
		}
	}
	severe := func(t *testing.T, s *store.Store, j *inventory.Joint) {
		if _, err := log(s, j, "2026-05-01", [4]float64{30, 0, 0, 10}, true); err != nil {
			t.Fatal(err)
		}
	}
	then := func(steps ...func(*testing.T, *store.Store, *inventory.Joint)) func(*testing.T, *store.Store, *inventory.Joint) {
		return func(t *testing.T, s *store.Store, j *inventory.Joint) {
			for _, step := range steps {
				step(t, s, j)
			}
		}
	}
	tests := map[string]func(*testing.T, *store.Store, *inventory.Joint){
		"severe finding open": exec("INSERT INTO findings (joint_id, kind, found_on, urgency) VALUES (1, 'leak', '2026-01-01', 'severe')"),
		"plate in place":      exec("INSERT INTO findings (joint_id, kind, found_on) VALUES (1, 'plate placed', '2026-01-01')"),
		"damage below a joint rated good": exec(
			"INSERT INTO element_records (bridge_id, element, submitted_year, quantity, cs1, cs2, cs3, cs4) VALUES (1, 215, 2025, 100, 50, 0, 50, 0)"),
		"bridge's joint rating contradicts the feet": then(severe, exec("UPDATE bridges SET joints_rating = 8")),
		"feet do not add up to the length":           exec("UPDATE inspection_feet SET cs1_ft = 20"),
		"stretches do not cover the joint":           exec("UPDATE stretches SET to_ft = 30"),
		"seal older than its bridge":                 exec("UPDATE seals SET installed_on = '1970-01-01'"),
		"joint in service on a retired bridge":       exec("UPDATE bridges SET status = 'retired'"),
		"line far from its bridge":                   exec("UPDATE joints SET geometry_source = 'surveyed'"),
		"element number changed":                     exec("INSERT INTO element_changes (joint_id, year, from_element, to_element) VALUES (1, 2025, 301, 306)"),
		"left out of the last submission": exec(`UPDATE joints SET scope = 'bridge quantity', element = 300;
			INSERT INTO element_records (bridge_id, joint_id, element, submitted_year, quantity, cs1, cs2, cs3, cs4) VALUES (1, 1, 300, 2020, 40, 40, 0, 0, 0);
			INSERT INTO element_records (bridge_id, element, submitted_year, quantity, cs1, cs2, cs3, cs4) VALUES (1, 215, 2025, 100, 100, 0, 0, 0)`),
		"bridge without a place":      exec("UPDATE bridges SET geom = NULL"),
		"bridge without joints":       exec("INSERT INTO bridges (state, structure_number, length_ft, geom) SELECT '53', 'B', 100, geom FROM bridges"),
		"proposed joint waiting":      exec("UPDATE joints SET status = 'proposed'"),
		"never inspected":             exec("INSERT INTO joints (bridge_id, length_ft) VALUES (1, 30)"),
		"known only as a quantity":    exec("UPDATE joints SET scope = 'bridge quantity', element = 300"),
		"joint without a length":      exec("UPDATE joints SET length_ft = NULL"),
		"seal kind not known":         exec("UPDATE seals SET kind = 'other'"),
		"installation date not known": exec("UPDATE seals SET installed_on = NULL"),
	}
	for i := range condition.Rules {
		rule := &condition.Rules[i]
		t.Run(rule.Name, func(t *testing.T) {
			breakIt := tests[rule.Name]
			if breakIt == nil {
				t.Fatal("no test breaks this rule")
			}
			s := create(t)
			j := sound(t, s)
			if got := broken(t, s); len(got) != 0 {
				t.Fatalf("before: %v, want nothing broken", got)
			}
			breakIt(t, s, j)
			got := broken(t, s)
			if got[rule.Name] == 0 {
				t.Errorf("got %v, want %q broken", got, rule.Name)
			}
			if rule.Remedy == "" {
				t.Error("the rule has no remedy")
			}
		})
	}
}

// TestRulesPass sees that rules leave alone what only looks like a fault.
func TestRulesPass(t *testing.T) {
	for name, q := range map[string]string{
		"damage below that a later submission has no more": `
			INSERT INTO element_records (bridge_id, element, submitted_year, quantity, cs1, cs2, cs3, cs4) VALUES (1, 215, 2019, 100, 50, 0, 50, 0);
			INSERT INTO element_records (bridge_id, element, submitted_year, quantity, cs1, cs2, cs3, cs4) VALUES (1, 215, 2025, 100, 100, 0, 0, 0)`,
		"damage below a joint that is gone": `
			INSERT INTO findings (joint_id, kind, found_on) VALUES (1, 'damage below', '2026-01-01'); UPDATE joints SET status = 'eliminated'`,
		"bridge whose only joint is shared": `
			INSERT INTO bridges (state, structure_number, length_ft, geom) SELECT '53', 'B', 100, geom FROM bridges;
			UPDATE joints SET second_bridge_id = 2`,
		"old seal that wore out after its warranty": `
			UPDATE inspection_feet SET cs1_ft = cs1_ft - 10, cs3_ft = 10; UPDATE seals SET warranty_until = '2019-09-01', changed_at = 'x'`,
	} {
		t.Run(name, func(t *testing.T) {
			s := create(t)
			sound(t, s)
			update(t, s, func(tx *store.Tx) error { _, err := tx.ExecContext(ctx, q); return err })
			if got := broken(t, s); len(got) != 0 {
				t.Errorf("got %v, want nothing broken", got)
			}
		})
	}
}

// sound puts a bridge with one joint on record, of which nothing is missing.
func sound(t *testing.T, s *store.Store) *inventory.Joint {
	t.Helper()
	j := addJoint(t, s, inventory.Joint{Movement: "expansion"}, inventory.Bridge{YearBuilt: 1980, LengthFt: ptr(200.0), Geom: place(-122.25, 47.5)})
	update(t, s, func(tx *store.Tx) error {
		if _, err := tx.ExecContext(ctx, "UPDATE seals SET installed_on = '2020-06-01', installed_precision = 'day'"); err != nil {
			return err
		}
		j.Geom, j.GeometrySource = line(-120, 47.5), inventory.Drawn
		return inventory.SaveJoint(ctx, tx, j)
	})
	if _, err := log(s, j, "2025-05-01", [4]float64{40}, false); err != nil {
		t.Fatal(err)
	}
	return j
}
