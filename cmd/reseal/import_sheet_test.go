package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"

	"reseal/condition/intake"
)

// office is a folder with an inventory, in which commands run on a fixed day.
type office struct {
	t   *testing.T
	dir string
}

func newOffice(t *testing.T) *office {
	t.Helper()
	o := &office{t, t.TempDir()}
	o.must("init")
	return o
}

// run runs the program; files named in args are those of the folder.
func (o *office) run(args ...string) (out, errText string, code int) {
	o.t.Helper()
	var stdout, stderr bytes.Buffer
	args = append([]string{"reseal", "--db", filepath.Join(o.dir, "reseal.gpkg"), "--by", "test"}, args...)
	for i, a := range args {
		if _, err := os.Stat(filepath.Join(o.dir, a)); err == nil && i > 4 {
			args[i] = filepath.Join(o.dir, a)
		}
	}
	now := func() time.Time { return time.Date(2025, 11, 20, 9, 0, 0, 0, time.UTC) }
	code = run(context.Background(), args, world{in: strings.NewReader(""), out: &stdout, err: &stderr, now: now})
	return stdout.String(), strings.ReplaceAll(stderr.String(), o.dir+"/", ""), code
}

func (o *office) must(args ...string) string {
	o.t.Helper()
	out, errText, code := o.run(args...)
	if code != 0 {
		o.t.Fatalf("reseal %v: exit %d: %s", args, code, errText)
	}
	return out + errText
}

func (o *office) file(name, content string) string {
	o.t.Helper()
	if err := os.WriteFile(filepath.Join(o.dir, name), []byte(content), 0o644); err != nil {
		o.t.Fatal(err)
	}
	return name
}

// sample puts one of the invented files into the folder.
func (o *office) sample(kind string) string {
	o.t.Helper()
	b, err := os.ReadFile(filepath.Join("../../testdata/import", kind+".csv"))
	if err != nil {
		o.t.Fatal(err)
	}
	return o.file(kind+".csv", string(b))
}

// stocked is an office with the sample bridges and joints.
func stocked(t *testing.T) *office {
	o := newOffice(t)
	for _, kind := range []string{"bridges", "joints"} {
		o.must("import", kind, o.sample(kind))
	}
	return o
}

func TestImportEveryKindTwice(t *testing.T) {
	o := newOffice(t)
	for _, step := range []struct{ kind, first, second string }{
		{"bridges", "bridges.csv: read 3; bridges added 3, changed 0, unchanged 0", "added 0, changed 0, unchanged 3"},
		{"joints", "joints.csv: read 5; joints added 5, changed 0, unchanged 0", "added 0, changed 0, unchanged 5"},
		{"seals", "seals.csv: read 3; seals added 3, changed 0, unchanged 0", "added 0, changed 0, unchanged 3"},
		{"inspections", "inspections.csv: read 5; inspections added 4, changed 0, unchanged 0", "added 0, changed 0, unchanged 4"},
		{"readings", "readings.csv: read 2; readings added 2, changed 0, unchanged 0", "added 0, changed 0, unchanged 2"},
		{"findings", "findings.csv: read 2; findings added 2, changed 0, unchanged 0", "added 0, changed 0, unchanged 2"},
		{"work", "work.csv: read 2; work added 2, changed 0, unchanged 0", "added 0, changed 0, unchanged 2"},
		{"projects", "projects.csv: read 1; projects added 1, changed 0, unchanged 0", "added 0, changed 0, unchanged 1"},
	} {
		file := o.sample(step.kind)
		if got := o.must("import", step.kind, "--dry-run", file); !strings.Contains(got, step.first) {
			t.Errorf("dry run of %s: got %q, want %q", step.kind, got, step.first)
		}
		if got := o.must("import", step.kind, file); !strings.Contains(got, step.first) {
			t.Errorf("first import of %s: got %q, want %q", step.kind, got, step.first)
		}
		if got := o.must("import", step.kind, file); !strings.Contains(got, step.second) {
			t.Errorf("second import of %s: got %q, want %q", step.kind, got, step.second)
		}
	}
	got := o.must("joint", "show", "J000004", "--format", "json")
	for _, want := range []string{
		`"kind": "foam seal"`, `"removed_on": "2024-08-20"`, `"removed_why": "reseal"`, `"removed_on": "2019-05-20"`, `"quick_worst": 3`,
	} {
		if !strings.Contains(got, want) {
			t.Errorf("joint J000004: %s is not in %s", want, got)
		}
	}
	got = o.must("joint", "show", "J000001", "--format", "json")
	for _, want := range []string{`"length_ft": 41.9948`, `"installed_precision": "month"`, `"cost_cents": 725000`, `"photos": "a.jpg\nb.jpg"`, `"position": "right curb"`} {
		if !strings.Contains(got, want) {
			t.Errorf("joint J000001: %s is not in %s", want, got)
		}
	}
}

func TestImportChangesKeepHistory(t *testing.T) {
	o := stocked(t)
	o.file("more.csv", "tag,length_ft,direction,size\nJ000001,44,NB,5 in\nJ000002,,,\n")
	got := o.must("import", "joints", "more.csv")
	if want := "more.csv: read 2; joints added 0, changed 1, unchanged 1"; !strings.Contains(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	got = o.must("joint", "history", "J000001", "--format", "csv")
	for _, want := range []string{"test,direction,,NB", "test,length_ft,41.9948,44"} {
		if !strings.Contains(got, want) {
			t.Errorf("history: %q is not in %q", want, got)
		}
	}
	if got := o.must("joint", "show", "J000001", "--format", "json"); !strings.Contains(got, `"to_ft": 44`) || !strings.Contains(got, `"size": "5 in"`) {
		t.Errorf("stretch or seal did not follow: %s", got)
	}
}

func TestImportErrors(t *testing.T) {
	book := func(t *testing.T, o *office, sheets map[string][][]any) string {
		t.Helper()
		f := excelize.NewFile()
		for name, rows := range sheets {
			if _, err := f.NewSheet(name); err != nil {
				t.Fatal(err)
			}
			for i, row := range rows {
				cell, _ := excelize.CoordinatesToCellName(1, i+1)
				if err := f.SetSheetRow(name, cell, &row); err != nil {
					t.Fatal(err)
				}
			}
		}
		if err := f.DeleteSheet("Sheet1"); err != nil {
			t.Fatal(err)
		}
		if err := f.SaveAs(filepath.Join(o.dir, "book.xlsx")); err != nil {
			t.Fatal(err)
		}
		return "book.xlsx"
	}
	const head = "bridge,label,length_ft,installed\n"
	tests := []struct {
		name, kind, content string
		args                []string
		want                string
	}{
		{
			name: "a PDF", kind: "joints", content: "%PDF-1.7\n%âãÏÓ\n",
			want: "reseal: f.csv: not a CSV or XLSX table: it is a PDF document (export the table itself as CSV or XLSX)\nnothing was imported\n",
		},
		{
			name: "an old workbook", kind: "joints", content: "\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1rest",
			want: "reseal: f.csv: not a CSV or XLSX table: it is an old .xls workbook or one with a password (save it as .xlsx without a password, or as CSV)\nnothing was imported\n",
		},
		{
			name: "a bridge inventory as joints", kind: "joints", content: "STATE_CODE_001,STRUCTURE_NUMBER_008,LAT_016\n41,'00123          ',44030000\n",
			want: "reseal: f.csv: is a bridge inventory, not a table of joints\nnothing was imported\n  what to do: take it in with: reseal import bridges f.csv\n",
		},
		{
			name: "a table of bridges as joints", kind: "joints", content: "state,structure_number,length_ft\n41,00123,210\n",
			want: "reseal: f.csv: is not a table of joints: no column says which one a row is about (tag, or bridge and label, or bridge and place and sequence); its columns are state, structure_number, length_ft\nnothing was imported\n  what to do: an empty table with the right columns: reseal import template joints\n",
		},
		{
			name: "a wrong column", kind: "joints", content: "bridge,label,lenght_ft\n00123,B,40\n",
			want: "reseal: f.csv line 1, column lenght_ft: is not a known column (did you mean length_ft?)\nnothing was imported\n",
		},
		{
			name: "a missing column", kind: "inspections", content: "bridge,label,cs1_ft\n00123,A1,40\n",
			want: "reseal: f.csv line 1, column date: is missing from the header (the closest present: label, bridge, cs1_ft)\nnothing was imported\n  what to do: an empty table with the right columns: reseal import template inspections\n",
		},
		{name: "an empty file", kind: "joints", want: "reseal: f.csv: nothing to read: the file is empty (its first line must name the columns)\nnothing was imported\n"},
		{
			name: "a date that is none", kind: "joints", content: head + "00123,B,40,2017-13-02\n",
			want: "reseal: f.csv line 2, column installed: \"2017-13-02\" is not a date (YYYY-MM-DD)\nnothing was imported\n",
		},
		{
			name: "a date of two readings", kind: "joints", content: head + "00123,B,40,5/3/2017\n",
			want: "reseal: f.csv line 2, column installed: \"5/3/2017\" could be May 3 or March 5 (YYYY-MM-DD)\nnothing was imported\n",
		},
		{
			name: "a date in the future", kind: "joints", content: head + "00123,B,40,2031-05-01\n",
			want: "reseal: f.csv line 2, column installed: \"2031-05-01\" is in the future (today is 2025-11-20)\nnothing was imported\n",
		},
		{
			name: "a length of 0", kind: "joints", content: head + "00123,B,0,\n",
			want: "reseal: f.csv line 2, column length_ft: \"0\" is under 1 ft (allowed: 1 ft to 99999 ft)\nnothing was imported\n",
		},
		{
			name: "an unknown bridge", kind: "joints", content: head + "9999,B,40,\n",
			want: "reseal: f.csv line 2, column bridge: \"9999\" is not a bridge on record (list them with: reseal bridge list --text 9999)\nnothing was imported\n",
		},
		{
			name: "an unknown joint", kind: "inspections", content: "bridge,label,date,cs1_ft\n00123,Z9,2025-06-01,42\n",
			want: "reseal: f.csv line 2, column label: \"Z9\" is not the label of a joint of bridge 41/00123 (list them with: reseal joint list --text 00123)\nnothing was imported\n",
		},
		{
			name: "an unknown tag", kind: "readings", content: "tag,date,gap_in\nJ000099,2025-06-01,2\n",
			want: "reseal: f.csv line 2, column tag: \"J000099\" is not the tag of a joint on record (list them with: reseal joint list)\nnothing was imported\n",
		},
		{
			name: "the same joint twice", kind: "joints", content: head + "00123,B,40,\n41/00123,b,41,\n",
			want: "reseal: f.csv line 3: line 2 is about the same joint (J000006) (keep one of the two rows; the further seals of a joint go into import seals)\nnothing was imported\n",
		},
		{
			name: "semicolons and Windows line ends", kind: "joints", content: "bridge;label;length_ft\r\n00123;B;x\r\n",
			want: "reseal: f.csv line 2, column length_ft: \"x\" is not a number (digits and a decimal point)\nnothing was imported\n",
		},
		{
			name: "a kind of seal that is unknown", kind: "joints", content: "bridge,label,kind\n00123,B,rubber\n",
			want: "reseal: f.csv line 2, column kind: \"rubber\" is not a kind of seal in the agency's table (asphaltic plug, compression seal, foam seal, modular joint, open joint, other, plate joint, pourable seal, preformed gland, strip seal)\nnothing was imported\n",
		},
		{
			name: "a later seal under joints", kind: "joints", content: "tag,installed\nJ000001,2024-05-01\n",
			want: "reseal: f.csv line 2, column installed: \"2024-05-01\" is after 2012-06-01, when the seal on record went in (a new seal: import seals or import work; a wrong date on record: --accept-odd corrects it)\nnothing was imported\n",
		},
		{
			name: "seals that overlap", kind: "seals", content: "tag,kind,installed,removed\nJ000001,open joint,1990,2014-01-01\n",
			want: "reseal: f.csv line 2: the seal of 1990-01-01 is in place until 2014-01-01, when that of 2012-06-01 is there already (correct the dates, or give from_ft and to_ft if they lie in different stretches)\nnothing was imported\n",
		},
		{
			name: "two seals in place", kind: "seals", content: "tag,kind,installed\nJ000001,strip seal,2024-05-01\n",
			want: "reseal: f.csv line 2: two seals of the stretch would be in place: those of 2012-06-01 and 2024-05-01 (give the day on which the earlier one was removed)\nnothing was imported\n",
		},
		{
			name: "feet that miss the length", kind: "inspections", content: "tag,date,cs1_ft,cs2_ft\nJ000001,2025-06-01,20,5\n",
			want: "reseal: f.csv line 2: the feet add up to 25, 16.99 ft less than the length of 41.99 ft (correct the feet, or the length: reseal joint edit J000001 --length-ft 25)\nnothing was imported\n",
		},
		{
			name: "an inspection before the bridge", kind: "inspections", content: "tag,date,cs1_ft\nJ000001,1950-06-01,42\n",
			want: "reseal: f.csv line 2: 1950-06-01 is before the bridge was built (1964) (correct the date, or the year built of the bridge)\nnothing was imported\n",
		},
		{
			name: "a gap that cannot be", kind: "inspections", content: "tag,date,gap_mm\nJ000001,2025-06-01,1400\n",
			want: "reseal: f.csv line 2, column gap_mm: \"1400\" is over 40 in (allowed: 0 in to 40 in)\nnothing was imported\n",
		},
		{
			name: "a defect that cannot be read", kind: "inspections", content: "tag,date,defects\nJ000001,2025-06-01,leaks\n",
			want: "reseal: f.csv line 2, column defects: \"leaks\" cannot be read at \"leaks\" (NUMBER:STATE or NUMBER:STATE:FROM-TO, for example 2330:3:0-12; 2350:2)\nnothing was imported\n",
		},
		{
			name: "a plate as a new seal", kind: "work", content: "tag,date,treatment,new_seal\nJ000001,2025-06-01,temporary plate,yes\n",
			want: "reseal: f.csv line 2, column new_seal: \"yes\" cannot be of a temporary plate (a plate is not a seal and never improves condition)\nnothing was imported\n",
		},
		{
			name: "a bridge without its state", kind: "bridges", content: "structure_number,route\n777,I 5\n",
			want: "reseal: f.csv line 2: the row does not say in which state the bridge is (give the two-digit FIPS code in a column state, or for the whole file with --state)\nnothing was imported\n",
		},
	}
	o := stocked(t)
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			o.file("f.csv", tt.content)
			_, got, code := o.run(append([]string{"import", tt.kind, "f.csv"}, tt.args...)...)
			if diff := cmp.Diff(tt.want, got); diff != "" || code != exitFailed {
				t.Errorf("exit %d, want %d; message (-want +got):\n%s", code, exitFailed, diff)
			}
		})
	}
	t.Run("a wrong sheet", func(t *testing.T) {
		name := book(t, o, map[string][][]any{"Joints 2025": {{"tag", "lanes"}, {"J000001", 2}}})
		_, got, _ := o.run("import", "joints", name, "--sheet", "joints")
		want := "reseal: book.xlsx: no such sheet: \"joints\" (its sheets: Joints 2025)\nnothing was imported\n"
		if diff := cmp.Diff(want, got); diff != "" {
			t.Error(diff)
		}
	})
	t.Run("an Excel date", func(t *testing.T) {
		day := time.Date(2025, 6, 12, 0, 0, 0, 0, time.UTC)
		name := book(t, o, map[string][][]any{"Sheet": {{"tag", "date", "gap_in"}, {"J000001", day, 2.25}}})
		if got := o.must("import", "readings", name, "--sheet", "Sheet"); !strings.Contains(got, "readings added 1") {
			t.Errorf("got %q", got)
		}
		if got := o.must("joint", "show", "J000001", "--format", "json"); !strings.Contains(got, `"read_on": "2025-06-12"`) {
			t.Errorf("the date is not in %s", got)
		}
	})
}

func TestImportText(t *testing.T) {
	for _, tt := range []struct{ name, content, want string }{
		{"a byte-order mark and Windows line ends", "\xEF\xBB\xBFbridge,label,notes\r\n00123,B,Bäche\r\n", `"notes": "Bäche"`},
		{"Latin-1", "bridge,label,notes\n00123,B,B\xE4che\n", `"notes": "Bäche"`},
		{"semicolons and decimal commas", "bridge;label;length_ft\n00123;B;40,5\n", `"length_ft": 40.5`},
	} {
		t.Run(tt.name, func(t *testing.T) {
			o := stocked(t)
			o.must("import", "joints", o.file("f.csv", tt.content))
			if got := o.must("joint", "show", "J000006", "--format", "json"); !strings.Contains(got, tt.want) {
				t.Errorf("%s is not in %s", tt.want, got)
			}
		})
	}
}

func TestImportListsFaultsOfAllFiles(t *testing.T) {
	o := stocked(t)
	var many strings.Builder
	many.WriteString("bridge,label,length_ft\n")
	for range 60 {
		many.WriteString("9999,B,40\n")
	}
	o.file("a.csv", "bridge,label,length_ft\n00123,B,0\n00456,B,40\n")
	o.file("b.csv", many.String())
	_, got, code := o.run("import", "joints", "a.csv", "b.csv")
	if code != exitFailed || strings.Count(got, "\n") != 52 || !strings.Contains(got, "a.csv line 2") || !strings.Contains(got, "b.csv line 50, ") ||
		!strings.HasSuffix(got, "\nand 11 more faults\nnothing was imported\n") {
		t.Errorf("exit %d, %d lines: %s", code, strings.Count(got, "\n"), got)
	}
	if got := o.must("joint", "list", "--format", "csv"); strings.Count(got, "\n") != 6 {
		t.Errorf("joints were kept: %s", got)
	}
}

func TestImportSkipBad(t *testing.T) {
	o := stocked(t)
	o.file("f.csv", "bridge,label,length_ft\n00123,B,0\n00456,B,40\n9999,B,40\n")
	_, got, code := o.run("import", "joints", "--skip-bad", filepath.Join(o.dir, "bad.csv"), "f.csv")
	want := "f.csv: read 3; joints added 1, changed 0, unchanged 0\n2 bad rows are in bad.csv with their reason\n"
	if code != exitRejected || got != want {
		t.Errorf("exit %d, %q; want %d, %q", code, got, exitRejected, want)
	}
	bad, err := os.ReadFile(filepath.Join(o.dir, "bad.csv"))
	if err != nil {
		t.Fatal(err)
	}
	wantBad := "bridge,label,length_ft,fault_on_line,fault\n" +
		"00123,B,0,2,\"length_ft: \"\"0\"\" is under 1 ft (allowed: 1 ft to 99999 ft)\"\n" +
		"9999,B,40,4,\"bridge: \"\"9999\"\" is not a bridge on record (list them with: reseal bridge list --text 9999)\"\n"
	if diff := cmp.Diff(wantBad, string(bad)); diff != "" {
		t.Error(diff)
	}
	mended := strings.NewReplacer("B,0,2", "B,42,2", "9999", "41/00123A").Replace(string(bad))
	if got := o.must("import", "joints", o.file("mended.csv", mended)); !strings.Contains(got, "joints added 2") {
		t.Errorf("the mended file: %q", got)
	}
}

func TestImportOddAndCorrections(t *testing.T) {
	o := stocked(t)
	o.must("import", "inspections", o.sample("inspections"))
	o.file("f.csv", "tag,date,inspector,cs1_ft,cs2_ft,cs3_ft\nJ000001,2025-10-01,B,42,0,0\n")
	_, got, code := o.run("import", "inspections", "f.csv")
	want := "reseal: f.csv line 2: odd: better than on 2025-06-10 with no work on record (look again; if it is right, --accept-odd keeps it with a mark)\nnothing was imported\n"
	if code != exitFailed || got != want {
		t.Errorf("exit %d, %q; want %q", code, got, want)
	}
	if got := o.must("import", "inspections", "--accept-odd", "f.csv"); !strings.Contains(got, "1 inspections are odd and were kept with a mark") {
		t.Errorf("accepted: %q", got)
	}
	o.file("g.csv", "tag,date,inspector,cs1_ft,cs2_ft,cs3_ft\nJ000001,2025-10-01,b,26,10,6\n")
	_, got, _ = o.run("import", "inspections", "g.csv")
	want = "reseal: g.csv line 2: an inspection of joint J000001 by the same inspector on 2025-10-01 is on record and says something else (a correction gives 2025-10-01 in a column replaces; nothing on record is overwritten)\nnothing was imported\n"
	if got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	o.file("g.csv", "tag,date,inspector,cs1_ft,cs2_ft,cs3_ft,replaces\nJ000001,2025-10-01,b,26,10,6,2025-10-01\n")
	for _, want := range []string{"inspections added 1", "inspections added 0, changed 0, unchanged 1"} {
		if got := o.must("import", "inspections", "g.csv"); !strings.Contains(got, want) {
			t.Errorf("correction: got %q, want %q", got, want)
		}
	}
	if got := o.must("import", "inspections", "f.csv"); !strings.Contains(got, "unchanged 1") {
		t.Errorf("what was corrected came in again: %q", got)
	}
}

func TestImportHalfWidths(t *testing.T) {
	o := stocked(t)
	o.must("import", "inspections", o.sample("inspections"))
	halves := o.file("halves.csv", "tag,from_ft,to_ft,kind,installed\nJ000005,0,18,foam seal,2019-05-20\nJ000005,18,36,foam seal,2019-05-27\n"+
		"J000001,0,21,foam seal,2025-09-01\n")
	if got, want := o.must("import", "seals", halves), "seals added 1, changed 2, unchanged 0"; !strings.Contains(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	if got, want := o.must("import", "seals", halves), "seals added 0, changed 0, unchanged 3"; !strings.Contains(got, want) {
		t.Errorf("again: got %q, want %q", got, want)
	}
	got := o.must("joint", "show", "J000001", "--format", "json")
	for _, want := range []string{`"to_ft": 21`, `"from_ft": 21`, `"installed_on": "2012-06-01"`, `"installed_on": "2025-09-01"`} {
		if !strings.Contains(got, want) {
			t.Errorf("%s is not in %s", want, got)
		}
	}
	got = o.must("import", "inspections", o.file("after.csv", "tag,date,stretch,cs1_ft,cs2_ft\nJ000001,2025-10-01,1,21,0\nJ000001,2025-10-01,2,20,1\n"), "--accept-odd")
	if !strings.Contains(got, "read 2; inspections added 1") {
		t.Errorf("two stretches: %q", got)
	}
}

func TestImportWorkEndsTheSeal(t *testing.T) {
	o := stocked(t)
	o.file("w.csv", "tag,date,treatment,new_seal,kind,from_ft,to_ft\nJ000001,2024-03-01,temporary plate,no,,3,6\nJ000002,2011-05-01,reseal,yes,foam seal,,\n")
	_, got, _ := o.run("import", "work", "w.csv")
	want := "reseal: w.csv line 3: the seal in place went in later, on 2012-01-01 (record an earlier seal with import seals, and the work without new_seal)\nnothing was imported\n"
	if got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestImportConfirmsProposals(t *testing.T) {
	o := newOffice(t)
	o.must("import", "bridges", o.sample("bridges"))
	o.must("joint", "propose")
	if _, errText, code := o.run("import", "joints", "--skip-bad", filepath.Join(o.dir, "bad.csv"), o.file("worse.csv", "bridge,place,sequence,skew_deg\n00123,abutment,1,88\n")); code != exitRejected {
		t.Errorf("a joint with an impossible skew: exit %d: %s", code, errText)
	}
	if got := o.must("joint", "list", "--bridge", "00123"); strings.Contains(got, "J000001") {
		t.Errorf("a rejected row has confirmed its joint:\n%s", got)
	}
	got := o.must("import", "joints", o.sample("joints"))
	if !strings.Contains(got, "proposed joints are in this file and are now confirmed") {
		t.Errorf("got %q", got)
	}
	if got := o.must("import", "joints", o.sample("joints")); !strings.Contains(got, "added 0, changed 0, unchanged 5") {
		t.Errorf("again: %q", got)
	}
}

// TestImportBatches reads a file that is longer than a batch, with inspections
// of three rows each that no batch may cut.
func TestImportBatches(t *testing.T) {
	o := stocked(t)
	var b strings.Builder
	b.WriteString("tag,date,gap_in,position\n")
	day := time.Date(2015, 1, 1, 0, 0, 0, 0, time.UTC)
	for i := range 400 {
		for _, at := range []string{"left", "middle", "right"} {
			b.WriteString("J000001," + day.AddDate(0, 0, i).Format(time.DateOnly) + ",2.25," + at + "\n")
		}
	}
	o.file("f.csv", b.String())
	for _, want := range []string{"read 1200; inspections added 400, changed 0, unchanged 0", "read 1200; inspections added 0, changed 0, unchanged 400"} {
		if got := o.must("import", "inspections", "f.csv"); !strings.Contains(got, want) {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

func TestImportTemplate(t *testing.T) {
	o := newOffice(t)
	for _, k := range intake.Kinds() {
		if k.Sheet == nil {
			continue
		}
		template := o.must("import", "template", k.Name)
		if got := o.must("import", k.Name, o.file("empty.csv", template)); !strings.Contains(got, "there are no rows below the header") {
			t.Errorf("%s: the template does not import: %q", k.Name, got)
		}
		for _, line := range strings.Split(o.must("import", "template", k.Name, "--describe"), "\n") {
			if len([]rune(line)) > 100 {
				t.Errorf("%s: %d characters: %q", k.Name, len(line), line)
			}
		}
	}
	if _, got, code := o.run("import", "template", "girders"); code != exitUsage || !strings.Contains(got, `there is no kind "girders"`) {
		t.Errorf("exit %d: %q", code, got)
	}
}

// TestAllFaultsOfARow holds the promise that one pass lists every fault: the
// seal's faults too where the joint's own fields have one.
func TestAllFaultsOfARow(t *testing.T) {
	o := newOffice(t)
	o.must("bridge", "add", "41/1069", "--length-ft", "63")
	o.file("joints.csv", "bridge,place,sequence,length_ft,installed,installed_deck_temp_f\n1069,abutment,1,-5,43252,600\n")
	_, errText, code := o.run("import", "joints", "joints.csv")
	for _, want := range []string{`length_ft: "-5" is under 1 ft`, `perhaps 2018-06-01`, `installed_deck_temp_f: "600" is over 180 °F`} {
		if code != exitFailed || !strings.Contains(errText, want) {
			t.Errorf("exit %d; %q is missing from:\n%s", code, want, errText)
		}
	}
	o.file("no.csv", "Bridge No,place,Length (ft)\n1069,abutment,40\n")
	if _, errText, _ = o.run("import", "joints", "no.csv"); !strings.Contains(errText, "its columns are Bridge No, place, Length (ft)") {
		t.Errorf("the columns found are not told:\n%s", errText)
	}
}
