package condition_test

import (
	"context"
	"fmt"
	"io"
	"strings"
	"testing"

	"reseal/condition"
	"reseal/inventory"
	"reseal/inventory/store"
)

func importElements(t testing.TB, s *store.Store, r io.Reader, year int) inventory.Intake {
	t.Helper()
	var in inventory.Intake
	err := s.Update(ctx, "ana", func(ctx context.Context, tx *store.Tx) (err error) {
		in, err = condition.ImportElements(ctx, tx, r, "elements.xml", year, inventory.IntakeOptions{Today: today})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return in
}

// TestOregon2015 compares with the counts that README of testdata/open gives
// for the file that FHWA published, made by other programs.
func TestOregon2015(t *testing.T) {
	s := create(t)
	in := importElements(t, s, open(t, "2015OR_ElementData.xml.gz"), 2015)
	if in.Read != 13419 || in.Added != 871 {
		t.Errorf("read %d, added %d; want 13419, 871", in.Read, in.Added)
	}
	type total struct {
		Element, Records int
		Feet             float64
	}
	var got []total
	err := s.Read().NewRaw(`SELECT element, count(*) AS records, sum(cs1_ft + cs2_ft + cs3_ft + cs4_ft) AS feet
		FROM joints j JOIN inspections i ON i.joint_id = j.id JOIN inspection_feet f ON f.inspection_id = i.id GROUP BY element ORDER BY element`).Scan(ctx, &got)
	if err != nil {
		t.Fatal(err)
	}
	want := []total{{300, 68, 9444}, {301, 183, 24062}, {302, 107, 14533}, {303, 20, 1708}, {304, 23, 1289}, {305, 4, 201}, {306, 466, 53962}}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("by element: got %v, want %v", got, want)
	}
	var structures int
	if err := s.Read().NewRaw("SELECT count(DISTINCT bridge_id) FROM joints").Scan(ctx, &structures); err != nil || structures != 752 {
		t.Errorf("structures with joints: got %d (%v), want 752", structures, err)
	}
	again := importElements(t, s, open(t, "2015OR_ElementData.xml.gz"), 2015)
	if again.Added != 0 || again.Changed != 0 || again.Unchanged != 871 {
		t.Errorf("the same file again: %+v; want 871 unchanged", again)
	}
}

// record is one element record as XML.
func record(number string, el int, feet ...int) string {
	sum := 0
	for _, f := range feet {
		sum += f
	}
	return fmt.Sprintf("<FHWAED><STATE>53</STATE><STRUCNUM>%s</STRUCNUM><EN>%d</EN><TOTALQTY>%d</TOTALQTY><CS1>%d</CS1><CS2>%d</CS2><CS3>%d</CS3><CS4>%d</CS4></FHWAED>",
		number, el, sum, feet[0], feet[1], feet[2], feet[3])
}

func submission(records ...string) io.Reader {
	return strings.NewReader("<FHWAELEMENT>" + strings.Join(records, "\n") + "</FHWAELEMENT>")
}

func inspections(t *testing.T, s *store.Store, jointID int64) []condition.Inspection {
	t.Helper()
	got, err := condition.Inspections(ctx, s.Read(), jointID)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func TestSubmissionIsNotAnInspection(t *testing.T) {
	s := create(t)
	importElements(t, s, submission(record("A", 300, 80, 20, 0, 0)), 2018)
	importElements(t, s, submission(record("A", 300, 80, 20, 0, 0)), 2019) // sent in again
	if got := inspections(t, s, 1); len(got) != 1 || got[0].Observed() {
		t.Errorf("after a repeat: %d inspections, observed %v; want one, of which only the latest date is known", len(got), got[0].Observed())
	}
	importElements(t, s, submission(record("A", 300, 70, 20, 10, 0)), 2020) // changed
	if got := inspections(t, s, 1); len(got) != 2 || got[0].InspectedOn.Year != 2020 {
		t.Errorf("after a change: %d inspections; want 2", len(got))
	}
	var carried string
	if err := s.Read().NewRaw("SELECT group_concat(carried_forward, '') FROM (SELECT carried_forward FROM element_records ORDER BY submitted_year)").Scan(ctx, &carried); err != nil || carried != "010" {
		t.Errorf("carried forward by year: %q (%v), want 010", carried, err)
	}
}

func TestInventoryDatesTheRecord(t *testing.T) {
	s := create(t)
	update(t, s, func(tx *store.Tx) error {
		return inventory.AddBridge(ctx, tx, &inventory.Bridge{State: "53", StructureNumber: "A", LastInspection: "2018-06"})
	})
	importElements(t, s, submission(record("A", 300, 100, 0, 0, 0)), 2019)
	importElements(t, s, submission(record("A", 300, 100, 0, 0, 0)), 2020) // the same look
	got := inspections(t, s, 1)
	if len(got) != 1 || !got[0].Observed() || got[0].InspectedOn.String() != "2018-06-01" {
		t.Fatalf("got %+v, want one observation of June 2018", got)
	}
	update(t, s, func(tx *store.Tx) error {
		b, err := inventory.FindBridge(ctx, tx, "53/A")
		if err != nil {
			return err
		}
		b.LastInspection = "2020-07"
		return inventory.SaveBridge(ctx, tx, b)
	})
	importElements(t, s, submission(record("A", 300, 100, 0, 0, 0)), 2021) // looked at again, unchanged
	if got := inspections(t, s, 1); len(got) != 2 || got[0].InspectedOn.String() != "2020-07-01" {
		t.Errorf("got %+v, want a second observation of July 2020", got)
	}
}

func TestRecodedJointStaysOneJoint(t *testing.T) {
	s := create(t)
	importElements(t, s, submission(record("A", 301, 100, 0, 0, 0)), 2018)
	in := importElements(t, s, submission(record("A", 306, 90, 10, 0, 0)), 2019)
	if in.Added != 0 || in.Changed != 1 {
		t.Errorf("got %+v, want the same joint changed", in)
	}
	open, err := condition.OpenChanges(ctx, s.Read())
	if err != nil || len(open) != 1 || open[0].FromElement != 301 || open[0].ToElement != 306 {
		t.Fatalf("open changes: %+v, %v; want 301 to 306", open, err)
	}
	update(t, s, func(tx *store.Tx) error {
		j, err := inventory.FindJoint(ctx, tx, "J000001")
		if err != nil {
			return err
		}
		return condition.Recode(ctx, tx, j, condition.NewSeal, inventory.Date{Year: 2018, Month: 9, Day: 1})
	})
	stretches, err := inventory.Stretches(ctx, s.Read(), 1)
	if err != nil || len(stretches[0].Seals) != 2 || stretches[0].Current().Kind != "other" {
		t.Errorf("seals after a new seal: %+v, %v; want two, the present one other", stretches, err)
	}
	if open, _ := condition.OpenChanges(ctx, s.Read()); len(open) != 0 {
		t.Errorf("%d changes still open", len(open))
	}
}

// TestYearsInAnyOrder takes two years in, the later one first and last, and
// sees that the joint stays as the later year has it.
func TestYearsInAnyOrder(t *testing.T) {
	years := map[int]string{2018: record("A", 301, 100, 0, 0, 0), 2019: record("A", 306, 92, 10, 0, 0)}
	for _, order := range [][]int{{2018, 2019, 2018}, {2019, 2018, 2018}} {
		t.Run(fmt.Sprint(order), func(t *testing.T) {
			s := create(t)
			var in inventory.Intake
			for _, year := range order {
				in = importElements(t, s, submission(years[year]), year)
			}
			if in.Added != 0 || in.Changed != 0 {
				t.Errorf("a year again: %+v, want nothing changed", in)
			}
			j, err := inventory.FindJoint(ctx, s.Read(), "J000001")
			if err != nil || j.Element != 306 || *j.LengthFt != 102 {
				t.Errorf("got %+v, %v; want element 306 and 102 ft", j, err)
			}
			open, err := condition.OpenChanges(ctx, s.Read())
			if err != nil || len(open) != 1 || open[0].Year != 2019 || open[0].FromElement != 301 || open[0].ToElement != 306 {
				t.Errorf("open changes: %+v, %v; want 301 to 306 in 2019", open, err)
			}
		})
	}
}

// TestYearNotOver sees that a submission of the current year, whose day is not
// known, does not stand before an inspection of the day after.
func TestYearNotOver(t *testing.T) {
	s := create(t)
	importElements(t, s, submission(record("A", 300, 100, 0, 0, 0)), today.Year)
	if got := inspections(t, s, 1); len(got) != 1 || got[0].InspectedOn != today {
		t.Errorf("got %+v, want it seen no later than %s", got, today)
	}
}

func TestJointElementsStayApart(t *testing.T) {
	s := create(t)
	in := importElements(t, s, submission(record("A", 300, 50, 0, 0, 0), record("A", 301, 60, 0, 0, 0), record("B", 300, 50, 0, 0, 0)), 2018)
	if in.Added != 3 {
		t.Errorf("added %d joints, want 3", in.Added)
	}
	in = importElements(t, s, submission(record("A", 301, 60, 0, 0, 0), record("B", 300, 50, 0, 0, 0)), 2019)
	if in.Added != 0 || !strings.Contains(strings.Join(in.Notices, "\n"), "1 joints on record are not in this file") {
		t.Errorf("got %+v, want a notice of the missing joint", in)
	}
}

func TestCorrectedSubmissionReplaces(t *testing.T) {
	s := create(t)
	importElements(t, s, submission(record("A", 300, 50, 0, 0, 0)), 2018)
	importElements(t, s, submission(record("A", 300, 0, 50, 0, 0)), 2018)
	if got := inspections(t, s, 1); len(got) != 1 || got[0].StateFt() != [4]float64{0, 50} {
		t.Errorf("got %+v, want the corrected figures only", got)
	}
}

func TestFaultyElementFileChangesNothing(t *testing.T) {
	s := create(t)
	for _, tt := range []struct{ name, xml, want string }{
		{"cut short", "<FHWAELEMENT>" + record("A", 300, 1, 0, 0, 0) + "<FHWAED><STATE>53", "line 1"},
		{"no records", "<a></a>", "no FHWAED records"},
		{"a number that is none", strings.ReplaceAll("<X>"+record("A", 300, 1, 0, 0, 0)+"</X>", "<CS1>1<", "<CS1>one<"), "CS1"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			err := s.Update(ctx, "ana", func(ctx context.Context, tx *store.Tx) error {
				_, err := condition.ImportElements(ctx, tx, strings.NewReader(tt.xml), "f.xml", 2018, inventory.IntakeOptions{})
				return err
			})
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("got %v, want %q", err, tt.want)
			}
			if n, _ := s.Read().NewSelect().Model((*inventory.Bridge)(nil)).Count(ctx); n != 0 {
				t.Errorf("%d bridges on record, want 0", n)
			}
		})
	}
}
