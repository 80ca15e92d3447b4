package element_test

import (
	"bytes"
	"context"
	"encoding/xml"
	"fmt"
	"io"
	"strings"
	"testing"
	"unicode/utf8"

	"reseal/inventory/element"
)

// FuzzForEach holds the scanner against encoding/xml: where that finds nothing
// wrong with a file, both must read the same records.
func FuzzForEach(f *testing.F) {
	for _, inside := range []string{
		joint, strings.Replace(joint, "B 1", "<![CDATA[ ]]&gt; ]]>&amp;", 1), "<EN>1<X>2</X>3</EN><EN/>",
		"<!-- a --><?b c?><EN a='>'>301</EN><CS1>-1.5</CS1>", "<FHWAED>" + joint + "</FHWAED>",
	} {
		f.Add([]byte("<A><FHWAED>" + inside + "</FHWAED>\n</A>"))
	}
	f.Fuzz(func(t *testing.T, file []byte) {
		want, ok := reference(file)
		if !ok {
			_ = element.ForEach(context.Background(), bytes.NewReader(file), func(element.Record) error { return nil })
			return
		}
		i := 0
		err := element.ForEach(context.Background(), bytes.NewReader(file), func(r element.Record) error {
			if i >= len(want) {
				t.Fatalf("more than the %d records of encoding/xml", len(want))
			}
			if got := values(r); !want[i].matches(got, r.Refused()) {
				t.Fatalf("record %d: got %q, %+v; encoding/xml has %+v", i, got, r.Problems, want[i])
			}
			i++
			return nil
		})
		if len(want) == 0 {
			if err != element.ErrNoRecords {
				t.Fatalf("got %v, want ErrNoRecords", err)
			}
			return
		}
		if err != nil || i != len(want) {
			t.Fatalf("got %d records, %v; encoding/xml has %d", i, err, len(want))
		}
	})
}

// plain is a record as encoding/xml unmarshals it.
type plain struct {
	State    []string `xml:"STATE"`
	Number   []string `xml:"STRUCNUM"`
	Element  []string `xml:"EN"`
	Parent   []string `xml:"EPN"`
	TotalQty []string `xml:"TOTALQTY"`
	CS1      []string `xml:"CS1"`
	CS2      []string `xml:"CS2"`
	CS3      []string `xml:"CS3"`
	CS4      []string `xml:"CS4"`
}

func (p plain) fields() [9][]string {
	return [9][]string{p.State, p.Number, p.Element, p.Parent, p.TotalQty, p.CS1, p.CS2, p.CS3, p.CS4}
}

// matches compares the values where the record was not refused, as numbers
// where both are: what is refused need only be so.
func (p plain) matches(got [9]string, refused bool) bool {
	if refused {
		return true
	}
	for i, all := range p.fields() {
		want := ""
		switch len(all) {
		case 0:
		case 1:
			want = strings.TrimSpace(all[0])
		default:
			return false // a tag given twice must be refused
		}
		if i != 1 {
			var number float64
			if want != "" {
				if n, err := fmt.Sscanf(want, "%g", &number); n != 1 || err != nil {
					return false
				}
			}
			want = fmt.Sprint(number)
		}
		if want != got[i] {
			return false
		}
	}
	return true
}

func values(r element.Record) [9]string {
	state := 0
	fmt.Sscanf(r.State, "%d", &state)
	q := r.StateQty
	return [9]string{
		fmt.Sprint(state), r.StructureNumber, fmt.Sprint(r.Element), fmt.Sprint(r.Parent),
		fmt.Sprint(r.TotalQty), fmt.Sprint(q[0]), fmt.Sprint(q[1]), fmt.Sprint(q[2]), fmt.Sprint(q[3]),
	}
}

// reference reads a file of UTF-8 by encoding/xml; ok is false where that or
// the rules of a document find fault.
func reference(file []byte) (records []plain, ok bool) {
	if !utf8.Valid(file) || bytes.Contains(file, []byte("encoding")) || bytes.Contains(file, []byte("\x00")) {
		return nil, false
	}
	d := xml.NewDecoder(bytes.NewReader(bytes.TrimPrefix(file, []byte("\xef\xbb\xbf"))))
	depth := 0
	for {
		token, err := d.Token()
		if err == io.EOF {
			return records, true
		}
		if err != nil {
			return nil, false
		}
		switch token := token.(type) {
		case xml.StartElement:
			if token.Name.Local != "FHWAED" {
				depth++
				continue
			}
			var p plain
			if err := d.DecodeElement(&p, &token); err != nil {
				return nil, false
			}
			records = append(records, p)
		case xml.EndElement:
			depth--
		case xml.Directive: // encoding/xml takes what is no declaration, such as <!<>
			return nil, false
		case xml.CharData:
			if depth == 0 && len(bytes.TrimSpace(token)) > 0 {
				return nil, false
			}
		}
	}
}
