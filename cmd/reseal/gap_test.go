package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"reseal/condition"
	"reseal/forecast"
)

// openings puts invented joints on record: J000001 is well, J000002 does not
// move, J000003 drifts shut, J000004 is too wide for its seal. The bridge is
// that of the strip seal example of WSDOT Bridge Design Manual M 23-50, chapter
// 9.1 (from memory): steel, 600 ft, held at its middle, skew 10°.
func openings(t *testing.T) (do func(args ...string) string, db string) {
	t.Helper()
	db = filepath.Join(t.TempDir(), "network.gpkg")
	do = func(args ...string) string {
		t.Helper()
		code, out, messages := reseal(t, db, args...)
		if code != exitDone {
			t.Fatalf("reseal %s: exit %d: %s", strings.Join(args, " "), code, messages)
		}
		return out
	}
	do("init")
	do("bridge", "add", "53/0001", "--length-ft", "600", "--material", "steel", "--climate", "moderate", "--skew-deg", "10",
		"--curb-width-ft", "40", "--route", "I 5", "--district", "3", "--at", "-122.25,47.5")
	for range 4 {
		do("joint", "add", "0001", "--place", "abutment", "--movement", "expansion", "--length-ft", "41", "--expansion-length-ft", "300", "--kind", "strip seal")
	}
	for i, gaps := range [][3]string{{"1.79", "2.35", "1.42"}, {"1.79", "1.80", "1.78"}, {"2.60", "2.75", "0.92"}, {"3.10", "3.65", "2.73"}} {
		tag := fmt.Sprintf("J%06d", i+1)
		do("record", tag, "--seal", "strip seal, 4 in", "--on", "2015-06-01", "--gap", gaps[0]+"@64")
		do("gap", "add", tag, gaps[1], "--deck-temp-f", "40", "--on", "2018-03-01")
		do("gap", "add", tag, gaps[2], "--deck-temp-f", "80", "--on", "2024-07-01")
	}
	do("gap", "add", "J000002", "1.80", "--deck-temp-f", "95", "--on", "2025-08-01")
	do("gap", "add", "J000002", "1.79", "--deck-temp-f", "25", "--on", "2026-01-09")
	return do, db
}

func TestGapVerdicts(t *testing.T) {
	do, _ := openings(t)
	for tag, want := range map[string]string{
		"J000001": "The seal fits the gap", "J000002": "Does not move", "J000003": "Drifting, closing", "J000004": "too wide when cold",
	} {
		out := do("gap", tag)
		words := strings.Join(strings.Fields(out), " ")
		if !strings.Contains(words, want) {
			t.Errorf("%s: want %q in\n%s", tag, want, out)
		}
		for _, shown := range []string{
			"alpha 6.5e-06 per °F", "deck 0 to 120 °F", "load factor 1", "shrinkage to come 0.00 in", "expansion length 300 ft", "licensed engineer", "= seal's limits",
		} {
			if !strings.Contains(words, shown) {
				t.Errorf("%s: %q is not shown in\n%s", tag, shown, out)
			}
		}
		for line := range strings.Lines(out) {
			if n := len([]rune(strings.TrimRight(line, "\n"))); n > tableWidth+10 {
				t.Errorf("a line of %d columns: %s", n, line)
			}
		}
	}
	// 1.79 in at 64 °F opens to 2.35 at 40 °F by the published example.
	if out := do("gap", "J000001", "--at-temp", "40"); !strings.Contains(out, "at a deck of 40 °F 2.35 in") && !strings.Contains(out, "at a deck of 40 °F 2.34 in") {
		t.Errorf("the opening at 40 °F:\n%s", out)
	}
}

func TestGapAsJSON(t *testing.T) {
	do, _ := openings(t)
	var a gapAnswer
	if err := json.Unmarshal([]byte(do("gap", "J000004", "--seal", "--format", "json")), &a); err != nil {
		t.Fatal(err)
	}
	if !a.NeedsAttention || len(a.Margins) != 4 || len(a.Readings) != 3 || a.Limits.MaxIn == nil || *a.Limits.MaxIn != 4 {
		t.Fatalf("got %+v", a)
	}
	// Margin at 0 °F: 4 − (3.10 + 12·6.5e-6·300·cos 10°·64) by hand, −0.575 in.
	if now := a.Margins[0]; math.Abs(now.ColdIn+0.575) > 0.12 || now.ColdOut < 0.9 || now.Out < now.ColdOut-1e-9 {
		t.Errorf("now: got %+v, want about -0.575 in at the cold limit", now)
	}
	for i, m := range a.Margins[1:] {
		if m.Out < a.Margins[i].Out-1e-9 {
			t.Errorf("%s: out by then falls from %g to %g", m.Year, a.Margins[i].Out, m.Out)
		}
	}
	proposed := 0
	for _, s := range a.Choice {
		if s.Proposed {
			proposed++
			if !s.Fits || s.Kind != "strip seal" || s.Size != "5 in" {
				t.Errorf("proposed %+v, want the strip seal of 5 in", s)
			}
		}
		if s.Fits != (len(s.Fails) == 0) {
			t.Errorf("%s, %s: fits %v, fails %v", s.Kind, s.Size, s.Fits, s.Fails)
		}
	}
	if proposed != 1 {
		t.Errorf("%d seals proposed, want 1", proposed)
	}
	if rows := do("gap", "J000004", "--format", "csv"); strings.Count(rows, "\n") != 5 || !strings.HasPrefix(rows, "year,cold_in") {
		t.Errorf("CSV:\n%s", rows)
	}
	if later := do("gap", "J000003", "--year", "2040", "--format", "csv"); !strings.Contains(later, "\n2040,") {
		t.Errorf("--year 2040:\n%s", later)
	}
}

func TestGapAll(t *testing.T) {
	do, db := openings(t)
	var items []struct {
		Tag, Findings string
		Out           *float64 `json:"out_probability"`
	}
	if err := json.Unmarshal([]byte(do("gap", "--all", "--format", "json")), &items); err != nil {
		t.Fatal(err)
	}
	if len(items) != 3 {
		t.Fatalf("got %+v, want three joints that need attention", items)
	}
	found := map[string]string{}
	for i, item := range items {
		found[item.Tag] = item.Findings
		if i > 0 && *item.Out > *items[i-1].Out {
			t.Errorf("%s is worse than %s before it", item.Tag, items[i-1].Tag)
		}
	}
	for tag, want := range map[string]string{"J000002": "does not move", "J000003": "drifting", "J000004": "too wide when cold"} {
		if !strings.Contains(found[tag], want) {
			t.Errorf("%s: got %q, want %q", tag, found[tag], want)
		}
	}
	var layer struct {
		Features []struct{ Properties map[string]any }
	}
	if err := json.Unmarshal([]byte(do("gap", "--all", "--fine", "--format", "geojson")), &layer); err != nil || len(layer.Features) != 4 {
		t.Fatalf("GeoJSON: %v, %d features, want 4", err, len(layer.Features))
	}
	if out := do("gap", "--all", "--limit", "1"); strings.Count(out, "J0000") != 1 {
		t.Errorf("--limit 1:\n%s", out)
	}
	if out := do("gap", "--all", "--kind", "strip seal", "--worst", "4", "--format", "csv"); strings.Count(out, "\n") != 1 {
		t.Errorf("no joint has length in state 4:\n%s", out)
	}
	if _, _, messages := reseal(t, db, "gap", "--all"); !strings.Contains(messages, "3 listed of 4 checked") {
		t.Errorf("got %q", messages)
	}
}

func TestGapAdd(t *testing.T) {
	do, db := openings(t)
	do("joint", "edit", "J000001", "--skew-deg", "60")
	for _, test := range []struct {
		name, args string
		wantIn     float64
		wantF      float64
		note       string
	}{
		{"inches", "2 --deck-temp-f 50", 2, 50, ""},
		{"metric", "50.8 --mm --deck-temp-c 10", 2, 50, "read as 50.8 mm"},
		{"along traffic, skew 60°", "4 --along-traffic --deck-temp-f 50", 2, 50, "along traffic, skew 60°"},
		{"one cell of four", "0.5 --cell 4 --deck-temp-f 50", 2, 50, "one cell of 4"},
		{"over the centre beams", "7 --beams-in 5 --deck-temp-f 50", 2, 50, "centre beams of 5 in"},
	} {
		t.Run(test.name, func(t *testing.T) {
			do(append(append([]string{"gap", "add", "J000001"}, strings.Fields(test.args)...), "--on", "2025-01-02", "--accept-odd", "--notes", test.name)...)
			var r struct{ Readings []condition.Reading }
			if err := json.Unmarshal([]byte(do("joint", "show", "J000001", "--format", "json")), &r); err != nil {
				t.Fatal(err)
			}
			for _, got := range r.Readings {
				if strings.HasPrefix(got.Notes, test.name) {
					if math.Abs(got.GapIn-test.wantIn) > 1e-9 || math.Abs(*got.DeckTempF-test.wantF) > 1e-9 || !strings.Contains(got.Notes, test.note) {
						t.Errorf("got %g in at %g °F (%s), want %g at %g (%s)", got.GapIn, *got.DeckTempF, got.Notes, test.wantIn, test.wantF, test.note)
					}
					return
				}
			}
			t.Errorf("the reading is not on record")
		})
	}
	if out := do("gap", "add", "J000002", "1.8", "--deck-temp-f", "40"); !strings.Contains(out, "Does not move") {
		t.Errorf("no verdict at once:\n%s", out)
	}
	before := do("joint", "show", "J000002", "--format", "json")
	do("gap", "add", "J000002", "1.9", "--deck-temp-f", "40", "--dry-run")
	if do("joint", "show", "J000002", "--format", "json") != before {
		t.Error("a dry run kept a reading")
	}
	for _, test := range []struct {
		args, says string
		code       int
	}{
		{"gap add J000001", "give a joint and the gap", exitUsage},
		{"gap add J000001 wide --deck-temp-f 60", "is not a gap", exitUsage},
		{"gap add J000001 1.5", "give the deck temperature", exitUsage},
		{"gap add J000001 1.5 --deck-temp-f 60 --deck-temp-c 15", "once", exitUsage},
		{"gap add J000001 50 --deck-temp-f 60", "a gap is 0 to 40 in", exitFailed},
		{"gap add J000001 NaN --deck-temp-f 60", "gap NaN", exitFailed},
		{"gap add J000001 1.5 --deck-temp-f 300", "cannot be", exitFailed},
		{"gap add J000001 1.5 --cell 1 --deck-temp-f 60", "2 or more", exitUsage},
		{"gap add J000001 1.5 --deck-temp-f 60 --on 2030-01-01", "in the future", exitFailed},
		{"gap add J000001 1.5 --deck-temp-f 60 --replaces 99", "no reading 99", exitFailed},
		{"gap", "one joint, or --all", exitUsage},
		{"gap J000001 --all", "one joint, or --all", exitUsage},
		{"gap J000009", "there is no joint", exitFailed},
		{"gap J000001 --format xml", "--format", exitUsage},
		{"gap --all --format xml", "--format", exitUsage},
		{"gap --all --seal", "for one joint", exitUsage},
		{"gap J000001 --year 1990", "--year is from", exitUsage},
		{"gap J000001 --at-temp 900", "--at-temp", exitUsage},
	} {
		code, out, messages := reseal(t, db, strings.Fields(test.args)...)
		if code != test.code || out != "" || !strings.Contains(messages, test.says) {
			t.Errorf("reseal %s: exit %d, %q, %q; want exit %d, %q", test.args, code, out, messages, test.code, test.says)
		}
	}
}

// What the agency says of its seals and temperatures changes the verdict.
func TestGapByAgencyTables(t *testing.T) {
	do, db := openings(t)
	csv := filepath.Join(t.TempDir(), "temperatures.csv")
	if err := os.WriteFile(csv, []byte("district,deck temp min c,deck temp max c,source\n*,-40,50,invented\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	do("settings", "table", "import", "deck_temperatures", csv)
	if out := do("gap", "J000001"); !strings.Contains(out, "deck -40 to 122 °F") || !strings.Contains(strings.Join(strings.Fields(out), " "), "agency's table") {
		t.Errorf("the agency's range is not used:\n%s", out)
	}
	do("settings", "set", "movement_load_factor", "1.2")
	do("settings", "set", "reading_noise", "2")
	if out := do("gap", "J000001"); !strings.Contains(out, "load factor 1.2") || !strings.Contains(strings.Join(strings.Fields(out), " "), "scatter 1.41 times as widely as assumed of a tape (set by") { // √2
		t.Errorf("the settings are not used:\n%s", out)
	}
	catalogue := do("settings", "table", "export", "seal_catalogue")
	if err := os.WriteFile(csv, []byte(catalogue), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, _, messages := reseal(t, db, "settings", "table", "import", "seal_catalogue", csv); !strings.Contains(messages, "0 rows") {
		t.Errorf("importing what was exported: %s", messages)
	}
}

// Every table comes as a workbook, and read back it changes nothing.
func TestTablesAsWorkbooks(t *testing.T) {
	do, db := openings(t)
	for _, table := range forecast.AllTables() {
		book := filepath.Join(t.TempDir(), table.Name+".xlsx")
		do("settings", "table", "export", "--output", book, table.Name)
		if code, _, messages := reseal(t, db, "settings", "table", "import", table.Name, book); code != exitDone || !strings.Contains(messages, "0 rows") {
			t.Errorf("%s: exit %d, %s", table.Name, code, messages)
		}
	}
	if code, _, messages := reseal(t, db, "settings", "table", "export", "--output", "life.pdf", "life_table"); code != exitUsage || !strings.Contains(messages, ".csv or .xlsx") {
		t.Errorf("a .pdf file: exit %d, %s", code, messages)
	}
}

func TestRecordBeginsTheNextLife(t *testing.T) {
	do, db := openings(t)
	out := do("record", "J000004", "--seal", "strip seal, 5 in", "--on", "2026-09-12", "--gap", "left curb=3.2@61", "--gap", "crown=3.1@61", "--gap", "right curb=3.0@61",
		"--cost", "9,400", "--by-whom", "contract", "--lot", "L7", "--recess-in", "0.5", "--warranty-until", "2031-09-12")
	if out == "" {
		t.Error("no verdict after the as-built readings")
	}
	var r struct {
		Stretches []struct {
			Seals []struct {
				Size, Lot    string
				InstalledOn  string  `json:"installed_on"`
				RemovedOn    string  `json:"removed_on"`
				InstalledGap float64 `json:"installed_gap_in"`
				MaxOpenIn    float64 `json:"max_open_in"`
			}
		}
		Work []struct {
			NewSeal   bool  `json:"new_seal"`
			CostCents int64 `json:"cost_cents"`
		}
		Readings []condition.Reading
	}
	if err := json.Unmarshal([]byte(do("joint", "show", "J000004", "--format", "json")), &r); err != nil {
		t.Fatal(err)
	}
	seals := r.Stretches[0].Seals
	if s := seals[0]; s.Size != "5 in" || s.InstalledOn != "2026-09-12" || s.RemovedOn != "" || math.Abs(s.InstalledGap-3.1) > 1e-9 || s.MaxOpenIn != 5 || s.Lot != "L7" {
		t.Errorf("new seal: got %+v", s)
	}
	if s := seals[1]; s.RemovedOn != "2026-09-12" {
		t.Errorf("old seal: got %+v, want it removed", s)
	}
	if w := r.Work[len(r.Work)-1]; !w.NewSeal || w.CostCents != 940000 {
		t.Errorf("work: got %+v", w)
	}
	at := 0
	for _, reading := range r.Readings {
		if reading.AtInstall && reading.ReadOn.String() == "2026-09-12" {
			at++
		}
	}
	if at != 3 {
		t.Errorf("%d readings at installation, want 3", at)
	}
	if out := do("gap", "J000004"); !strings.Contains(out, "works at 0.00 to 5.00 in") || !strings.Contains(out, "left curb: +0.10 in") {
		t.Errorf("gap after the new seal:\n%s", out)
	}
	if out := do("forecast", "J000004"); !strings.Contains(out, "sealed 2026-09-12") || !strings.Contains(out, "opening by") {
		t.Errorf("forecast after the new seal:\n%s", out)
	}
	for _, test := range []struct {
		args, says string
		code       int
	}{
		{"record J000001", "kind of seal that went in is missing", exitFailed},
		{"record J000001 --seal tape", "is not one seal of the catalogue", exitFailed},
		{"record J000001 --kind gland --gap 2", "--gap is PLACE", exitUsage},
		{"record J000001 --kind gland --cost lots", "--cost", exitUsage},
		{"record J000001 --kind gland --stretch 2", "stretches 1 to 1", exitFailed},
		{"record J000001 --kind gland --on 2001-01-01", "before the present one's", exitFailed},
		{"record J000001 --csv x.csv", "named in the file", exitUsage},
	} {
		code, _, messages := reseal(t, db, strings.Fields(test.args)...)
		if code != test.code || !strings.Contains(messages, test.says) {
			t.Errorf("reseal %s: exit %d, %q; want exit %d, %q", test.args, code, messages, test.code, test.says)
		}
	}
}

func TestRecordFromTable(t *testing.T) {
	do, db := openings(t)
	file := filepath.Join(t.TempDir(), "as-built.csv")
	write := func(text string) {
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	head := strings.TrimSpace(do("record", "--csv-template"))
	if !strings.Contains(head, "joint,done_on,seal") {
		t.Fatalf("template: %s", head)
	}
	write("joint,done_on,seal,left curb gap mm,left curb deck temp c,crown gap in,crown deck temp f\n" +
		"J000001,2026-10-01,\"strip seal, 4 in\",46,17.8,1.8,64\nJ000009,2026-10-01,\"strip seal, 4 in\",,,,\nJ000002,2026-10-01,tape,,,,\nJ000003,2026-10-01,\"strip seal, 4 in\",46,,,\n")
	code, _, messages := reseal(t, db, "record", "--csv", file)
	for _, want := range []string{"line 3", "J000009", "line 4", `"tape"`, "line 5", "is blank", "nothing was imported"} {
		if code != exitFailed || !strings.Contains(messages, want) {
			t.Errorf("exit %d, %s; want exit %d, %q", code, messages, exitFailed, want)
		}
	}
	if out := do("joint", "show", "J000001", "--format", "json"); strings.Contains(out, "2026-10-01") {
		t.Error("a refused table left something on record")
	}
	write("joint,done_on,seal,left curb gap mm,left curb deck temp c\nJ000001,2026-10-01,\"strip seal, 4 in\",50.8,10\n")
	do("record", "--csv", file)
	if out := do("joint", "show", "J000001", "--format", "json"); !strings.Contains(out, "2026-10-01") || !strings.Contains(out, `"gap_in": 2,`) {
		t.Errorf("the new seal is not on record:\n%s", out)
	}
}

// The work list tells which of wear and opening drives a failure.
func TestWorkListTellsOfTheOpening(t *testing.T) {
	do, _ := openings(t)
	out := do("worklist", "--year", "2027", "--format", "csv")
	for line := range strings.Lines(out) {
		if strings.Contains(line, "J000004") && !strings.Contains(line, "opening") {
			t.Errorf("no word of the opening: %s", line)
		}
	}
	if !strings.Contains(out, "J000004") {
		t.Errorf("a seal out of its range is not on the list:\n%s", out)
	}
}

// tenKinds puts ten joints of different kinds on record.
func tenKinds(t *testing.T) (do func(args ...string) string, tags []string) {
	t.Helper()
	do, _ = openings(t)
	for i, kind := range []struct{ seal, gap, ft, skew string }{
		{"poured silicone, width of the opening", "1.25", "60", "0"},
		{"poured sealant, width of the opening", "1.5", "30", "0"},
		{"asphaltic plug", "1.2", "50", "0"},
		{"preformed gland, 2¼", "1.9", "160", "20"},
		{"preformed gland, 4 in", "2.9", "260", "30"},
		{"compression seal, 3 in", "1.8", "120", "15"},
		{"closed-cell foam, 2 in", "1.3", "80", "0"},
		{"strip seal, 4 in", "1.9", "250", "10"},
		{"modular joint, 4 cells", "7", "700", "0"},
		{"strip seal, 5 in", "2.2", "330", "25"},
	} {
		do("joint", "add", "0001", "--place", "pier", "--sequence", fmt.Sprint(i+5), "--movement", "expansion", "--length-ft", fmt.Sprint(40+2*i),
			"--expansion-length-ft", kind.ft, "--skew-deg", kind.skew, "--station-ft", fmt.Sprint(50*(i+1)), "--lanes", "3", "--direction", "northbound")
		tag := fmt.Sprintf("J%06d", i+5)
		do("record", tag, "--seal", kind.seal, "--on", "2019-06-01", "--gap", kind.gap+"@62")
		do("inspect", tag, "--on", "2026-05-04", "--cs1", fmt.Sprint(30+2*i), "--cs3", "10", "--defect", "2360:3:0-6")
		tags = append(tags, tag+"="+kind.seal)
	}
	return do, tags
}

// Ten joints of different kinds print on one page each.
func TestSheetsPrint(t *testing.T) {
	do, tags := tenKinds(t)
	dir := t.TempDir()
	if keep := os.Getenv("RESEAL_KEEP_SHEETS"); keep != "" {
		dir = keep
	}
	all := []string{"sheet", "--speed-mph", "65", "--output", filepath.Join(dir, "ten.html")}
	for _, one := range tags {
		tag, seal, _ := strings.Cut(one, "=")
		text := do("sheet", tag, "--seal", seal, "--speed-mph", "65")
		for _, want := range []string{"Bridge 0001", tag, "HEADER", "AS BUILT", "CAUTIONS", "Header repair", "1926.1153", "780 ft"} {
			if !strings.Contains(strings.ToLower(text), strings.ToLower(want)) {
				t.Errorf("%s: no %q in the sheet:\n%s", tag, want, text)
			}
		}
		all = append(all, tag)
	}
	do(all...)
	browser, err := exec.LookPath("chromium")
	if err == nil {
		_, err = exec.LookPath("pdfinfo")
	}
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("chromium and pdfinfo are needed: %v", err)
		}
		t.Skip("chromium or pdfinfo is not to be had")
	}
	if testing.Short() {
		t.Skip("printing takes a browser")
	}
	pdf := filepath.Join(dir, "ten.pdf")
	cmd := exec.Command(browser, "--headless", "--no-sandbox", "--no-pdf-header-footer", "--user-data-dir="+t.TempDir(), "--print-to-pdf="+pdf, filepath.Join(dir, "ten.html"))
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	info, err := exec.Command("pdfinfo", pdf).Output()
	if err != nil || !regexp.MustCompile(`Pages:\s+10\n`).Match(info) {
		t.Errorf("%v, want ten pages:\n%s", err, info)
	}
}

func TestSheetOfWorkList(t *testing.T) {
	do, db := openings(t)
	page := filepath.Join(t.TempDir(), "sheets.html")
	do("sheet", "--worklist", "--year", "2027", "--budget", "400000", "--seal", "strip seal, 5 in", "--output", page)
	made, err := os.ReadFile(page)
	if err != nil || !strings.Contains(string(made), "J000004") || strings.Contains(string(made), "http://") {
		t.Errorf("sheets of the work list: %v, %d bytes", err, len(made))
	}
	for _, test := range []struct {
		args, says string
		code       int
	}{
		{"sheet", "name the joints, or say --worklist", exitUsage},
		{"sheet J000001 --worklist", "name the joints, or say --worklist", exitUsage},
		{"sheet J000009", "there is no joint", exitFailed},
		{"sheet J000001 --seal tape", "is not one seal of the catalogue", exitFailed},
		{"sheet J000001 --window-hours 2", "ask for a longer one", exitFailed},
		{"sheet J000001 --year 1990", "--year is from", exitUsage},
		{"sheet J000001 J000009", "no sheet: J000009", exitRejected},
	} {
		code, _, messages := reseal(t, db, strings.Fields(test.args)...)
		if code != test.code || !strings.Contains(messages, test.says) {
			t.Errorf("reseal %s: exit %d, %q; want exit %d, %q", test.args, code, messages, test.code, test.says)
		}
	}
}
