package element_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"reseal/inventory/element"
	"reseal/inventory/element/elementtest"
)

func read(r io.Reader) ([]element.Record, error) {
	var records []element.Record
	err := element.ForEach(context.Background(), r, func(r element.Record) error {
		records = append(records, r)
		return nil
	})
	return records, err
}

const joint = "<STATE>41</STATE><STRUCNUM>B 1</STRUCNUM><EN>301</EN><TOTALQTY>50</TOTALQTY><CS1>30</CS1><CS2>10</CS2><CS3>6</CS3><CS4>4</CS4>"

func TestShapes(t *testing.T) {
	want := element.Record{
		State: "41", StructureNumber: "B 1", Element: 301, TotalQty: 50, StateQty: [4]float64{30, 10, 6, 4},
	}
	tests := []struct{ name, file string }{
		{"flat", "<FHWAELEMENT><FHWAED>" + joint + "</FHWAED></FHWAELEMENT>"},
		{"no wrapper", "<FHWAED>" + joint + "</FHWAED>"},
		{"deep wrapper", "<A><B><C/><FHWAED>" + joint + "</FHWAED></B></A>"},
		{"namespace", `<f:A xmlns:f="urn:x"><f:FHWAED>` + strings.NewReplacer("</", "</f:", "<", "<f:").Replace(joint) + "</f:FHWAED></f:A>"},
		{"other order", "<FHWAED><CS4>4</CS4><CS3>6</CS3><CS2>10</CS2><CS1>30</CS1><TOTALQTY>50</TOTALQTY><EN>301</EN><STRUCNUM>B 1</STRUCNUM><STATE>41</STATE></FHWAED>"},
		{"unknown tags", "<FHWAED><X>1</X><Y><CS1>9</CS1></Y>" + joint + "<Z/></FHWAED>"},
		{"empty parent", "<FHWAED>" + joint + "<EPN/></FHWAED>"},
		{"blanks", "<FHWAED>\r\n" + strings.ReplaceAll(strings.ReplaceAll(joint, "</", " </"), ">3", "> \t3") + "</FHWAED>"},
		{"comments and instructions", "<?xml version='1.0'?><!-- <FHWAED> --><!DOCTYPE x [<!ENTITY y 'z'>]><FHWAED>" + strings.Replace(joint, "30", "3<!-- - -->0", 1) + "</FHWAED>"},
		{"attributes", `<FHWAED a=">" b='/>'>` + strings.Replace(joint, "<EN>", `<EN n="1" >`, 1) + "</FHWAED >"},
		{"CDATA", "<FHWAED>" + strings.Replace(joint, "B 1", "<![CDATA[B 1]]>", 1) + "</FHWAED>"},
		{"entities", "<FHWAED>" + strings.Replace(joint, "B 1", "&#66;&#x20;1", 1) + "</FHWAED>"},
		{"byte-order mark", "\xef\xbb\xbf<FHWAED>" + joint + "</FHWAED>"},
		{"declared Latin-1", `<?xml version="1.0" encoding="ISO-8859-1"?><FHWAED>` + joint + "</FHWAED>"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			for _, r := range []io.Reader{strings.NewReader(tt.file), iotest.OneByteReader(strings.NewReader(tt.file))} {
				got, err := read(r)
				if err != nil || len(got) != 1 {
					t.Fatalf("got %d records, %v", len(got), err)
				}
				got[0].Line = 0
				if diff := cmp.Diff(want, got[0]); diff != "" {
					t.Errorf("(-want +got):\n%s", diff)
				}
			}
		})
	}
}

func TestEncodings(t *testing.T) {
	file := func(encoding string) string {
		return `<?xml version="1.0" encoding="` + encoding + `"?><FHWAED>` + strings.Replace(joint, "B 1", "CAÑON 1", 1) + "</FHWAED>"
	}
	latin1, _ := charmap.ISO8859_1.NewEncoder().String(file("iso-8859-1"))
	unlabelled, _ := charmap.ISO8859_1.NewEncoder().String(file("utf-8"))
	little, _ := unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder().String(file("utf-16"))
	big, _ := unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM).NewEncoder().String(file("utf-16"))
	for name, text := range map[string]string{
		"UTF-8": file("UTF-8"), "Latin-1": latin1, "Latin-1 called UTF-8": unlabelled,
		"UTF-16 with a mark": little, "UTF-16 without a mark": big,
	} {
		got, err := read(strings.NewReader(text))
		if err != nil || len(got) != 1 || got[0].StructureNumber != "CAÑON 1" {
			t.Errorf("%s: got %+v, %v", name, got, err)
		}
	}
	if _, err := read(strings.NewReader(file("EBCDIC-CP-US"))); !errors.Is(err, element.ErrSyntax) {
		t.Errorf("unknown encoding: got %v, want ErrSyntax", err)
	}
}

func TestProblems(t *testing.T) {
	tests := []struct {
		name, from, to string // a change to the record
		tag            string
		refused        bool
	}{
		{"sum", "<CS4>4", "<CS4>5", "", false},
		{"condition state missing", "<CS4>4</CS4>", "", "", false},
		{"condition state negative", "<CS4>4", "<CS4>-4", "CS4", true},
		{"total not a number", "<TOTALQTY>50", "<TOTALQTY>fifty", "TOTALQTY", true},
		{"total not finite", "<TOTALQTY>50", "<TOTALQTY>NaN", "TOTALQTY", true},
		{"total huge", "<TOTALQTY>50", "<TOTALQTY>99999999999999999999", "TOTALQTY", true},
		{"total empty", "<TOTALQTY>50", "<TOTALQTY>", "TOTALQTY", true},
		{"total missing", "<TOTALQTY>50</TOTALQTY>", "", "TOTALQTY", true},
		{"given twice", "<CS4>4</CS4>", "<CS4>4</CS4><CS4>4</CS4>", "CS4", true},
		{"no structure number", "<STRUCNUM>B 1", "<STRUCNUM> ", "STRUCNUM", true},
		{"no state", "<STATE>41", "<STATE>Oregon", "STATE", true},
		{"element not a number", "<EN>301", "<EN>x", "EN", true},
		{"element zero", "<EN>301", "<EN>0", "EN", true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			record := strings.Replace(joint, tt.from, tt.to, 1)
			got, err := read(strings.NewReader("<FHWAELEMENT>\n\n  <FHWAED>" + record + "</FHWAED></FHWAELEMENT>"))
			if err != nil || len(got) != 1 {
				t.Fatalf("got %d records, %v", len(got), err)
			}
			r := got[0]
			if len(r.Problems) != 1 || r.Problems[0].Tag != tt.tag || r.Refused() != tt.refused || r.Problems[0].Line != 3 {
				t.Errorf("got %+v, want one of %q on line 3, refused %v", r.Problems, tt.tag, tt.refused)
			}
		})
	}
	got, err := read(strings.NewReader("<FHWAED>" + strings.NewReplacer(">50", ">50.5", ">4<", ">4.5<").Replace(joint) + "</FHWAED>"))
	if err != nil || got[0].Refused() || got[0].TotalQty != 50.5 || got[0].StateQty[3] != 4.5 || len(got[0].Problems) != 2 {
		t.Errorf("decimals: got %+v, %v, want them kept and told", got, err)
	}
}

func TestProblemPlace(t *testing.T) {
	got, err := read(strings.NewReader("<A>\n<FHWAED>\n" + strings.ReplaceAll(strings.Replace(joint, ">10<", ">ten<", 1), "><", ">\n<") + "\n</FHWAED></A>"))
	if err != nil {
		t.Fatal(err)
	}
	want := element.Problem{Line: 8, Column: 6, Tag: "CS2", Value: "ten", Problem: "is not a number", Refuse: true}
	if diff := cmp.Diff([]element.Problem{want}, got[0].Problems); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestFaultyFiles(t *testing.T) {
	whole := "<A>\n<FHWAED>" + joint + "</FHWAED>\n</A>"
	for n := 1; n < len(whole); n++ {
		if _, err := read(strings.NewReader(whole[:n])); !errors.Is(err, io.ErrUnexpectedEOF) || !strings.Contains(err.Error(), "cut short") {
			t.Fatalf("cut to %q: got %v, want io.ErrUnexpectedEOF", whole[:n], err)
		}
	}
	tests := []struct {
		name, file, message string
		err                 error
	}{
		{"empty", "", "", element.ErrNoRecords},
		{"other XML", "<A><B/></A>", "", element.ErrNoRecords},
		{"text", "tag,length\n1,2\n", "line 1, column 1", element.ErrSyntax},
		{"wrong nesting", "<A>\n<FHWAED><EN>1</FHWAED></A>", "line 2", element.ErrSyntax},
		{"unknown entity", "<A><FHWAED><EN>&x;</EN></FHWAED></A>", "&x;", element.ErrSyntax},
		{"too long", "<A>" + strings.Repeat("x", 3<<20), "longer than", element.ErrSyntax},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := read(strings.NewReader(tt.file))
			if !errors.Is(err, tt.err) || !strings.Contains(err.Error(), tt.message) {
				t.Errorf("got %v, want %v with %q", err, tt.err, tt.message)
			}
		})
	}
}

func TestStops(t *testing.T) {
	var file strings.Builder
	if err := elementtest.Write(&file, "41", 5000, 1); err != nil {
		t.Fatal(err)
	}
	enough := errors.New("enough")
	err := element.ForEach(context.Background(), strings.NewReader(file.String()), func(element.Record) error { return enough })
	if err != enough {
		t.Errorf("got %v, want the error of the function", err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	n := 0
	err = element.ForEach(ctx, strings.NewReader(file.String()), func(element.Record) error { n++; cancel(); return nil })
	if !errors.Is(err, context.Canceled) || n > 2048 {
		t.Errorf("got %v after %d records, want context.Canceled soon", err, n)
	}
}

func TestNumbers(t *testing.T) {
	tests := []struct {
		number              int
		joint, unit, harmed string
		defects             int
	}{
		{300, "strip seal", "ft", "", 7},
		{301, "pourable seal", "ft", "", 6},
		{302, "compression seal", "ft", "", 6},
		{303, "modular joint", "ft", "", 7},
		{304, "open joint", "ft", "", 3},
		{305, "finger or sliding plate joint", "ft", "", 3},
		{306, "other joint", "ft", "", 7},
		{12, "", "sq ft", "", 0},
		{107, "", "ft", "girder end", 0},
		{205, "", "each", "column", 0},
		{215, "", "ft", "abutment", 0},
		{234, "", "ft", "pier cap", 0},
		{310, "", "each", "bearing", 0},
		{316, "", "each", "bearing", 0},
		{307, "", "", "", 0},
		{9301, "", "", "", 0},
		{-1, "", "", "", 0},
	}
	for _, tt := range tests {
		got := fmt.Sprint(element.JointName(tt.number), element.UnitOf(tt.number), element.HarmedByLeak(tt.number), len(element.Defects(tt.number)), element.IsJoint(tt.number))
		want := fmt.Sprint(tt.joint, tt.unit, tt.harmed, tt.defects, tt.joint != "")
		if got != want {
			t.Errorf("%d: got %s, want %s", tt.number, got, want)
		}
	}
	for _, d := range element.Defects(element.StripSeal) {
		if got, ok := element.DefectNumbered(d.Number); !ok || got != d {
			t.Errorf("%d: got %+v, %v, want %+v", d.Number, got, ok, d)
		}
	}
}
