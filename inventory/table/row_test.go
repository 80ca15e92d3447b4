package table

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestCellFaults(t *testing.T) {
	tests := []struct {
		name, header, cell, want string // want after "joints.csv line 2"
	}{
		{"month of thirteen", "installed", "2017-13-02", `, column installed: "2017-13-02" is not a date (YYYY-MM-DD)`},
		{"day of thirty", "installed", "2021-02-30", `, column installed: "2021-02-30" is not a date (YYYY-MM-DD)`},
		{"two readings", "Install Date", "03/04/2021", `, column Install Date: "03/04/2021" could be March 4 or April 3 (YYYY-MM-DD)`},
		{"slashes", "installed", "13/04/2021", `, column installed: "13/04/2021" is not a date (YYYY-MM-DD)`},
		{"time of day", "installed", "2021-03-04 07:30", `, column installed: "2021-03-04 07:30" has a time of day (YYYY-MM-DD)`},
		{"far year", "installed", "0202-01-01", `, column installed: "0202-01-01" is outside the years 1700 to 2200 (YYYY-MM-DD)`},
		{"serial in text", "installed", "44197", `, column installed: "44197" is a spreadsheet's number of a day (perhaps 2021-01-01; write YYYY-MM-DD)`},
		{"word for number", "length_ft", "forty", `, column length_ft: "forty" is not a number (digits and a decimal point)`},
		{"unit in cell", "length_ft", "40 ft", `, column length_ft: "40 ft" is not a number (digits only: the unit belongs in the header)`},
		{"thousands", "length_ft", `"1,234"`, `, column length_ft: "1,234" is ambiguous: a decimal sign or thousands (write it without thousands separators, or with another number of decimals)`},
		{"decimal comma", "length_ft", `"1,5"`, `, column length_ft: "1,5" is not a number (digits and a decimal point)`},
		{"not a number", "length_ft", "NaN", `, column length_ft: "NaN" is not a finite number (leave the cell blank where nothing is known)`},
		{"infinite", "length_ft", "-inf", `, column length_ft: "-inf" is not a finite number (leave the cell blank where nothing is known)`},
		{"overflow", "length_ft", "1e999", `, column length_ft: "1e999" is too large (check the number)`},
		{"hexadecimal", "length_ft", "0x10", `, column length_ft: "0x10" is not a number (digits and a decimal point)`},
		{"under", "length_ft", "0.5", `, column length_ft: "0.5" is under 1 ft (allowed: 1 ft to 500 ft)`},
		{"over by unit", "length_m", "200", `, column length_m: "200" is over 500 ft (allowed: 1 ft to 500 ft)`},
		{"hot deck", "deck_temp_c", "95", `, column deck_temp_c: "95" is over 180 °F (allowed: -60 °F to 180 °F)`},
		{"half a lane", "lanes", "1.5", `, column lanes: "1.5" is not a whole number (digits only)`},
		{"huge whole number", "lanes", "1e20", `, column lanes: "1e20" is not a whole number (digits only)`},
		{"no money", "cost_usd", "much", `, column cost_usd: "much" is not an amount of money (1234.50)`},
		{"part of a cent", "cost_usd", "1.005", `, column cost_usd: "1.005" has parts of a cent (two decimals)`},
		{"huge money", "cost_usd", "1e15", `, column cost_usd: "1e15" is too large (check the amount)`},
		{"neither", "leaking", "maybe", `, column leaking: "maybe" is neither yes nor no (yes or no)`},
		{"not in the list", "kind", "finger", `, column kind: "finger" is not one of the values (strip seal, compression seal, open)`},
		{"spreadsheet error", "note", "#REF!", `, column note: "#REF!" is an error of the spreadsheet (mend its formula)`},
		{"digits lost", "note", "1.23457E+14", `, column note: "1.23457E+14" was made a number by a spreadsheet and has lost digits (format the column as text and enter it again)`},
		{"bare quote", "note", `4" seal`, `: a double quote stands inside a cell that is not quoted (put the cell in double quotes and write the inner one twice: "4"" seal")`},
		{"text after quote", "note", `"4" seal`, `: a quoted cell is not closed, or goes on after its closing quote (close it with a double quote and write inner ones twice: "4"" seal")`},
		{"one cell too many", "note", "a,b", ": the row has 3 cells where the header has 2 (put a text that holds the separator in double quotes, and leave no separator out)"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := openText(t, "tag,"+tt.header+"\nA,"+tt.cell+"\nB,\n")
			rows, faults := read(t, r)
			if diff := cmp.Diff([]string{"joints.csv line 2" + tt.want}, faults); diff != "" {
				t.Errorf("faults, want -, got +:\n%s", diff)
			}
			if len(rows) != 2 || rows[1] != "3 tag=B" {
				t.Errorf("got rows %q, want the second to be read after the fault", rows)
			}
		})
	}
}

func TestRowFaults(t *testing.T) {
	r := openText(t, "tag,length_ft,lanes\n,x,y\nA,40\nB,40,2\n")
	var got []string
	bad := 0
	for row := range r.Rows() {
		values(row)
		values(row) // asking twice finds no more
		if tag, _ := row.Text(colTag); tag == "B" {
			row.Refuse(colLanes, "is not the number of the bridge", "4")
			row.Refuse(colNote, "is needed here", "")
			row.RefuseRow("the joint is given twice", "first on line 2")
		}
		if row.Bad() {
			bad++
		}
		for _, f := range row.Faults() {
			got = append(got, f.Error())
		}
	}
	want := []string{
		`joints.csv line 2, column tag: is blank (a value is required)`,
		`joints.csv line 2, column length_ft: "x" is not a number (digits and a decimal point)`,
		`joints.csv line 2, column lanes: "y" is not a number (digits and a decimal point)`,
		`joints.csv line 3: the row has 2 cells where the header has 3 (put a text that holds the separator in double quotes, and leave no separator out)`,
		`joints.csv line 4, column lanes: "2" is not the number of the bridge (4)`,
		`joints.csv line 4, column note: is needed here`,
		`joints.csv line 4: the joint is given twice (first on line 2)`,
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("faults, want -, got +:\n%s", diff)
	}
	if bad != 3 || r.Faults().Total != len(want) {
		t.Errorf("got %d bad rows and %d faults, want 3 and %d", bad, r.Faults().Total, len(want))
	}
}

func TestValues(t *testing.T) {
	tests := []struct{ name, header, cell, want string }{
		{"exponent", "length_ft", "4e1", "length_ft=40"},
		{"grouped twice", "lanes", `"1,234,567"`, "lanes=1234567"},
		{"grouped with point", "length_ft", `"+0,100.5"`, ""},
		{"whole by point", "lanes", "2.0", "lanes=2"},
		{"negative", "lanes", "-2", "lanes=-2"},
		{"dollars", "cost", `"$1,234"`, "cost_usd=123400"},
		{"dollars and cents", "cost", `" $1,234,567.89 "`, "cost_usd=123456789"},
		{"minus dollars", "cost", "-$5", "cost_usd=-500"},
		{"money exact", "cost", "0.29", "cost_usd=29"},
		{"percent sign", "truck_pct", "12.5 %", "truck_pct=12.5"},
		{"year", "installed", "2021", "installed=2021"},
		{"month", "installed", "2021-03", "installed=2021-03"},
		{"leap day", "installed", "2020-02-29", "installed=2020-02-29"},
		{"midnight", "installed", "2020-02-29T00:00:00Z", "installed=2020-02-29"},
		{"yes", "leaking", "Y", "leaking=true"},
		{"no", "leaking", "FALSE", "leaking=false"},
		{"spelling of the list", "kind", "Strip-Seal", "kind=strip seal"},
		{"guarded formula", "note", "'=1+1", "note==1+1"},
		{"apostrophe", "note", "'s-Gravenzande", "note='s-Gravenzande"},
		{"metric to the last digit", "gap_mm", "25.4", "gap_in=1"},
		{"cold", "Deck temperature", "", ""},
		{"minus forty", "deck_temp_c", "-40", "deck_temp_f=-40"},
		{"in words", "length in feet", "40", "length_ft=40"},
		{"brackets", "LENGTH [FEET]", "40", "length_ft=40"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			rows, _ := read(t, openText(t, "tag,"+tt.header+"\nA,"+tt.cell+"\n"))
			want := strings.TrimSpace("2 tag=A " + tt.want)
			if len(rows) != 1 || rows[0] != want {
				t.Errorf("got %q, want %q", rows, want)
			}
		})
	}
}

func TestHas(t *testing.T) {
	r := openText(t, "tag,note\nA,x\n")
	if !r.Has(colNote) || r.Has(colLength) {
		t.Errorf("got note %v, length %v, want true, false", r.Has(colNote), r.Has(colLength))
	}
}

func TestDeclarationMistakes(t *testing.T) {
	tests := []struct {
		name    string
		columns []Column
	}{
		{"no unit", []Column{{Name: "length", Kind: Length}}},
		{"same name", []Column{{Name: "from_ft", Kind: Length}, {Name: "from_in", Kind: Length}}},
		{"same synonym", []Column{{Name: "tag"}, {Name: "label", Synonyms: []string{"Tag"}}}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			defer func() {
				if recover() == nil {
					t.Error("got no panic, want one")
				}
			}()
			_, _ = NewReader(strings.NewReader("tag\n"), "x.csv", tt.columns, Options{})
		})
	}
}
