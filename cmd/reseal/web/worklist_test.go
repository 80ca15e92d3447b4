package web

import (
	"context"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"reseal/forecast"
	"reseal/inventory"
	"reseal/inventory/store"
)

// The planner's whole task: set the budget, pin one, leave one out with a
// reason, see the price, approve, print and export.
func TestPlannersSeason(t *testing.T) {
	inBrowser(t)
	s, address := serveSample(t)
	ranked(t, s)
	b := browse(t, address, laptop)
	text := func(selector string) string { return ask(b, chromedp.Text(css(selector))) }
	current := chromedp.WaitReady(css("#answer:not([aria-busy]):not(:has(.notice))"))
	rows := func() []string {
		return ask(b, chromedp.Evaluate[[]string](`[...document.querySelectorAll("#ranked > li")].map(l => l.id === "line" ? "line" : l.dataset.tag)`))
	}
	b.do(chromedp.Navigate(address+"/worklist?year=2027&district=North&budget=10000"), chromedp.WaitVisible(css("#ranked")))

	// Typed, the budget moves the line as the slider does.
	b.do(chromedp.Evaluate[chromedp.Void](`document.getElementById("budget").select()`), chromedp.SendKeys(css("#budget"), "90000\t"), chromedp.WaitVisible(css("#line")), current)
	b.axe()
	before := rows()
	line := position(before, "line")
	if line < 3 || !strings.Contains(text("#h-buys + .lead"), "$90,000 reaches "+strconv.Itoa(line)+" joints") {
		t.Fatalf("the line stands after %d rows; the page says %q", line, text("#h-buys + .lead"))
	}
	b.do(chromedp.Focus(css("#slide")), chromedp.KeyEvent("\ue012")) // the left arrow
	b.do(current)

	// One below the line is pinned, the first is left out.
	pinned, out := before[line+3], before[0]
	b.do(chromedp.Navigate(address+"/worklist?year=2027&district=North&budget=90,000"), chromedp.WaitVisible(css("#ranked")))
	decide := func(tag, what, reason string) {
		b.do(chromedp.Click(css(`[data-tag="`+tag+`"] .decide`)), chromedp.WaitVisible(css("#decide-dialog")),
			chromedp.Click(css(`#decide-dialog [value="`+what+`"]`)), chromedp.SendKeys(css(`#decide-dialog [name="reason"]`), reason))
		b.follow("#decide-dialog form.decide button")
		b.do(current)
	}
	decide(pinned, "pin", "detour open only in 2027")
	b.do(chromedp.Click(css(`[data-tag="`+out+`"] .decide`)), chromedp.WaitVisible(css("#decide-dialog")))
	b.axe()
	b.do(chromedp.Click(css(`#decide-dialog [method="dialog"] button`)))
	decide(out, "exclude", "bridge will be replaced")
	overrides := text("#overrides")
	for _, want := range []string{pinned + " pinned to 2027: $", "Test Person: detour open only in 2027", out + " left out: $", "bridge will be replaced"} {
		if !strings.Contains(overrides, want) {
			t.Errorf("the overrides have no %q: %s", want, overrides)
		}
	}
	after := rows()
	if position(after, out) >= 0 || position(after, pinned) > position(after, "line") {
		t.Errorf("got %v, want %s above the line and no %s", after, pinned, out)
	}

	// A spreadsheet and a map layer hold the same joints.
	for _, format := range []string{"csv", "geojson", "xlsx"} {
		link := ask(b, chromedp.Evaluate[string](`document.querySelector('a[href^="/worklist/export/`+format+`"]').href`))
		status, _, body := get(t, link)
		if status != http.StatusOK || format != "xlsx" && (!strings.Contains(body, pinned) || strings.Contains(body, out)) {
			t.Errorf("%s: got %d and %d bytes", format, status, len(body))
		}
	}
	b.follow(`a[href^="/worklist/sheets"]`)
	if got := text(".lead"); !strings.Contains(got, "for what stands above the line") {
		t.Errorf("the sheets' page says %q", got)
	}
	b.axe()
	printed := ask(b, chromedp.Evaluate[string](`document.querySelector("main a.button").href`))
	if status, _, body := get(t, printed); status != http.StatusOK || !strings.Contains(body, pinned) {
		t.Errorf("got %d of %s, want a sheet of %s", status, printed, pinned)
	}

	b.do(chromedp.Navigate(address+"/worklist?year=2027&district=North&budget=90,000"), chromedp.SendKeys(css("#approve-name"), "Season 2027"))
	b.follow("#approve button")
	list := text("main")
	for _, want := range []string{"Season 2027", "Test Person", pinned, "approved"} {
		if !strings.Contains(list, want) {
			t.Errorf("the approved list has no %q: %s", want, list)
		}
	}
	b.axe()
	b.picture("approved-laptop")
}

// position is the place of a text among texts; -1: it is not there.
func position(texts []string, text string) int {
	for i, t := range texts {
		if t == text {
			return i
		}
	}
	return -1
}

// ranked has the list of 2027 made, as it is now, before a browser waits for it.
func ranked(t testing.TB, s *Server) *forecast.WorkList {
	t.Helper()
	for {
		list, at, err := s.workLists.at(2027).get(t.Context(), s)
		if err != nil {
			t.Fatal(err)
		}
		if at.IsZero() { // of now
			return list
		}
	}
}

func TestWorkListLooks(t *testing.T) {
	inBrowser(t)
	s, address := serveSample(t)
	ranked(t, s)
	b := browse(t, address, laptop)
	for name, size := range map[string][2]int64{"phone": phone, "laptop": laptop, "wide": wide} {
		b.do(chromedp.EmulateViewport(size[0], size[1]))
		for _, scheme := range []string{"light", "dark"} {
			b.scheme(scheme)
			b.do(chromedp.Navigate(address+"/worklist?budget=150,000"), chromedp.WaitVisible(css("#ranked")))
			b.axe()
			b.picture("worklist-" + name + "-" + scheme)
			if name == "phone" {
				b.whole("worklist-whole-" + scheme)
			}
		}
		if wider := ask(b, chromedp.Evaluate[bool]("document.documentElement.scrollWidth > innerWidth")); wider {
			t.Errorf("%s: the page is wider than its screen", name)
		}
	}
}

func TestWorkListWithoutScript(t *testing.T) {
	t.Parallel()
	s, address := serveSample(t)
	list, err := ranked(t, s).In("North", "", 20_000_000)
	if err != nil {
		t.Fatal(err)
	}
	approve := url.Values{ // what the form of the page sends
		"year": {"2027"}, "district": {"North"}, "budget": {"200,000"}, "name": {"North 2027"},
		"joints": {strconv.Itoa(list.Line)}, "spent": {strconv.FormatInt(list.SpentCents, 10)},
	}
	if _, _, body := get(t, address+"/worklist/approved"); !strings.Contains(body, "No list has been approved yet") {
		t.Errorf("got %s, want the way to the first list", body)
	}
	if r, err := http.PostForm(address+"/worklist/approve", approve); err != nil {
		t.Fatal(err)
	} else if status, _, body := answer(t, r); status != http.StatusOK || !strings.Contains(body, "North 2027") {
		t.Errorf("got %d, want the approved list: %s", status, body)
	}
	ranked(t, s) // approving has made the list old
	for name, c := range map[string]struct {
		path   string
		form   url.Values
		status int
		want   string
	}{
		"a district":         {"/worklist?year=2027&district=North&budget=200000", nil, 200, "$200,000 reaches"},
		"no limit":           {"/worklist?year=2027&budget=0", nil, 200, "Without a limit"},
		"a budget in words":  {"/worklist?budget=much", nil, 422, "budget"},
		"a year in words":    {"/worklist?year=next", nil, 422, "is not a year"},
		"a year long gone":   {"/worklist?year=1990", nil, 422, "no work list for 1990"},
		"nowhere":            {"/worklist?route=Nowhere", nil, 200, "No joint costs money"},
		"no such format":     {"/worklist/export/pdf", nil, 404, "no format"},
		"no sheets":          {"/worklist/sheets?route=Nowhere", nil, 404, "no joint above its line"},
		"approved lists":     {"/worklist/approved", nil, 200, "North 2027"},
		"no plans yet":       {"/worklist/plans", nil, 200, "No plan is kept yet"},
		"approve what moved": {"/worklist/approve", url.Values{"year": {"2027"}, "name": {"x"}, "joints": {"1"}, "spent": {"1"}}, 409, "has changed since it was shown"},
	} {
		t.Run(name, func(t *testing.T) {
			var r *http.Response
			var err error
			if c.form == nil {
				r, err = http.Get(address + c.path)
			} else {
				r, err = http.PostForm(address+c.path, c.form)
			}
			if err != nil {
				t.Fatal(err)
			}
			if status, _, body := answer(t, r); status != c.status || !strings.Contains(body, c.want) {
				t.Errorf("got %d, want %d and %q in %s", status, c.status, c.want, body)
			}
		})
	}
}

// A quantity of a whole bridge stands apart, and money goes on past a job that
// does not fit.
func TestWorkListApart(t *testing.T) {
	t.Parallel()
	s, address := serveSample(t)
	first := ranked(t, s).Ranked[0].Tag
	err := s.Store.Update(t.Context(), "tester", func(ctx context.Context, tx *store.Tx) error {
		_, err := tx.ExecContext(ctx, "UPDATE joints SET scope = ? WHERE tag = ?", inventory.ScopeQuantity, first)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	list, err := ranked(t, s).In("", "", 20_000_000)
	if err != nil {
		t.Fatal(err)
	}
	passed := list.PassedOver()
	if len(passed) == 0 {
		t.Fatal("nothing was passed over")
	}
	_, _, body := get(t, address+"/worklist?year=2027&budget=200,000")
	_, apart, _ := strings.Cut(body, `id="whole"`)
	if !strings.Contains(apart, first) || strings.Contains(body, `data-tag="`+first+`"`) {
		t.Errorf("%s is not apart: %s", first, body)
	}
	if want := strconv.Itoa(passed[0].Rank) + ` <a href="/joints/` + passed[0].Tag; !strings.Contains(body, "Passed over") || !strings.Contains(body, want) {
		t.Errorf("the page has no %q: %s", want, body)
	}
}
