package table

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestBadRows(t *testing.T) {
	tests := []struct{ name, text, want string }{
		{
			"cells and reasons",
			"Tag,Length (m),note\nA,x,\"1, =2\"\nB,10,fine\n,-5,=cmd\n",
			"Tag,Length (m),note,fault_on_line,fault\n" +
				"A,x,\"1, =2\",2,\"Length (m): \"\"x\"\" is not a number (digits and a decimal point)\"\n" +
				",-5,'=cmd,4,\"Tag: is blank (a value is required); Length (m): \"\"-5\"\" is under 1 ft (allowed: 1 ft to 500 ft)\"\n",
		},
		{
			"surplus cells last",
			"tag;note\nA;b;c\n",
			"tag;note;fault_on_line;fault\n" +
				"A;b;2;\"the row has 3 cells where the header has 2 (put a text that holds the separator in double quotes, and leave no separator out)\";c\n",
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var b strings.Builder
			r := openText(t, tt.text)
			bad, err := NewBadRows(&b, r)
			if err != nil {
				t.Fatal(err)
			}
			for row := range r.Rows() {
				values(row)
				if row.Bad() {
					if err := bad.Write(row); err != nil {
						t.Fatal(err)
					}
				}
			}
			if err := errors.Join(r.Err(), bad.Close()); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(tt.want, b.String()); diff != "" {
				t.Errorf("want -, got +:\n%s", diff)
			}
		})
	}
}

func TestBadRowsMended(t *testing.T) {
	var b strings.Builder
	r := openText(t, "tag;length_ft;note\nA;40,5x;'=1\n")
	bad, err := NewBadRows(&b, r)
	if err != nil {
		t.Fatal(err)
	}
	for row := range r.Rows() {
		values(row)
		if err := bad.Write(row); err != nil {
			t.Fatal(err)
		}
	}
	if err := bad.Close(); err != nil {
		t.Fatal(err)
	}
	again := openText(t, strings.Replace(b.String(), "40,5x", "40,5", 1))
	rows, faults := read(t, again)
	if want := []string{"2 tag=A length_ft=40.5 note==1"}; !cmp.Equal(rows, want) || len(faults) > 0 {
		t.Errorf("got %q, faults %q, want %q", rows, faults, want)
	}
	if want := []string{"joints.csv: columns not read: fault_on_line, fault"}; !cmp.Equal(again.Notices(), want) {
		t.Errorf("got notices %q, want %q", again.Notices(), want)
	}
}
