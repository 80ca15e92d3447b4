package web

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// onPhone opens a browser of the size of a phone that is touched.
func onPhone(t testing.TB, address string) *tab {
	t.Helper()
	b := browse(t, address, phone)
	ask(b, chromedp.Action[cdp.Empty](func(ctx context.Context, t *chromedp.Target) (cdp.Empty, error) {
		return cdp.Call(ctx, t, emulation.SetTouchEmulationEnabled, emulation.SetTouchEmulationEnabledParams{Enabled: true})
	}))
	return b
}

// tapping is a touch of an element's middle. What lies under something else, the
// navigation say, or is too small for a finger (WCAG 2.5.8: 24 px) is an error.
func tapping(selector string) action {
	return func(ctx context.Context, t *chromedp.Target) (none chromedp.Void, err error) {
		at, err := chromedp.Evaluate[[]float64](fmt.Sprintf(`(() => {
			const el = document.querySelector(%q);
			el.scrollIntoView({block: "center", behavior: "instant"});
			const r = el.getBoundingClientRect(), x = r.x + r.width / 2, y = r.y + r.height / 2, hit = document.elementFromPoint(x, y);
			return el.contains(hit) || hit?.contains(el) && hit.matches("label") ? [x, y, Math.min(r.width, r.height)] : [];
		})()`, selector))(ctx, t)
		switch {
		case err != nil:
			return none, fmt.Errorf("touch %s: %w", selector, err)
		case len(at) == 0:
			return none, fmt.Errorf("touch %s: something lies over it", selector)
		case at[2] < 22: // a box within its label may be a little smaller
			return none, fmt.Errorf("touch %s: %.0f px are too small", selector, at[2])
		}
		for _, touch := range []input.DispatchTouchEventParams{
			{Type: input.DispatchTouchEventTypeTouchStart, TouchPoints: []*input.TouchPoint{{X: at[0], Y: at[1]}}},
			{Type: input.DispatchTouchEventTypeTouchEnd, TouchPoints: []*input.TouchPoint{}},
		} {
			if _, err := cdp.Call(ctx, t, input.DispatchTouchEvent, touch); err != nil {
				return none, err
			}
		}
		return none, nil
	}
}

// tapTo touches what leads to another page, and waits for it.
func (b *tab) tapTo(selector string) {
	b.Helper()
	ask(b, chromedp.WaitEvent(page.LoadEventFired, nil, tapping(selector)))
}

// typed touches a field, takes out what is in it and types.
func (b *tab) typed(selector, text string) {
	b.Helper()
	b.do(tapping(selector), chromedp.Evaluate[chromedp.Void](fmt.Sprintf("document.querySelector(%q).select()", selector)), chromedp.KeyEvent(text))
}

// The planner's task on a phone: change the money, pin one, hold one, leave one
// out, approve, and move a job on.
func TestPlannerOnAPhone(t *testing.T) {
	inBrowser(t)
	s, address := serveSample(t)
	ranked(t, s)
	b := onPhone(t, address)
	current := chromedp.WaitReady(css("#answer:not([aria-busy]):not(:has(.notice))"))
	rows := func() []string {
		return ask(b, chromedp.Evaluate[[]string](`[...document.querySelectorAll("#ranked > li")].map(l => l.id === "line" ? "line" : l.dataset.tag)`))
	}
	b.do(chromedp.Navigate(address + "/"))
	b.tapTo(`.places [href="/worklist"]`)
	if shown := ask(b, chromedp.Evaluate[bool](`document.getElementById("budget").checkVisibility({contentVisibilityAuto: true, visibilityProperty: true})`)); shown {
		t.Error("the filter is not folded on a phone")
	}
	b.do(tapping(".fold summary"), chromedp.WaitVisible(css("#budget")))
	b.typed("#budget", "150000\t")
	b.do(chromedp.WaitVisible(css("#line")), current)
	if got := b.text("#asked"); !strings.HasPrefix(got, "$150,000 · 2027") {
		t.Errorf("the folded line says %q", got)
	}
	before := rows()
	line := position(before, "line")
	pinned, held, out := before[line+2], before[0], before[1]
	decide := func(tag, what, year, reason string) {
		b.do(tapping(`[data-tag="`+tag+`"] .decide`), chromedp.WaitVisible(css("#decide-dialog")), tapping(`#decide-dialog [value="`+what+`"]`))
		if year != "" {
			b.typed(`#decide-dialog [name="year"]`, year)
		}
		b.typed(`#decide-dialog [name="reason"]`, reason)
		b.tapTo("#decide-dialog form.decide button")
		b.do(current)
	}
	decide(pinned, "pin", "", "night closure in 2027")
	b.axe()
	decide(held, "hold", "2029", "wait for the deck study")
	decide(out, "exclude", "", "bridge will be replaced")
	after := rows()
	if position(after, pinned) != 0 || position(after, held) >= 0 || position(after, out) >= 0 {
		t.Errorf("got %v, want %s first and neither %s nor %s", after, pinned, held, out)
	}
	for _, want := range []string{pinned + " pinned to 2027: $", held + " held until 2029: $", out + " left out: $"} {
		if got := b.text("#overrides"); !strings.Contains(got, want) {
			t.Errorf("the overrides have no %q: %s", want, got)
		}
	}
	line = position(after, "line")
	b.typed("#approve-name", "Season 2027")
	b.tapTo("#approve button")

	// Two jobs go into the programme, then one under contract, by touch and keys.
	b.do(tapping(`.jobs li:nth-child(1) [name="job"]`), tapping(`.jobs li:nth-child(2) [name="job"]`), chromedp.WaitVisible(css(".job-bar")))
	b.axe()
	b.picture("planner-phone-ticked")
	b.do(tapping(".job-bar a"))
	b.tapTo("#move button")
	if got := b.text("[role=status]"); got != "2 jobs programmed." {
		t.Errorf("got %q", got)
	}
	b.do(tapping(`.jobs li:nth-child(1) [name="job"]`), chromedp.Focus(css("#to")), chromedp.KeyEvent("obl"), chromedp.WaitVisible(css("#contract")))
	b.typed("#contract", "C-2027-014")
	b.tapTo("#move button")
	jobs := jobsOf(t, s, "Season 2027")
	if len(jobs) != line || jobs[0].Tag != pinned || jobs[0].Contract != "C-2027-014" || jobs[0].Progress != "obligated" || jobs[1].Progress != "programmed" {
		t.Errorf("got %d jobs, the first two %+v, want %d with %s obligated", len(jobs), jobs[:2], line, pinned)
	}
}

// The officer's task on a phone: change the levels, read the sentence, take the
// table along.
func TestOfficerOnAPhone(t *testing.T) {
	inBrowser(t)
	s, address := serveSample(t)
	projected(t, s, "")
	p := projected(t, s, "yearly=400000&years=6&levels=70")
	b := onPhone(t, address)
	b.do(chromedp.Navigate(address + "/"))
	b.tapTo(`.places [href="/budget"]`)
	b.do(tapping(".fold summary"), chromedp.WaitVisible(css("#yearly")))
	b.axe()
	b.typed("#yearly", "400,000")
	b.typed("#years", "6")
	b.typed("#levels", "70")
	b.submit("\r")
	want := p.Levels[0].Against(p.base(), 2032)
	if got := b.text(".means li"); got != want || !strings.HasPrefix(got, "30 % less money leaves ") {
		t.Errorf("got %q, want %q", got, want)
	}
	if got := b.text(".fold summary"); !strings.HasPrefix(got, "$400,000 a year · 6 years") {
		t.Errorf("the folded line says %q", got)
	}
	if below := ask(b, chromedp.Evaluate[float64](`document.querySelector(".means li").getBoundingClientRect().top - innerHeight`)); below > 0 {
		t.Errorf("the sentence begins %.0f px under the first screen", below)
	}
	for _, file := range []string{"levels.csv", "levels.xlsx"} {
		if high := ask(b, chromedp.Evaluate[float64](`document.querySelector('a[download][href*="/`+file+`"]').offsetHeight`)); high < 44 {
			t.Errorf("the link to %s is %.0f px high, too low for a finger", file, high)
		}
		link := ask(b, chromedp.Evaluate[string](`document.querySelector('a[download][href*="/`+file+`"]').href`))
		if status, _, body := get(t, link); status != http.StatusOK || file == "levels.csv" && !strings.Contains(body, "\n70 %,") {
			t.Errorf("%s: got %d %.300s", file, status, body)
		}
	}
	b.typed("#keep-name", "seventy")
	b.tapTo("#keep button")
	if got := b.text("main"); !strings.Contains(got, "One plan is kept") {
		t.Errorf("after keeping a plan: %.300s", got)
	}
}
