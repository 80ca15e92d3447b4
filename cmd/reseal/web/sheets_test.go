package web

import (
	"net/http"
	"strings"
	"testing"
)

// The sheets of the work list are of the treatments that it has.
func TestSheetsAreOfTheListsTreatment(t *testing.T) {
	s, address := serveSample(t)
	list, err := ranked(t, s).In("North", "", 90_000_00)
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]int{}
	for _, item := range list.Ranked[:list.Line] {
		want[item.Treatment]++
	}
	if want["spot repair"] == 0 {
		t.Fatalf("no repair above the line: %v", want)
	}
	status, _, body := get(t, address+"/worklist/sheets/print?year=2027&district=North&budget=90000")
	repairs := strings.Count(body, "<dt>Work</dt><dd>spot repair</dd>")
	if status != http.StatusOK || repairs != want["spot repair"] || strings.Count(body, "<dt>Repair</dt>") != repairs {
		t.Errorf("got %d with %d sheets of repairs, want %d", status, repairs, want["spot repair"])
	}
}
