package web

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// The sheets of the work list are of the treatments that it has, and its workbook carries
// the caution.
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
	_, _, file := get(t, address+"/worklist/export/xlsx?year=2027&district=North&budget=90000")
	book, err := excelize.OpenReader(strings.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	first, err := book.GetCols("Read first")
	if said := fmt.Sprint(first); err != nil || !strings.Contains(said, "CAUTION") || !strings.Contains(said, "INVENTED") || !strings.Contains(said, "ILLUSTRATIVE") {
		t.Errorf("the workbook says %s, %v", said, err)
	}
	status, _, body := get(t, address+"/worklist/sheets/print?year=2027&district=North&budget=90000")
	repairs := strings.Count(body, "<dt>Work</dt><dd>spot repair</dd>")
	if status != http.StatusOK || repairs != want["spot repair"] || strings.Count(body, "<dt>Repair</dt>") != repairs {
		t.Errorf("got %d with %d sheets of repairs, want %d", status, repairs, want["spot repair"])
	}
}
