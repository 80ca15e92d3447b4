package main

import (
	"strings"
	"testing"
)

// A table that was exported and read back unedited changes nothing: no place, and
// no date of which only the month or the year is known.
func TestExportReadBackChangesNothing(t *testing.T) {
	o := newOffice(t)
	o.file("b.csv", "state,structure_number,lat,lon,route,milepost\n53,0001,47.123456789,-122.987654321,I 5,12.41\n")
	o.must("import", "bridges", "b.csv")
	o.file("j.csv", "structure_number,place,sequence,length_ft,seal_kind,installed\n0001,abutment,1,41,strip seal,2017\n0001,pier,2,41,strip seal,2017-05\n"+
		"0001,pier,3,41,strip seal,2017-01-01\n0001,abutment,4,41,strip seal,\n")
	o.must("import", "joints", "j.csv")
	for _, format := range []string{"csv", "xlsx"} {
		for _, where := range [][]string{nil, {"--route", "I 5"}} {
			for what, rows := range map[string]string{"joints": "4", "bridges": "1"} {
				o.must(append([]string{"export", format, what, "-o", o.dir + "/out." + format}, where...)...)
				got := o.must("import", what, "out."+format)
				if want := "read " + rows + "; " + what + " added 0, changed 0, unchanged " + rows; !strings.Contains(got, want) {
					t.Errorf("%s of %s: got %q, want %q", format, what, got, want)
				}
			}
		}
	}
	precision := func(tag, want string) {
		t.Helper()
		if got := o.must("joint", "show", tag, "--format", "json"); !strings.Contains(got, `"installed_precision": "`+want+`"`) {
			t.Errorf("%s: %s is not in %s", tag, want, got)
		}
	}
	precision("J000001", "year")
	precision("J000002", "month")
	precision("J000003", "day")
	// A day entered over the year is known to the day, whatever stands beside it.
	o.file("day.csv", "tag,installed_on,installed_precision\nJ000001,2017-08-22,year\n")
	if got := o.must("import", "joints", "day.csv"); !strings.Contains(got, "changed 1") {
		t.Errorf("a day over a year: %s", got)
	}
	precision("J000001", "day")
}
