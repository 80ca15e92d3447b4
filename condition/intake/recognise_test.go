package intake_test

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"reseal/condition/intake"
	"reseal/inventory/table"
)

func Example() {
	r, _ := intake.Unpack(strings.NewReader("tag,kind,found,urgency\nJ000001,plough strike,2026-01-14,soon\n"))
	k, _ := intake.Find("findings")
	fmt.Println(k.Holds)
	fmt.Println(intake.Recognise(r, "seen.csv", ""))
	// Output:
	// what was seen between inspections
	// findings <nil>
}

// TestTemplates recognises the empty table of each kind, as text and as a
// workbook, for what it is.
func TestTemplates(t *testing.T) {
	for _, k := range intake.Kinds() {
		if k.Sheet == nil {
			continue
		}
		var text, book bytes.Buffer
		if err := table.Template(&text, k.Sheet().Columns); err != nil {
			t.Fatal(err)
		}
		w, err := table.NewXLSX(&book, k.Name, k.Sheet().Columns)
		if err != nil {
			t.Fatal(err)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		for form, file := range map[string]io.Reader{"csv": &text, "xlsx": &book} {
			if got := recognise(t, file, "x."+form); got != k.Name {
				t.Errorf("template of %s as %s: got %q", k.Name, form, got)
			}
		}
	}
}

// TestOpenData recognises published files of the two FHWA formats.
func TestOpenData(t *testing.T) {
	for name, want := range map[string]string{
		"open/AK19.txt.gz": "bridges", "open/2015OR_ElementData.xml.gz": "elements", "import/joints.csv": "joints",
		"import/bridges.csv": "bridges", "import/findings.csv": "findings", "import/inspections.csv": "inspections", "import/projects.csv": "projects",
		"import/readings.csv": "", // inspections can hold gaps and no more
		"import/seals.csv":    "seals", "import/work.csv": "work",
	} {
		f, err := os.Open(filepath.Join("../../testdata", name))
		if err != nil {
			t.Fatal(err)
		}
		if got := recognise(t, f, name); got != want {
			t.Errorf("%s: got %q, want %q", name, got, want)
		}
		f.Close()
	}
}

func TestUncertain(t *testing.T) {
	for name, file := range map[string]string{
		"what many kinds have":  "tag\nJ000001\n",
		"nothing that is known": "colour,taste\nred,sweet\n",
		"mostly strange":        "tag,date,gap_in,a,b,c,d\n",
	} {
		if got := recognise(t, strings.NewReader(file), "x.csv"); got != "" {
			t.Errorf("%s: taken for %s", name, got)
		}
	}
	r, err := intake.Unpack(strings.NewReader("\x00\x01\x02"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := intake.Recognise(r, "photo.jpg", ""); err == nil {
		t.Error("a file that is no table was read")
	}
}

func TestYearIn(t *testing.T) {
	for name, want := range map[string]int{"2015OR_ElementData.xml": 2015, "or.xml": 0, "2015-2016.xml": 0, "AK99.xml": 0} {
		if got := intake.YearIn(name); got != want {
			t.Errorf("%s: got %d, want %d", name, got, want)
		}
	}
}

func recognise(t *testing.T, file io.Reader, name string) string {
	t.Helper()
	r, err := intake.Unpack(file)
	if err != nil {
		t.Fatal(err)
	}
	kind, err := intake.Recognise(r, name, "")
	if err != nil {
		t.Errorf("%s: %v", name, err)
	}
	return kind
}
