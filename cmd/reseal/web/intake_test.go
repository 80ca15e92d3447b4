package web

import (
	"context"
	"errors"
	"net/http"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/xuri/excelize/v2"

	"reseal/inventory"
	"reseal/inventory/store"
)

// TestAskedWhereUncertain sends files that do not say all of themselves: they
// are asked about, and nothing is done before the answer.
func TestAskedWhereUncertain(t *testing.T) {
	s, address := serveSample(t)
	for _, tt := range []struct {
		name, file, text string
		asks             string
		answer           []string
		then             string
	}{
		{
			"a table that two kinds fit", "tape.csv", "tag,date,gap_in,deck_temp_f\nJ000001,2026-01-14,2.25,28\n",
			"does not make certain what it holds",
			[]string{"kind", "readings"},
			"gap readings taken apart",
		},
		{
			"element data without a year", "elements.xml", "<FHWAElement><FHWAED><STATE>99</STATE><STRUCNUM>INV0001</STRUCNUM><EN>300</EN><TOTALQTY>40</TOTALQTY><CS1>40</CS1><CS2>0</CS2><CS3>0</CS3><CS4>0</CS4></FHWAED></FHWAElement>",
			`id="year"`,
			[]string{"kind", "elements", "year", "2024"},
			"submitted in 2024",
		},
		{
			"a year that cannot be", "elements.xml", "<FHWAElement><FHWAED><STATE>99</STATE></FHWAED></FHWAElement>",
			`id="year"`,
			[]string{"kind", "elements", "year", "1024"},
			"say below in which year",
		},
		{
			"the wrong kind", "findings.csv", "tag,kind,found,urgency\nJ000001,plough strike,2026-01-14,soon\n",
			"Take it in",
			[]string{"kind", "work"},
			"Nothing of it can be taken in",
		},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r, page := sendFile(t, address+"/data/import", tt.file, tt.text)
			if !strings.Contains(page, tt.asks) {
				t.Fatalf("got %s, want %q", page, tt.asks)
			}
			if _, page := postForm(t, r.Request.URL.String(), tt.answer...); !strings.Contains(page, tt.then) {
				t.Errorf("got %s, want %q", page, tt.then)
			}
		})
	}
	var readings int
	err := s.Store.Read().NewRaw("SELECT count(*) FROM readings WHERE read_on = '2026-01-14' AND created_by = 'Test Person'").Scan(t.Context(), &readings)
	if err != nil || readings != 0 {
		t.Errorf("%d readings are on record (%v) although nobody confirmed", readings, err)
	}
}

func TestNoTable(t *testing.T) {
	s, address := serveFile(t, filepath.Join(t.TempDir(), "new.gpkg"))
	for name, text := range map[string]string{"photo.jpg": "\xff\xd8\xff\xe0\x00\x10JFIF\x00", "empty.csv": "", "book.xlsx": "PK\x03\x04 broken"} {
		r, page := sendFile(t, address+"/data/import", name, text)
		if r.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(page, "What to do") {
			t.Errorf("%s: got %d %s, want a refusal that says what to do", name, r.StatusCode, page)
		}
	}
	if files := waiting(t, s); len(files) > 0 {
		t.Errorf("what cannot be read is kept: %q", files)
	}
}

// TestOddIsAccepted takes in a gap that is wider although the deck is warmer: it
// is left out as odd, and kept with a mark when somebody says so.
func TestOddIsAccepted(t *testing.T) {
	s, address := serveSample(t)
	var tag, position string
	err := s.Store.Read().NewRaw("SELECT j.tag, coalesce(r.position, '') FROM readings r JOIN joints j ON j.id = r.joint_id WHERE j.movement = 'expansion' AND r.deck_temp_f < 100 AND j.status = 'in service' ORDER BY r.read_on DESC, r.id LIMIT 1").Scan(t.Context(), &tag, &position)
	if err != nil {
		t.Fatal(err)
	}
	r, page := sendFile(t, address+"/data/import", "tape.csv", "tag,date,gap_in,deck_temp_f,position\n"+tag+",2026-06-14,11.5,130,"+position+"\n", "kind", "readings")
	for _, want := range []string{`<span class="chip">odd</span>`, "accept what is odd below"} {
		if !strings.Contains(page, want) {
			t.Errorf("got %s, want %q", page, want)
		}
	}
	_, page = postForm(t, r.Request.URL.String(), "kind", "readings", "odd", "yes")
	if !strings.Contains(page, "Take it in") || !strings.Contains(page, "odd and were kept with a mark") {
		t.Fatalf("got %s, want that it can be taken in with a mark", page)
	}
	if _, page = postForm(t, r.Request.URL.String()+"/take"); !strings.Contains(page, "is taken in") {
		t.Errorf("got %s, want that it is taken in", page)
	}
	var odd string
	if err := s.Store.Read().NewRaw("SELECT odd FROM readings WHERE gap_in = 11.5").Scan(t.Context(), &odd); err != nil || odd == "" {
		t.Errorf("got mark %q (%v)", odd, err)
	}
}

// TestWorkbooksAndTables takes in an agency's table from a workbook, by sheet.
func TestWorkbooksAndTables(t *testing.T) {
	s, address := serveSample(t)
	book := excelize.NewFile()
	defer book.Close()
	book.SetSheetRow("Sheet1", "A1", &[]any{"about"})
	book.SetSheetRow("Sheet1", "A2", &[]any{"the sheet with the money is called FY27"})
	if _, err := book.NewSheet("FY27"); err != nil {
		t.Fatal(err)
	}
	book.SetSheetRow("FY27", "A1", &[]any{"name", "year", "amount usd", "source", "illustrative"})
	book.SetSheetRow("FY27", "A2", &[]any{"2027 network", 2027, 750000, "invented", "yes"})
	b, err := book.WriteToBuffer()
	if err != nil {
		t.Fatal(err)
	}
	r, page := sendFile(t, address+"/data/tables/budgets/import", "money.xlsx", b.String())
	if !strings.Contains(page, "is missing from the header") {
		t.Fatalf("got %s, want that the first sheet is not it", page)
	}
	if _, page = postForm(t, r.Request.URL.String(), "kind", "table budgets", "sheet", "fy27"); !strings.Contains(page, "Take it in") {
		t.Fatalf("got %s, want that it can be taken in", page)
	}
	postForm(t, r.Request.URL.String()+"/take")
	var cents int64
	if err := s.Store.Read().NewRaw("SELECT amount_cents FROM budgets WHERE name = '2027 network'").Scan(t.Context(), &cents); err != nil || cents != 75000000 {
		t.Errorf("got %d cents (%v), want 75000000", cents, err)
	}
}

// TestChangedInBetween confirms a file after somebody else has given a joint
// another label: it is checked again, and refused as a whole.
func TestChangedInBetween(t *testing.T) {
	s, address := serveSample(t)
	label := func(label string) {
		t.Helper()
		err := s.Store.Update(t.Context(), "another", func(ctx context.Context, tx *store.Tx) error {
			j, err := inventory.FindJoint(ctx, tx, "J000002")
			if err != nil {
				return err
			}
			j.Label = label
			return inventory.SaveJoint(ctx, tx, j)
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	label("by the mill")
	var bridge string
	if err := s.Store.Read().NewRaw("SELECT b.state || '/' || b.structure_number FROM bridges b JOIN joints j ON j.bridge_id = b.id WHERE j.tag = 'J000002'").Scan(t.Context(), &bridge); err != nil {
		t.Fatal(err)
	}
	r, page := sendFile(t, address+"/data/import", "seen.csv", "tag,bridge,label,kind,found,urgency\nJ000001,,,plough strike,2026-01-02,soon\n,"+bridge+",by the mill,plough strike,2026-01-02,soon\n")
	if !strings.Contains(page, "Take it in") {
		t.Fatalf("got %s", page)
	}
	label("by the weir")
	if _, page = postForm(t, r.Request.URL.String()+"/take"); !strings.Contains(page, "Nothing of it can be taken in") {
		t.Errorf("got %s, want a refusal", page)
	}
	var n int
	if err := s.Store.Read().NewRaw("SELECT count(*) FROM findings WHERE found_on = '2026-01-02' AND created_by = 'Test Person'").Scan(t.Context(), &n); err != nil || n != 0 {
		t.Errorf("%d findings are on record (%v), want none", n, err)
	}
}

// TestProgressInABrowser watches a job that goes on, and is led on at its end.
func TestProgressInABrowser(t *testing.T) {
	inBrowser(t)
	s, address := serveFile(t, filepath.Join(t.TempDir(), "new.gpkg"))
	b := browse(t, address, phone) // before the job, for which closing the server waits
	end := make(chan struct{})
	j := s.begin(&job{What: "Looking at bridges.txt", Unit: "MB of the file", total: 96, next: "/data"}, func(ctx context.Context, j *job) error {
		j.count.Store(31)
		<-end
		return ctx.Err()
	})
	b.do(chromedp.Navigate(address+"/data/jobs/"+j.ID), chromedp.WaitVisible(css("progress")),
		chromedp.Poll[chromedp.Void]("document.querySelector('.job-count').textContent.includes('31 of 96 MB')"))
	b.axe()
	b.picture("job-phone")
	close(end)
	b.do(chromedp.WaitVisible(css("form.drop")))

	failed := s.begin(&job{What: "Proposing joints", next: "/data"}, func(context.Context, *job) error {
		return store.Invalid("try another way", "it went wrong")
	})
	<-failed.done
	if status, _, page := get(t, address+"/data/jobs/"+failed.ID); status != http.StatusUnprocessableEntity || !strings.Contains(page, "try another way") {
		t.Errorf("got %d %s, want what went wrong", status, page)
	}
	if !errors.Is(failed.err, store.ErrInvalid) {
		t.Errorf("got %v", failed.err)
	}
}

// TestDropInABrowser drops a file onto the page.
func TestDropInABrowser(t *testing.T) {
	inBrowser(t)
	_, address := serveSample(t)
	b := browse(t, address, laptop)
	b.do(chromedp.Navigate(address+"/data"), chromedp.WaitVisible(css("form.drop")))
	b.do(chromedp.Evaluate[chromedp.Void](`(() => {
		const files = new DataTransfer();
		files.items.add(new File(["tag,kind,found,urgency\nJ000001,plough strike,2026-01-02,soon\n"], "seen.csv"));
		document.body.dispatchEvent(new DragEvent("drop", {dataTransfer: files, bubbles: true, cancelable: true}));
	})()`), chromedp.WaitVisible(css("form[action$=take] button")))
	if text := ask(b, chromedp.Text(css("h1"))); text != "What is in seen.csv" {
		t.Errorf("got %q", text)
	}
}
