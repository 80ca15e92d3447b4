package web

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// faulty is a table of joints with two rows that cannot be taken. Bridge 99/0001
// stands in the invented network.
func faulty(t testing.TB, bridge string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "joints.csv")
	text := fmt.Sprintf("bridge,label,place,length_ft,seal_kind,installed\n%[1]s,new north,abutment,40,strip seal,2015-06-01\n"+
		"%[1]s,new south,abutment,-5,strip seal,2015-06-01\n%[1]s,new pier,pier,40,strip seal,2017-13-02\n", bridge)
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

func (s *Server) firstBridge(t testing.TB) (ref string) {
	t.Helper()
	if err := s.Store.Read().NewRaw("SELECT state || '/' || structure_number FROM bridges ORDER BY id LIMIT 1").Scan(t.Context(), &ref); err != nil {
		t.Fatal(err)
	}
	return ref
}

func (s *Server) labelled(t testing.TB, like string) (n int) {
	t.Helper()
	if err := s.Store.Read().NewRaw("SELECT count(*) FROM joints WHERE label LIKE ?", like).Scan(t.Context(), &n); err != nil {
		t.Fatal(err)
	}
	return n
}

// TestImportInABrowser is the planner's task: choose a file, see what is wrong
// with it by line, find nothing changed, take the good rows, find them.
func TestImportInABrowser(t *testing.T) {
	inBrowser(t)
	s, address := serveSample(t)
	for name, size := range map[string][2]int64{"phone": phone, "laptop": laptop} {
		t.Run(name, func(t *testing.T) {
			b := browse(t, address, size)
			b.do(chromedp.Navigate(address+"/data"), chromedp.WaitVisible(css("form.drop")))
			b.axe()
			b.picture("data-" + name)
			b.do(chromedp.SetUploadFiles(css("#file"), []string{faulty(t, s.firstBridge(t))}), chromedp.Click(css("form.drop button")),
				chromedp.WaitVisible(css("table.faults")))
			text := ask(b, chromedp.Text(css("main")))
			for _, want := range []string{"Nothing has changed yet", "JOINTS ADDED", "2 faults", "-5", "2017-13-02", "is not a date", "YYYY-MM-DD"} {
				if !strings.Contains(strings.ToUpper(text), strings.ToUpper(want)) {
					t.Errorf("the preview lacks %q:\n%s", want, text)
				}
			}
			b.axe()
			b.picture("data-preview-" + name)
			before := s.labelled(t, "new %")
			if name == "phone" && before != 0 {
				t.Errorf("looking at a file put %d joints on record", before)
			}
			if name == "laptop" {
				b.scheme("dark")
				b.picture("data-preview-laptop-dark")
				b.follow("button[formaction$=drop], form[action$=drop] button")
				return
			}
			b.follow("form[action$=take] button")
			b.do(chromedp.WaitVisible(css(".steps")))
			b.axe()
			b.picture("data-taken-" + name)
			if got := s.labelled(t, "new north"); got != 1 {
				t.Errorf("got %d joints of the good row, want 1", got)
			}
			if got := s.labelled(t, "new %"); got != 1 {
				t.Errorf("got %d joints, want the good row alone", got)
			}
		})
	}
}

// TestFirstStartInABrowser goes from nothing to the work list by clicks.
func TestFirstStartInABrowser(t *testing.T) {
	inBrowser(t)
	s, address := serveFile(t, filepath.Join(t.TempDir(), "new.gpkg"))
	b := browse(t, address, laptop)
	b.do(chromedp.Navigate(address+"/"), chromedp.WaitVisible(css(".first")))
	b.axe()
	b.picture("first-laptop")
	b.do(chromedp.EmulateViewport(phone[0], phone[1]))
	b.picture("first-phone")
	b.do(chromedp.Click(css("form[action='/data/demo'] button")))
	b.patiently(chromedp.WaitVisible(css(".tasks"))) // 1,300 joints are invented and projected
	if note := ask(b, chromedp.Text(css(".notice"))); !strings.Contains(note, "INVENTED") {
		t.Errorf("got notice %q, want that it is invented", note)
	}
	var forecasts int
	if err := s.Store.Read().NewRaw("SELECT count(*) FROM forecasts").Scan(t.Context(), &forecasts); err != nil || forecasts == 0 {
		t.Errorf("got %d forecasts (%v)", forecasts, err)
	}
	b.axe()
	b.picture("start-filled-phone")
	b.do(chromedp.Click(css(".tasks a[href='/worklist']")))
	b.patiently(chromedp.WaitVisible(css("#ranked"))) // and ranked
}

// patiently is do for what the server takes its time over.
func (b *tab) patiently(actions ...action) {
	b.Helper()
	ctx, stop := context.WithTimeout(b.ctx, 3*time.Minute)
	defer stop()
	if err := chromedp.Do(ctx, actions...); err != nil {
		b.Fatalf("%v\non the page: %s", err, b.words())
	}
}

func TestCheckInABrowser(t *testing.T) {
	inBrowser(t)
	_, address := serveSample(t)
	b := browse(t, address, laptop)
	b.do(chromedp.Navigate(address+"/data/check"), chromedp.WaitVisible(css(".rules")))
	b.axe()
	b.picture("check-laptop")
	b.follow(".rules h3 a")
	b.do(chromedp.WaitVisible(css("main table a")))
	b.axe()
	b.do(chromedp.EmulateViewport(phone[0], phone[1]))
	b.picture("check-rule-phone")

	// A case leads to the joint that it is about, where what was found stands.
	b.do(chromedp.Navigate(address + "/data/check"))
	tag := ask(b, chromedp.Text(css(`.rules a[href^="/joints/"]`)))
	b.follow(`.rules a[href^="/joints/"]`)
	if got := ask(b, chromedp.Text(css("main"))); !strings.Contains(got, "Joint "+tag) || !strings.Contains(got, "review") {
		t.Errorf("the case leads to a page without what is wrong at %s:\n%s", tag, got)
	}

	// A bridge without a place is given one, and the case is gone.
	const unplaced = "/data/check?rule=bridge+without+a+place"
	b.do(chromedp.Navigate(address + unplaced))
	before := ask(b, chromedp.Evaluate[int](`document.querySelectorAll("tbody tr").length`))
	number := ask(b, chromedp.Text(css("tbody a")))
	b.follow("tbody a")
	b.do(chromedp.Focus(css("#bridge summary")), chromedp.KeyEvent("\r"), chromedp.WaitVisible(css("#bridge-latitude")),
		chromedp.SetValue(css("#bridge-latitude"), "34.5"), chromedp.SetValue(css("#bridge-longitude"), "-150.5"))
	b.picture("check-place-phone")
	b.follow("#bridge form button")
	if got := ask(b, chromedp.Text(css("#history"))); !strings.Contains(got, "place on the map") {
		t.Errorf("the history of %s is %q", number, got)
	}
	b.do(chromedp.Navigate(address + unplaced))
	if got := ask(b, chromedp.Text(css("main"))); strings.Contains(got, number) || strings.Count(got, "INV") != before-1 {
		t.Errorf("of %d bridges without a place %s was given one; left are:\n%s", before, number, got)
	}
}

// TestSettingsInABrowser changes a setting, is told what cannot be, and finds
// who changed it; then a row of a table.
func TestSettingsInABrowser(t *testing.T) {
	inBrowser(t)
	_, address := serveSample(t)
	b := browse(t, address, laptop)
	b.do(chromedp.Navigate(address+"/data/settings"), chromedp.WaitVisible(css("table.settings")))
	b.axe()
	b.picture("settings-laptop")
	b.follow("#failed_share a")
	b.do(chromedp.SetValue(css("#value"), "7"))
	b.forgive("422")
	b.follow("form.card button")
	if got := ask(b, chromedp.Text(css("#value-wrong"))); !strings.Contains(got, "from 0.001 to 1") {
		t.Errorf("got %q, want what it may be", got)
	}
	b.axe()
	b.do(chromedp.SetValue(css("#value"), "0.2"))
	b.follow("form.card button")
	if got := ask(b, chromedp.Text(css("#failed_share"))); !strings.Contains(got, "0.2") || !strings.Contains(got, "Test Person, 2026-06-15") {
		t.Errorf("got %q, want the value and who changed it", got)
	}
	b.follow("#failed_share a")
	if got := ask(b, chromedp.Text(css("main"))); !strings.Contains(got, "Test Person") || !strings.Contains(got, "0.1") {
		t.Errorf("the setting does not tell what it was and who changed it:\n%s", got)
	}
	b.axe()
	b.do(chromedp.Navigate(address + "/data/settings"))
	b.follow("a[href='/data/tables/treatments']")
	b.axe()
	b.picture("table-laptop")
	b.do(chromedp.EmulateViewport(phone[0], phone[1]))
	b.picture("table-phone")
	b.follow("tbody th a")
	b.axe()
	b.picture("table-row-phone")
	b.do(chromedp.SetValue(css("#cost_per_ft_usd"), "much"))
	b.follow("form.card button")
	if got := ask(b, chromedp.Text(css("#cost_per_ft_usd-wrong"))); !strings.Contains(got, "not an amount of money") {
		t.Errorf("got %q, want what is wrong with it", got)
	}
	b.do(chromedp.SetValue(css("#cost_per_ft_usd"), "321.50"))
	b.follow("form.card button")
	if got := ask(b, chromedp.Text(css("main"))); !strings.Contains(got, "321.50") || !strings.Contains(got, "Test Person") {
		t.Errorf("the table lacks the new cost or who changed it:\n%s", got)
	}
}
